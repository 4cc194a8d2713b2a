//! `bench [NAME]`: what things cost, each beside a bound measured in the same run; or one of them alone.

use crate::fault::Fault;
use crate::surroundings::Surroundings;
use crate::{place, step};

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Fault> {
    if rest.len() > 1 {
        return Err(Fault::Usage(
            "`bench` takes the name of one budget, or nothing; nothing was done".to_owned(),
        ));
    }
    let surroundings = Surroundings::make()?;
    let mut command = place::cargo();
    command.args(["build", "--release", "--package", "plumbline-survey"]);
    step::run(&mut command)?;
    let mut program = place::cargo();
    program.args(["run", "--release", "--package", "plumbline-tests", "--bin", "bench", "--"]).args(rest);
    step::run(&mut surroundings.given(program))
}
