//! Named steps with their durations, and a summary at the end, even after a failure.

use crate::error::{Error, no_arguments};
use std::process::{Command, ExitStatus};
use std::time::{Duration, Instant};

/// The steps of a longer task, run in order up to the first that fails.
#[derive(Default)]
pub(crate) struct Steps {
    done: Vec<(&'static str, Duration, bool)>,
}

impl Steps {
    /// Runs a task that takes no arguments, and prints its steps at the end, even after a failure.
    pub(crate) fn of_task(
        rest: &[String],
        task: impl FnOnce(&mut Self) -> Result<(), Error>,
    ) -> Result<(), Error> {
        no_arguments(rest)?;
        let mut steps = Self::default();
        let outcome = task(&mut steps);
        steps.summary();
        outcome
    }

    /// Runs one step and records how long it took.
    pub(crate) fn run(
        &mut self,
        name: &'static str,
        work: impl FnOnce() -> Result<(), Error>,
    ) -> Result<(), Error> {
        println!("\n== {name}");
        let start = Instant::now();
        let outcome = work();
        self.done.push((name, start.elapsed(), outcome.is_ok()));
        outcome.map_err(|error| Error::Failed(format!("step `{name}` failed: {error}")))
    }

    /// Prints the steps and their durations.
    fn summary(&self) {
        println!("\nSteps:");
        for (name, took, fine) in &self.done {
            println!(
                "  {:<7} {:>8.1} s  {name}",
                if *fine { "passed" } else { "FAILED" },
                took.as_secs_f64()
            );
        }
        let total: Duration = self.done.iter().map(|(_, took, _)| *took).sum();
        println!("  {:<7} {:>8.1} s", "total", total.as_secs_f64());
    }
}

/// Runs a command to its end on the user's terminal; any exit code except 0 is an error.
pub(crate) fn run(command: &mut Command) -> Result<(), Error> {
    let name = words(command);
    let status = command.status().map_err(|e| {
        let program = command.get_program().to_string_lossy().into_owned();
        Error::Failed(format!("could not start {program}: {e}. Is it installed and on the PATH?"))
    })?;
    if status.success() {
        return Ok(());
    }
    Err(Error::Failed(format!("`{name}` ended with {}; its output is above", how(status))))
}

/// The way a program ended, to follow "ended with".
pub(crate) fn how(status: ExitStatus) -> String {
    status.code().map_or("a signal".to_owned(), |code| code.to_string())
}

/// A command as the user would type it.
fn words(command: &Command) -> String {
    let program = std::path::Path::new(command.get_program());
    let program = program.file_stem().unwrap_or(command.get_program()).to_string_lossy().into_owned();
    let args = command.get_args().map(|a| a.to_string_lossy().into_owned());
    std::iter::once(program).chain(args).collect::<Vec<_>>().join(" ")
}
