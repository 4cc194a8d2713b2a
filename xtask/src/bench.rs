//! `bench`: what things cost, each beside a bound measured in the same run.

use crate::fault::{Fault, no_arguments};
use crate::{place, step};

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Fault> {
    no_arguments(rest)?;
    step::run(place::cargo().args(["run", "--release", "--package", "plumbline-tests", "--bin", "bench"]))
}
