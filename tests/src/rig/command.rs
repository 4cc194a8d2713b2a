//! The built command `plumbline`.

use super::RigError;
use std::path::PathBuf;
use std::process::Command;
use std::sync::OnceLock;

/// Variable that names the command to test.
pub const COMMAND_VARIABLE: &str = "PLUMBLINE_COMMAND";

/// The command as it is now, built like this program: with debug assertions where this one has them.
///
/// # Errors
/// Where it cannot be built, with cargo's own words.
pub fn fresh() -> Result<PathBuf, RigError> {
    static BUILT: OnceLock<Result<PathBuf, RigError>> = OnceLock::new();
    BUILT
        .get_or_init(|| match std::env::var_os(COMMAND_VARIABLE) {
            Some(named) => Ok(PathBuf::from(named)),
            None => build(),
        })
        .clone()
}

/// The command as `cargo xtask bundle` built it: what ships.
///
/// # Errors
/// Where there is none, with the way out.
pub fn shipped() -> Result<PathBuf, RigError> {
    if let Some(named) = std::env::var_os(COMMAND_VARIABLE) {
        return Ok(PathBuf::from(named));
    }
    let program =
        std::env::current_exe().map_err(|e| RigError::new(format!("this program has no path: {e}")))?;
    let built = |folder: &std::path::Path| folder.join("release").join(name());
    program.ancestors().map(built).find(|path| path.is_file()).ok_or_else(|| {
        RigError::new(format!(
            "there is no {} in {COMMAND_VARIABLE} or in the target folder's `release`; nothing was run: run `cargo xtask \
             bundle` first",
            name()
        ))
    })
}

/// Cargo builds programs for the tests of their own package alone. With the features of the whole workspace, as the
/// tests were built, there is nothing more to compile than the program.
fn build() -> Result<PathBuf, RigError> {
    let program =
        std::env::current_exe().map_err(|e| RigError::new(format!("this program has no path: {e}")))?;
    // target/debug/deps/survey-0123456789abcdef
    let profile = program.parent().and_then(|deps| deps.parent());
    let target = profile.and_then(|profile| profile.parent());
    let (Some(profile), Some(target)) = (profile, target) else {
        return Err(RigError::new(format!("{} lies in no target folder", program.display())));
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
