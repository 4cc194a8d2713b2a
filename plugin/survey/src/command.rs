//! From arguments to an exit code.

mod args;
mod channels;
mod completions;
mod error;
mod interrupt;
mod layers;
mod mics;
mod outcome;
mod output;
mod progress;
mod report_dir;
mod scene;
mod survey;
mod values;

use args::{Cli, Command};
use clap::Parser;
use clap::error::ErrorKind;
use error::CommandError;
use outcome::Done;
use output::Output;
use std::process::ExitCode;

/// Runs the command with the arguments of this process.
pub(crate) fn run() -> ExitCode {
    let mut output = Output::default();
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => return not_understood(&mut output, &error),
    };
    let name = cli.command.name();
    let outcome = obey(cli, &mut output).and_then(|done| output.end().map(|()| done));
    match outcome {
        Ok(Done::Fine) => ExitCode::SUCCESS,
        Ok(Done::Found) => ExitCode::from(error::FOUND),
        Err(trouble) => {
            output.complain(&format!("plumbline {name}: {trouble}"));
            ExitCode::from(trouble.exit_code())
        }
    }
}

fn obey(cli: Cli, output: &mut Output) -> Result<Done, CommandError> {
    let Cli { global, command } = cli;
    output.set_quiet(global.quiet);
    match command {
        Command::Survey(args) => survey::run(&args, &global, output),
        Command::Mics { files } => mics::run(&files, &global, output),
        Command::Scene { dir } => scene::run(&dir, output),
        Command::Completions { shell } => completions::completions(shell, output),
        Command::Man { of } => completions::man(of.as_deref(), output),
    }
}

/// Prints the full help to stdout if it was asked for, else one line to say what is wrong.
fn not_understood(output: &mut Output, error: &clap::Error) -> ExitCode {
    let asked_for = matches!(error.kind(), ErrorKind::DisplayHelp | ErrorKind::DisplayVersion);
    if asked_for || error.kind() == ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand {
        // A reader that has gone away has read enough.
        let _ = error.print();
        return if asked_for { ExitCode::SUCCESS } else { ExitCode::from(error::USAGE) };
    }
    output.complain(&error::one_line(&error.render().to_string()));
    ExitCode::from(error::USAGE)
}
