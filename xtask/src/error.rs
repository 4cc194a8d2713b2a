//! The reasons why a task fails.

use std::fmt;
use std::path::Path;

/// The reason why a task failed. The text says what was expected, what came instead, and what to do.
#[derive(Debug)]
pub(crate) enum Error {
    /// The command line was not understood. Nothing was done.
    Usage(String),
    /// The work could not be done.
    Failed(String),
}

impl Error {
    /// A failed operation on a path, with the system's error message.
    pub(crate) fn path(doing: &str, path: &Path, cause: &std::io::Error) -> Self {
        let way_out = match cause.kind() {
            std::io::ErrorKind::PermissionDenied => {
                " Change its permissions, or run this as the user who owns it."
            }
            std::io::ErrorKind::StorageFull => " Free some space and run this again.",
            _ => "",
        };
        Self::Failed(format!("could not {doing} {}: {cause}.{way_out}", path.display()))
    }

    /// 2 if the command line was not understood, else 1.
    pub(crate) fn exit_code(&self) -> u8 {
        match self {
            Self::Usage(_) => 2,
            Self::Failed(_) => 1,
        }
    }
}

impl fmt::Display for Error {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Usage(text) | Self::Failed(text) => out.write_str(text),
        }
    }
}

/// Refuses any argument.
pub(crate) fn no_arguments(rest: &[String]) -> Result<(), Error> {
    match rest.first() {
        None => Ok(()),
        Some(extra) => Err(Error::Usage(format!("unexpected argument `{extra}`; nothing was done"))),
    }
}

/// Takes one optional flag and nothing else.
pub(crate) fn only_flag(rest: &[String], flag: &str) -> Result<bool, Error> {
    match rest {
        [] => Ok(false),
        [one] if one == flag => Ok(true),
        _ => Err(Error::Usage(format!(
            "the only argument may be `{flag}`, not `{}`; nothing was done",
            rest.join(" ")
        ))),
    }
}
