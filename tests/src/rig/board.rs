//! A separate board folder for a test, so that tests meet neither a user's session nor each other.

use super::{RigError, doing};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// The variable that names a board folder other than the user's.
pub const FOLDER_VARIABLE: &str = "PLUMBLINE_BOARD_DIR";

/// A temporary folder that only this user may enter.
#[derive(Debug)]
pub struct Folder(TempDir);

impl Folder {
    /// Makes a folder among the system's temporary files.
    ///
    /// # Errors
    /// If the folder may not be written to.
    pub fn make() -> Result<Self, RigError> {
        let mut builder = tempfile::Builder::new();
        builder.prefix("plumbline-board-");
        // On Windows a folder inside the user's own inherits its permissions.
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o700));
        builder.tempdir().map(Self).map_err(doing("making a board folder"))
    }

    /// Its path.
    pub fn path(&self) -> &Path {
        self.0.path()
    }

    /// The environment variable that makes another process use it.
    pub fn variable(&self) -> (&'static str, String) {
        (FOLDER_VARIABLE, self.path().to_string_lossy().into_owned())
    }

    /// Uses it in this process.
    ///
    /// Call it before the plug-in is loaded or a layer joins, and before this process has other threads.
    pub fn claim(&self) {
        // SAFETY: by the method's contract no other thread reads the environment meanwhile.
        unsafe { std::env::set_var(FOLDER_VARIABLE, self.path()) };
    }
}

/// Names of the files on the board that this process uses, sorted.
///
/// # Errors
/// If the environment has no board, or it cannot be read.
pub fn files() -> Result<Vec<String>, RigError> {
    let folder = std::env::var_os(FOLDER_VARIABLE)
        .ok_or_else(|| RigError::new(format!("{FOLDER_VARIABLE} names no folder")))?;
    let list = std::fs::read_dir(PathBuf::from(folder)).map_err(doing("listing the board"))?;
    let mut names: Vec<String> =
        list.flatten().map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    Ok(names)
}
