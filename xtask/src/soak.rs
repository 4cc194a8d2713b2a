//! `soak MINUTES`: a hundred layers in three host processes, for as long as asked.

use crate::environment::Environment;
use crate::error::Error;
use crate::{bundle, paths, step};

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Error> {
    let [minutes] = rest else {
        return Err(Error::Usage(
            "`soak` takes a number of minutes, as in `soak 10`; nothing was done".to_owned(),
        ));
    };
    if minutes.parse::<f64>().is_ok_and(|minutes| minutes > 0.0 && minutes.is_finite()) {
        bundle::bundle(false)?;
        let environment = Environment::make()?;
        // The whole workspace, so that dependencies have the features of the other tests and are not built again.
        step::run(paths::cargo().args(["build", "--workspace", "--bin", "soak"]))?;
        let mut program = std::process::Command::new(paths::target()?.join("debug").join("soak"));
        program.arg(minutes);
        step::run(&mut environment.applied_to(program))
    } else {
        Err(Error::Usage(format!("`{minutes}` is not a number of minutes; nothing was done")))
    }
}
