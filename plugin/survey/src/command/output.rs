//! What is said: results on stdout, the rest on stderr, nothing that can panic on a pipe that was closed.

use super::error::CommandError;
use std::io::{self, IsTerminal, Write};

/// Stdout and stderr of a command.
#[derive(Debug, Default)]
pub(crate) struct Output {
    quiet: bool,
    /// Stdout is for the report alone: what is said goes to stderr.
    report_on_stdout: bool,
    /// Whoever read stdout has gone away: there is nobody to tell.
    deaf: bool,
    /// Why stdout could not be written to.
    broken: Option<io::ErrorKind>,
}

impl Output {
    /// Nothing is said but what went wrong.
    pub(crate) fn set_quiet(&mut self, quiet: bool) {
        self.quiet = quiet;
    }

    /// Keeps stdout for the report.
    pub(crate) fn keep_stdout(&mut self) {
        self.report_on_stdout = true;
    }

    /// Whether a moving bar makes sense: somebody looks at a terminal and wants to hear.
    pub(crate) fn may_move(&self) -> bool {
        !self.quiet && io::stderr().is_terminal()
    }

    /// A line for the user.
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

    /// What went wrong, whatever was asked for.
    pub(crate) fn complain(&mut self, text: &str) {
        self.murmur(&tame(text));
    }

    /// A result, byte for byte, to stdout.
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

    /// Whether all that was handed out got out. A reader that went away early had read enough.
    pub(crate) fn end(&self) -> Result<(), CommandError> {
        match self.broken {
            None => Ok(()),
            Some(kind) => Err(CommandError::Output(format!(
                "could not write to standard output: {kind}; make room where it goes, or send it elsewhere"
            ))),
        }
    }

    /// To stderr. Where even that fails there is no way left to tell.
    fn murmur(&self, text: &str) {
        let _ = writeln!(io::stderr().lock(), "{text}");
    }
}

/// One line, whatever names of files hold: what would break it, or turn the terminal, is shown as a mark.
fn tame(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_cannot_break_the_line() {
        assert_eq!(tame("bell\n\u{1b}[2Jtower é.wav"), "bell\u{fffd}\u{fffd}[2Jtower é.wav");
    }
}
