//! `windows`: builds for Windows on Debian, and runs the tests that work in Wine.

mod compare_reports;
mod cross;
pub(crate) mod editor;
mod layout;
mod suites;

use crate::error::Error;
use crate::packages;
use crate::setup;
use crate::step::{self, Steps};
use cross::Cross;
use suites::Suites;

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Error> {
    Steps::of_task(rest, prove)
}

/// Builds what ships and starts the command-line program, without the tests.
pub(crate) fn build(rest: &[String]) -> Result<(), Error> {
    Steps::of_task(rest, |steps| {
        let cross = build_what_ships(steps)?;
        steps.run("start", || {
            let mut command = cross.wine(&cross.output.join("plumbline.exe"));
            step::run(command.arg("--version"))
        })
    })
}

/// Installs the packages, makes Wine's prefix, and builds what ships.
fn build_what_ships(steps: &mut Steps) -> Result<Cross, Error> {
    let needed = [packages::CROSS, packages::READ_IN_WINE].concat();
    steps.run("packages", || setup::debian_packages("windows", &needed))?;
    let cross = Cross::make()?;
    steps.run("wine", || {
        cross.make_prefix()?;
        cross.list_package_files()
    })?;
    steps.run("build", || layout::build(&cross))?;
    Ok(cross)
}

/// Builds what ships, and the tests.
fn prepare(steps: &mut Steps) -> Result<(Cross, Suites), Error> {
    let cross = build_what_ships(steps)?;
    let mut built = None;
    steps.run("tests: build", || {
        built = Some(Suites::build(&cross)?);
        Ok(())
    })?;
    let suites = built.ok_or_else(|| Error::Failed("no tests were built".to_owned()))?;
    Ok((cross, suites))
}

fn prove(steps: &mut Steps) -> Result<(), Error> {
    let (cross, suites) = prepare(steps)?;
    steps.run("a crash fails", || suites.prove_a_crash_fails(&cross))?;
    steps.run("tests", || suites.run_plain(&cross))?;
    steps.run("hosts", || suites.run_hosts(&cross))?;
    steps.run("compare reports", || {
        let folder = compare_reports::make(&cross)?;
        suites.run_comparison(&cross, &folder)
    })
}
