//! `demo`: sets up, bundles, and plays the scene or the user's own mix through the built plug-in.

use crate::environment::Environment;
use crate::error::Error;
use crate::{bundle, paths, setup, step};
use std::path::PathBuf;
use std::process::Command;

/// The build of the demo program to run. The plug-in is always the release build.
#[derive(Clone, Copy)]
pub(crate) enum Profile {
    Release,
    /// Uses the same build as the tests.
    Development,
}

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Error> {
    let args = understood(rest)?;
    setup::run(&[])?;
    bundle::bundle(false)?;
    let environment = Environment::make()?;
    step::run(&mut environment.applied_to(program(Profile::Release, &args)))
}

/// The demo program with its arguments.
pub(crate) fn program(profile: Profile, args: &[String]) -> Command {
    let mut command = paths::cargo();
    command.args(["run", "--package", "plumbline-tests", "--bin", "demo"]);
    if let Profile::Release = profile {
        command.arg("--release");
    }
    command.arg("--").args(args);
    command
}

/// Checks the arguments before anything is built. Makes the file's path absolute, because the program runs in another
/// folder.
fn understood(rest: &[String]) -> Result<Vec<String>, Error> {
    let mut args = Vec::new();
    let mut words = rest.iter();
    while let Some(word) = words.next() {
        match word.as_str() {
            "--headless" => args.push(word.clone()),
            "--input" => {
                let given = words.next().ok_or_else(|| {
                    Error::Usage(
                        "`--input` needs a WAV, FLAC or AIFF file after it; nothing was done".to_owned(),
                    )
                })?;
                let path = std::path::absolute(PathBuf::from(given))
                    .map_err(|e| Error::Usage(format!("`{given}` is not a path: {e}; nothing was done")))?;
                if !path.exists() {
                    return Err(Error::Failed(format!(
                        "file not found: {}; check the name. Nothing was done",
                        path.display()
                    )));
                }
                args.extend([word.clone(), path.to_string_lossy().into_owned()]);
            }
            other => {
                return Err(Error::Usage(format!(
                    "unknown argument `{other}`; the demo takes --input FILE and --headless. Nothing was done"
                )));
            }
        }
    }
    Ok(args)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(text: &str) -> Vec<String> {
        text.split_whitespace().map(str::to_owned).collect()
    }

    #[test]
    fn arguments_are_checked_before_anything_is_built() {
        assert!(matches!(understood(&words("--loud")), Err(Error::Usage(_))));
        assert!(matches!(understood(&words("--input")), Err(Error::Usage(_))));
        assert!(matches!(understood(&words("--input no-such-file.wav")), Err(Error::Failed(_))));
        assert_eq!(understood(&words("--headless")).expect("fine"), ["--headless"]);
        let file = understood(&words("--input Cargo.toml --headless")).expect("the file is there");
        assert!(PathBuf::from(&file[1]).is_absolute());
    }
}
