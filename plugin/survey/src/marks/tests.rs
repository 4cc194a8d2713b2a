//! Marks from texts written out here, and from arbitrary bytes.

mod any_bytes;
mod edit_lists;
mod places;
mod tables;

use super::{Entry, MarksFault};
use plumbline_measure::{FrameRate, Timecode};

/// A reader of one form.
type Read = fn(&[u8], FrameRate) -> Result<Vec<Entry>, MarksFault>;

fn at(frames: FrameRate, label: &str) -> Option<Timecode> {
    Some(Timecode::parse(frames, label).expect("a label"))
}

/// Checks that each text is refused, at a given line and with a given word.
#[track_caller]
fn refused(read: Read, frames: FrameRate, cases: &[(&str, usize, &str)]) {
    for (text, line, word) in cases {
        let fault = read(text.as_bytes(), frames).expect_err(text);
        assert_eq!(fault.line, *line, "{text:?}: {fault}");
        assert!(fault.what.contains(word) && !fault.to_string().contains('\n'), "{text:?}: {fault}");
    }
}
