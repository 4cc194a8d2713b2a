//! `bench [NAME]`: measures all budgets, or only the named one.

use crate::environment::Environment;
use crate::error::Error;
use crate::{paths, step};

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Error> {
    if rest.len() > 1 {
        return Err(Error::Usage(
            "`bench` takes the name of one budget at most; nothing was done".to_owned(),
        ));
    }
    let environment = Environment::make()?;
    let mut command = paths::cargo();
    command.args(["build", "--release", "--package", "plumbline-survey"]);
    step::run(&mut command)?;
    let mut program = paths::cargo();
    program.args(["run", "--release", "--package", "plumbline-tests", "--bin", "bench", "--"]).args(rest);
    step::run(&mut environment.applied_to(program))
}
