//! The command `plumbline`: words in, a report out. It only knows the terminal; the work is the library's.

mod command;

use std::process::ExitCode;

fn main() -> ExitCode {
    command::run()
}
