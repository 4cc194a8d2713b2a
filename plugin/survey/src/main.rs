//! The command `plumbline`.
#![expect(clippy::print_stdout, reason = "a command talks to its user on stdout")]

use clap::{Parser, Subcommand};
use indicatif::{ProgressBar, ProgressStyle};
use plumbline_survey::scene;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

/// Measures mixes and stems off line.
#[derive(Parser)]
#[command(name = "plumbline", version, arg_required_else_help = true)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Makes the bell-tower scene: stems, a mix, and truth.json with what was planted in them.
    Scene {
        /// Folder to write into; made if it is not there. Files of the same names are replaced.
        dir: PathBuf,
    },
}

fn main() -> ExitCode {
    let Cli { command } = Cli::parse();
    let Command::Scene { dir } = command;
    let bar = ProgressBar::new_spinner();
    if let Ok(style) = ProgressStyle::with_template("{spinner} making {msg}, {elapsed}") {
        bar.set_style(style);
    }
    bar.enable_steady_tick(Duration::from_millis(120));
    let outcome = scene::write(&dir, &mut |step| bar.set_message(step.to_owned()));
    bar.finish_and_clear();
    match outcome {
        Ok(truth) => {
            println!(
                "{}: {} stems and {}, {} s; {} planted values in {}",
                dir.display(),
                truth.stems.len(),
                truth.mix,
                truth.seconds,
                truth.planted.len(),
                scene::TRUTH_FILE
            );
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("plumbline scene: {error}");
            ExitCode::FAILURE
        }
    }
}
