//! Logging: none, unless the user asks for it.

/// The variable that turns on the framework's log: `stderr`, or a file to append to.
const ASKED_BY: &str = "NICE_LOG";

/// The setting for the framework: `None` lets it set up its own log, `Some(false)` leaves the host's output alone.
pub(crate) fn choice() -> Option<bool> {
    match std::env::var_os(ASKED_BY) {
        Some(wish) if !wish.is_empty() => None,
        _ => Some(false),
    }
}
