//! A board folder of a test's own, so that tests meet neither a user's session nor each other.

use super::{RigError, doing};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// Variable that names the folder in which layers find each other, instead of the user's own.
pub const FOLDER_VARIABLE: &str = "PLUMBLINE_BOARD_DIR";

/// A temporary folder that only this user may enter.
#[derive(Debug)]
pub struct Folder(TempDir);

impl Folder {
    /// Makes one among the system's temporary files.
    ///
    /// # Errors
    /// A place that may not be written to.
    pub fn make() -> Result<Self, RigError> {
        let mut builder = tempfile::Builder::new();
        builder.prefix("plumbline-board-");
        // On Windows a folder among the user's own is theirs by inheritance.
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o700));
        builder.tempdir().map(Self).map_err(doing("making a board folder"))
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        self.0.path()
    }

    /// What another process needs in its environment to use it.
    pub fn variable(&self) -> (&'static str, String) {
        (FOLDER_VARIABLE, self.path().to_string_lossy().into_owned())
    }

    /// Uses it in this process.
    ///
    /// To be called before the plug-in is loaded or a layer joins, and before this process has threads.
    pub fn claim(&self) {
        // SAFETY: by the method's contract nobody reads the environment meanwhile.
        unsafe { std::env::set_var(FOLDER_VARIABLE, self.path()) };
    }
}

/// Names of the files on the board that this process uses, sorted.
///
/// # Errors
/// When the environment names no board, or it cannot be read.
pub fn files() -> Result<Vec<String>, RigError> {
    let folder = std::env::var_os(FOLDER_VARIABLE)
        .ok_or_else(|| RigError::new(format!("{FOLDER_VARIABLE} names no folder")))?;
    let list = std::fs::read_dir(PathBuf::from(folder)).map_err(doing("listing the board"))?;
    let mut names: Vec<String> =
        list.flatten().map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    Ok(names)
}
