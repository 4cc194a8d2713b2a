//! The licences and sources of all dependencies, and their published faults, by `cargo deny` and `.deny.toml`.

use crate::error::Error;
use crate::{paths, step};
use std::process::{Command, Stdio};

fn deny(args: &[&str]) -> Command {
    let mut command = paths::cargo();
    command.arg("deny").args(args);
    command
}

/// Checks the dependencies with the tool, if it is installed; and their published faults, if these can be fetched.
pub(crate) fn check() -> Result<(), Error> {
    let silent = |command: &mut Command| {
        let status = command.stdout(Stdio::null()).stderr(Stdio::null()).status();
        status.is_ok_and(|status| status.success())
    };
    if !silent(&mut deny(&["--version"])) {
        println!(
            "cargo deny is not installed, so licences, sources and advisories of the dependencies are not checked; \
             `cargo install cargo-deny --locked` installs it"
        );
        return Ok(());
    }
    step::run(&mut deny(&["check", "bans", "licenses", "sources"]))?;
    if silent(&mut deny(&["fetch", "db"])) {
        step::run(&mut deny(&["check", "advisories"]))
    } else {
        println!("the list of advisories cannot be fetched, so it is not checked");
        Ok(())
    }
}
