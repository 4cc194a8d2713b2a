//! `bench`: what things cost, each beside a bound measured in the same run.

use crate::fault::{Fault, no_arguments};
use crate::surroundings::Surroundings;
use crate::{place, step};

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Fault> {
    no_arguments(rest)?;
    let surroundings = Surroundings::make()?;
    let mut command = place::cargo();
    command.args(["build", "--release", "--package", "plumbline-survey"]);
    step::run(&mut command)?;
    let mut program = place::cargo();
    program.args(["run", "--release", "--package", "plumbline-tests", "--bin", "bench"]);
    step::run(&mut surroundings.given(program))
}
