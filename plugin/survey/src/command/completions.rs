//! Completion scripts and `man` pages, made from the arguments of the command.

use super::args::Cli;
use super::error::CommandError;
use super::outcome::Done;
use super::output::Output;
use clap::CommandFactory;
use clap_complete::Shell;

/// Prints a completion script to stdout.
pub(crate) fn completions(shell: Shell, output: &mut Output) -> Result<Done, CommandError> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "plumbline", &mut script);
    output.hand_out(&String::from_utf8_lossy(&script));
    Ok(Done::Fine)
}

/// Prints a page for `man` to stdout, on the whole program or on one command.
pub(crate) fn man(of: Option<&str>, output: &mut Output) -> Result<Done, CommandError> {
    let mut whole = Cli::command().disable_help_subcommand(true);
    // This passes the global arguments on to each command.
    whole.build();
    let command = match of {
        None => whole,
        Some(name) => {
            let known: Vec<String> =
                whole.get_subcommands().map(|sub| format!("`{}`", sub.get_name())).collect();
            whole.find_subcommand(name).cloned().ok_or_else(|| {
                CommandError::Usage(format!("there is no command `{name}`; there are {}", known.join(", ")))
            })?
        }
    };
    let mut page = Vec::new();
    clap_mangen::Man::new(command)
        .render(&mut page)
        .map_err(|cause| CommandError::Output(format!("could not make the page: {cause}")))?;
    output.hand_out(&String::from_utf8_lossy(&page));
    Ok(Done::Fine)
}
