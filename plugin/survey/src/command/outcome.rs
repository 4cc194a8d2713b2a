//! The outcome of a command.

/// The outcome of a command that did not fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Done {
    /// No findings as severe as the user's limit.
    Fine,
    /// Findings at least as severe as the user's limit.
    Found,
}
