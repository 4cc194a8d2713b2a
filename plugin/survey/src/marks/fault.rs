//! The reason why a file of marks cannot be read.

use thiserror::Error;

/// The first line that cannot be read, and what was expected there. No mark was taken.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("line {line}: {what}")]
pub struct MarksFault {
    /// The line number, from 1.
    pub line: usize,
    /// The fault and the expected text, in one sentence without its full stop.
    pub what: String,
}

impl MarksFault {
    pub(super) fn new(line: usize, what: impl Into<String>) -> Self {
        Self { line, what: what.into() }
    }
}
