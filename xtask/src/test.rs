//! `test`: all checks of a commit, quickest first.

use crate::environment::Environment;
use crate::error::Error;
use crate::step::Steps;
use crate::{bundle, demo, paths, setup, step, supply};

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Error> {
    Steps::of_task(rest, prove)
}

fn prove(steps: &mut Steps) -> Result<(), Error> {
    let environment = Environment::make()?;
    let cargo = |args: &[&str]| {
        let mut command = paths::cargo();
        command.args(args);
        environment.apply(&mut command);
        command
    };
    steps.run("setup", || setup::run(&[]))?;
    steps.run("format", || step::run(&mut cargo(&["fmt", "--all", "--check"])))?;
    steps.run("supply chain", supply::check)?;
    steps.run("lints", || {
        step::run(&mut cargo(&["clippy", "--workspace", "--all-targets", "--", "-D", "warnings"]))
    })?;
    steps.run("bundle", || bundle::bundle(false))?;
    steps.run("docs", || {
        step::run(cargo(&["doc", "--workspace", "--no-deps"]).env("RUSTDOCFLAGS", "-D warnings"))
    })?;
    // The development profile, which turns on debug assertions and the allocation guard; the release build is tested
    // through its bundle.
    steps.run("tests", || step::run(&mut cargo(&["test", "--workspace", "--no-fail-fast"])))?;
    steps.run("demo", || {
        step::run(
            &mut environment
                .applied_to(demo::program(demo::Profile::Development, &["--headless".to_owned()])),
        )
    })
}
