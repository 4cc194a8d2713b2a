//! From words to an exit code: the words are understood, the work is done, what came of it is said.

mod args;
mod channels;
mod folder;
mod layers;
mod mics;
mod paper;
mod progress;
mod scene;
mod stop;
mod survey;
mod trouble;
mod values;
mod voice;

use args::{Cli, Command};
use clap::Parser;
use clap::error::ErrorKind;
use std::process::ExitCode;
use trouble::Trouble;
use voice::Voice;

/// What a command comes to where nothing stood in its way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Done {
    /// Nothing to complain about.
    Fine,
    /// Findings as bad as the user said must not be.
    Found,
}

/// Runs the command with the words of this process.
pub(crate) fn run() -> ExitCode {
    let mut voice = Voice::default();
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => return not_understood(&mut voice, &error),
    };
    let name = cli.command.name();
    let outcome = obey(cli, &mut voice).and_then(|done| voice.end().map(|()| done));
    match outcome {
        Ok(Done::Fine) => ExitCode::SUCCESS,
        Ok(Done::Found) => ExitCode::from(trouble::FOUND),
        Err(trouble) => {
            voice.complain(&format!("plumbline {name}: {trouble}"));
            ExitCode::from(trouble.exit_code())
        }
    }
}

fn obey(cli: Cli, voice: &mut Voice) -> Result<Done, Trouble> {
    let Cli { global, command } = cli;
    voice.set_quiet(global.quiet);
    match command {
        Command::Survey(words) => survey::run(&words, &global, voice),
        Command::Mics { files } => mics::run(&files, &global, voice),
        Command::Scene { dir } => scene::run(&dir, voice),
        Command::Completions { shell } => paper::completions(shell, voice),
        Command::Man { of } => paper::man(of.as_deref(), voice),
    }
}

/// Help that was asked for goes to stdout in full; what is wrong is told in one line.
fn not_understood(voice: &mut Voice, error: &clap::Error) -> ExitCode {
    let asked_for = matches!(error.kind(), ErrorKind::DisplayHelp | ErrorKind::DisplayVersion);
    if asked_for || error.kind() == ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand {
        // A reader that has gone away has read enough.
        let _ = error.print();
        return if asked_for { ExitCode::SUCCESS } else { ExitCode::from(trouble::USAGE) };
    }
    voice.complain(&trouble::one_line(&error.render().to_string()));
    ExitCode::from(trouble::USAGE)
}
