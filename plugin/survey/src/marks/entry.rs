//! One mark as stated in a file.

use plumbline_measure::Timecode;

/// The most letters kept of a name.
const NAME_LETTERS: usize = 64;

/// One mark as stated in a file, before it is placed on a time line.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Entry {
    /// Its timecode.
    pub label: Option<Timecode>,
    /// Seconds from the first sample of the programme, finite. With a label as well, they give the sample within its
    /// frame. With neither, the mark is outside any programme.
    pub seconds: Option<f64>,
    /// Its name, on one line.
    pub name: Option<String>,
    /// Length in frames of the transition that starts there; 0 for a cut.
    pub transition_frames: u32,
}

/// A name on one line, cut to fit a table; `None` if nothing is left.
pub(super) fn name(text: &str) -> Option<String> {
    let tame: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    let cut: String = tame.trim().chars().take(NAME_LETTERS).collect();
    Some(cut.trim_end().to_owned()).filter(|name| !name.is_empty())
}
