//! `test`: everything that must hold, in the order in which it fails soonest.

use crate::fault::Fault;
use crate::step::Steps;
use crate::surroundings::Surroundings;
use crate::{bundle, demo, place, setup, step};

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Fault> {
    Steps::of_chore(rest, prove)
}

fn prove(steps: &mut Steps) -> Result<(), Fault> {
    let surroundings = Surroundings::make()?;
    let cargo = |args: &[&str]| {
        let mut command = place::cargo();
        command.args(args);
        surroundings.give(&mut command);
        command
    };
    steps.run("setup", || setup::run(&[]))?;
    steps.run("format", || step::run(&mut cargo(&["fmt", "--all", "--check"])))?;
    steps.run("lints", || {
        step::run(&mut cargo(&["clippy", "--workspace", "--all-targets", "--", "-D", "warnings"]))
    })?;
    steps.run("bundle", || bundle::bundle(false))?;
    steps.run("docs", || {
        step::run(cargo(&["doc", "--workspace", "--no-deps"]).env("RUSTDOCFLAGS", "-D warnings"))
    })?;
    // The development profile, so that debug assertions and the allocation guard are awake; what ships is tested
    // through the bundle of the release profile.
    steps.run("tests", || step::run(&mut cargo(&["test", "--workspace", "--no-fail-fast"])))?;
    steps.run("demo", || {
        step::run(
            &mut surroundings.given(demo::program(demo::Profile::Development, &["--headless".to_owned()])),
        )
    })
}
