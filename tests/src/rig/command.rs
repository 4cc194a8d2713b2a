//! The built command `plumbline`.

use super::RigError;
use std::path::PathBuf;
use std::process::Command;
use std::sync::OnceLock;

/// The variable that names the command to test.
pub const COMMAND_VARIABLE: &str = "PLUMBLINE_COMMAND";

/// The command, built now with the profile of this program.
///
/// # Errors
/// If the build fails, with cargo's output.
pub fn fresh() -> Result<PathBuf, RigError> {
    static BUILT: OnceLock<Result<PathBuf, RigError>> = OnceLock::new();
    BUILT
        .get_or_init(|| match std::env::var_os(COMMAND_VARIABLE) {
            Some(named) => Ok(PathBuf::from(named)),
            None => build(),
        })
        .clone()
}

/// The command that ships, as `cargo xtask bundle` built it.
///
/// # Errors
/// If the file is missing; the text says what to do.
pub fn shipped() -> Result<PathBuf, RigError> {
    if let Some(named) = std::env::var_os(COMMAND_VARIABLE) {
        return Ok(PathBuf::from(named));
    }
    let program =
        std::env::current_exe().map_err(|e| RigError::new(format!("this program has no path: {e}")))?;
    let built = |folder: &std::path::Path| folder.join("release").join(name());
    program.ancestors().map(built).find(|path| path.is_file()).ok_or_else(|| {
        RigError::new(format!(
            "{} is neither in {COMMAND_VARIABLE} nor in the target's `release`; nothing was run: run `cargo xtask \
             bundle` first",
            name()
        ))
    })
}

/// Builds the command. Cargo builds programs only for the tests of their own package. With the features of the whole
/// workspace, like the tests, only the program itself still has to be compiled.
fn build() -> Result<PathBuf, RigError> {
    let program =
        std::env::current_exe().map_err(|e| RigError::new(format!("this program has no path: {e}")))?;
    // target/debug/deps/survey-0123456789abcdef
    let profile = program.parent().and_then(|deps| deps.parent());
    let target = profile.and_then(|profile| profile.parent());
    let (Some(profile), Some(target)) = (profile, target) else {
        return Err(RigError::new(format!("{} is not in a target folder", program.display())));
    };
    let mut cargo = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    cargo.args(["build", "--quiet", "--workspace", "--bin", "plumbline", "--target-dir"]).arg(target);
    if profile.ends_with("release") {
        cargo.arg("--release");
    }
    let output = cargo
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .map_err(|e| RigError::new(format!("could not run cargo: {e}")))?;
    let built = profile.join(name());
    if output.status.success() && built.is_file() {
        return Ok(built);
    }
    Err(RigError::new(format!(
        "cargo did not build the command:\n{}",
        String::from_utf8_lossy(&output.stderr)
    )))
}

fn name() -> String {
    format!("plumbline{}", std::env::consts::EXE_SUFFIX)
}
