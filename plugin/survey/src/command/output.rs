//! The output of a command: results to stdout, the rest to stderr. A closed pipe causes no panic.

use super::error::CommandError;
use plumbline_report::words::turns_or_hides;
use std::io::{self, IsTerminal, Write};

/// Stdout and stderr of a command.
#[derive(Debug, Default)]
pub(crate) struct Output {
    quiet: bool,
    /// Whether stdout is only for the report, so that messages go to stderr.
    report_on_stdout: bool,
    /// Whether the reader of stdout has gone away, so that nothing more has to be written.
    deaf: bool,
    /// The error that stopped writing to stdout.
    broken: Option<io::ErrorKind>,
}

impl Output {
    /// Prints only errors from now on.
    pub(crate) fn set_quiet(&mut self, quiet: bool) {
        self.quiet = quiet;
    }

    /// Keeps stdout for the report.
    pub(crate) fn keep_stdout(&mut self) {
        self.report_on_stdout = true;
    }

    /// Whether a moving bar makes sense: stderr is a terminal, and the user did not ask for quiet.
    pub(crate) fn may_move(&self) -> bool {
        !self.quiet && io::stderr().is_terminal()
    }

    /// Prints a line for the user.
    pub(crate) fn say(&mut self, text: &str) {
        if self.quiet {
            return;
        }
        if self.report_on_stdout {
            self.murmur(&tame(text));
        } else {
            self.hand_out(&(tame(text) + "\n"));
        }
    }

    /// Prints a note beside the result to stderr, unless the user asked for quiet.
    pub(crate) fn note(&self, text: &str) {
        if !self.quiet {
            self.murmur(&tame(text));
        }
    }

    /// Prints an error, even if the user asked for quiet.
    pub(crate) fn complain(&mut self, text: &str) {
        self.murmur(&tame(text));
    }

    /// Prints a result to stdout, byte for byte.
    pub(crate) fn hand_out(&mut self, text: &str) {
        if self.deaf || self.broken.is_some() {
            return;
        }
        let mut out = io::stdout().lock();
        match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
            Ok(()) => {}
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => self.deaf = true,
            Err(error) => self.broken = Some(error.kind()),
        }
    }

    /// Whether all results were written. A reader that went away early has read enough.
    pub(crate) fn end(&self) -> Result<(), CommandError> {
        match self.broken {
            None => Ok(()),
            Some(kind) => Err(CommandError::Output(format!(
                "could not write to standard output: {kind}; make room where it goes, or send it elsewhere"
            ))),
        }
    }

    /// Prints to stderr. If even that fails, the failure cannot be reported.
    fn murmur(&self, text: &str) {
        let _ = writeln!(io::stderr().lock(), "{text}");
    }
}

/// A text as one line, whatever file names contain: a character that would break it, turn it round, or confuse a
/// terminal, becomes a mark.
fn tame(text: &str) -> String {
    text.chars().map(|c| if turns_or_hides(c) { '\u{fffd}' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_cannot_break_the_line() {
        assert_eq!(tame("bell\n\u{1b}[2Jtower é.wav"), "bell\u{fffd}\u{fffd}[2Jtower é.wav");
        assert_eq!(tame("bell\u{202e}vaw.exe\u{2066}"), "bell\u{fffd}vaw.exe\u{fffd}");
    }
}
