//! The reasons why a command fails: one line each, and an exit code.

use std::fmt;

/// Exit code: findings of the severity of `--fail-on` or worse.
pub(crate) const FOUND: u8 = 1;
/// Exit code: command line not understood.
pub(crate) const USAGE: u8 = 2;
const INPUT: u8 = 3;
const OUTPUT: u8 = 4;
/// Exit code: stopped. 128 plus the number of the interrupt signal, as in shells (common practice, no source).
pub(crate) const STOPPED: u8 = 130;

/// The reason why a command has no result. The text says in one line what failed and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum CommandError {
    /// The arguments are invalid. Nothing was done.
    Usage(String),
    /// A file that cannot be measured.
    Input(String),
    /// A result that cannot be written.
    Output(String),
    /// Stopped by the user or the system.
    Stopped,
}

impl CommandError {
    /// The error for a path that cannot be written: the system's message, and what to do.
    pub(crate) fn output(doing: &str, path: &std::path::Path, cause: &std::io::Error) -> Self {
        use std::io::ErrorKind as Kind;
        let way_out = match cause.kind() {
            Kind::PermissionDenied | Kind::ReadOnlyFilesystem => {
                "choose a folder that you may write to with --out"
            }
            Kind::StorageFull | Kind::QuotaExceeded => "make room there, or choose another folder with --out",
            Kind::NotFound => "make the folder that it is to lie in, or choose another with --out",
            Kind::NotADirectory | Kind::AlreadyExists => "choose another folder with --out",
            _ => "choose another folder with --out",
        };
        Self::Output(format!(
            "could not {doing} {}: {cause}; {way_out}. No report was written",
            path.display()
        ))
    }

    /// The exit code for this error.
    pub(crate) fn exit_code(&self) -> u8 {
        match self {
            Self::Usage(_) => USAGE,
            Self::Input(_) => INPUT,
            Self::Output(_) => OUTPUT,
            Self::Stopped => STOPPED,
        }
    }
}

impl fmt::Display for CommandError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Usage(text) | Self::Input(text) | Self::Output(text) => out.write_str(text),
            Self::Stopped => out.write_str("stopped; no report was written"),
        }
    }
}

/// The parser's message on one line: its first paragraph and its tips, without the usage.
pub(crate) fn one_line(text: &str) -> String {
    let mut said = String::new();
    for line in text.lines().map(str::trim) {
        if line.starts_with("Usage:") || line.starts_with("For more information") {
            break;
        }
        if !line.is_empty() {
            let between = match (said.is_empty(), line.starts_with("tip: ")) {
                (true, _) => "",
                (false, true) => "; ",
                (false, false) => " ",
            };
            said += between;
            said += line.strip_prefix("tip: ").unwrap_or(line);
        }
    }
    let said = said.strip_prefix("error: ").unwrap_or(&said);
    format!("plumbline: {said}; `plumbline help` and `plumbline help survey` show how. Nothing was done")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_parser_says_becomes_one_line() {
        let text = "error: unexpected argument '--folley' found\n\n  tip: a similar argument exists: '--foley'\n\nUsage: \
                    plumbline survey\n\nFor more information, try '--help'.\n";
        let line = one_line(text);
        assert!(!line.contains('\n') && !line.contains("Usage"), "{line}");
        assert!(line.starts_with("plumbline: unexpected argument '--folley' found; a similar"), "{line}");
    }

    #[test]
    fn each_trouble_has_its_own_code() {
        let codes = [
            CommandError::Usage(String::new()),
            CommandError::Input(String::new()),
            CommandError::Output(String::new()),
            CommandError::Stopped,
        ]
        .map(|trouble| trouble.exit_code());
        assert_eq!(codes, [2, 3, 4, 130]);
    }
}
