//! The tasks of the project: `cargo xtask help` lists them.
//!
//! This crate uses the standard library alone, so that it builds on a bare machine and can set it up for the rest.
//! `main` only dispatches; each command has its own file.
#![expect(clippy::print_stdout, reason = "a command-line tool talks to its user on stdout")]

mod bench;
mod bundle;
mod demo;
mod environment;
mod error;
mod install;
mod mac;
mod packages;
mod paths;
mod sanitize;
mod setup;
mod soak;
mod step;
mod supply;
mod test;
mod windows;

use error::Error;
use std::process::ExitCode;

const HELP: &str = "\
Usage: cargo xtask COMMAND

  setup                            install the system packages needed to build and test, or list them
  bundle [--debug]                 build target/bundled/Plumbline.clap and .vst3, and the command plumbline
  install [--remove]               copy the built plug-ins into this user's plug-in folders, or remove them
  test                             set up, then check everything: format, lints, bundle, docs, tests, demo
  demo [--input FILE] [--headless] play the bell-tower scene (or your own mix) through the built plug-in
  windows-build                    build for Windows on Debian, and start it in Wine
  windows                          the same, and run the tests in Wine
  windows-editor                   open the editor of the Windows build in Wine, and take pictures of it
  mac-check                        type-check for macOS on Debian; nothing is linked
  bench [NAME]                     measure costs as ratios to a bound measured in the same run
  sanitize                         run the host suite under sanitizers (the C++) and a memory checker; Linux only
  soak MINUTES                     play a hundred layers in three hosts, and watch memory, threads, files and readings
  help                             this text
";

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let (command, rest) = match args.split_first() {
        Some((command, rest)) => (command.as_str(), rest),
        None => ("help", &[][..]),
    };
    let outcome = match command {
        "setup" => setup::run(rest),
        "bundle" => bundle::run(rest),
        "install" => install::run(rest),
        "test" => test::run(rest),
        "demo" => demo::run(rest),
        "windows" => windows::run(rest),
        "windows-build" => windows::build(rest),
        "windows-editor" => windows::editor::run(rest),
        "mac-check" => mac::run(rest),
        "bench" => bench::run(rest),
        "sanitize" => sanitize::run(rest),
        "soak" => soak::run(rest),
        "help" | "--help" | "-h" => {
            print!("{HELP}");
            Ok(())
        }
        other => Err(Error::Usage(format!(
            "unknown command `{other}`; `cargo xtask help` lists them; nothing was done"
        ))),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("xtask {command}: {error}");
            ExitCode::from(error.exit_code())
        }
    }
}
