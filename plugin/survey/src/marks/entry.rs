//! One mark as a file states it.

use plumbline_measure::Timecode;

/// Letters of a name that are kept.
const NAME_LETTERS: usize = 64;

/// One mark as a file states it, before it has a place on a time line.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Entry {
    /// Its timecode.
    pub label: Option<Timecode>,
    /// Seconds from the first sample of the programme, finite. With a label too, they give the sample in its frame.
    /// Neither is a place outside any programme.
    pub seconds: Option<f64>,
    /// Its name, on one line.
    pub name: Option<String>,
    /// Length of the transition that starts there, in frames; 0 for a cut.
    pub transition_frames: u32,
}

/// A name on one line, cut to a length that fits a table; `None` if nothing is left.
pub(super) fn name(text: &str) -> Option<String> {
    let tame: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    let cut: String = tame.trim().chars().take(NAME_LETTERS).collect();
    Some(cut.trim_end().to_owned()).filter(|name| !name.is_empty())
}
