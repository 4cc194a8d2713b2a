//! The command `plumbline`: arguments in, a report out. It handles the terminal; the library does the work.

mod command;

use std::process::ExitCode;

fn main() -> ExitCode {
    command::run()
}
