//! A board folder of a test's own, so that tests meet neither a user's session nor each other.

use super::{RigError, doing};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

/// Variable that names the folder in which layers find each other, instead of the user's own.
pub const FOLDER_VARIABLE: &str = "PLUMBLINE_BOARD_DIR";

/// A fresh folder that only this user may enter; it goes with this value, with all that is in it.
#[derive(Debug)]
pub struct Folder(PathBuf);

impl Folder {
    /// Makes one among the system's temporary files.
    ///
    /// # Errors
    /// A place that may not be written to.
    pub fn make() -> Result<Self, RigError> {
        static MADE: AtomicU32 = AtomicU32::new(0);
        let number = MADE.fetch_add(1, Ordering::Relaxed);
        let path = std::env::temp_dir().join(format!("plumbline-board-{}-{number}", std::process::id()));
        private().create(&path).map_err(doing("making a board folder"))?;
        Ok(Self(path))
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.0
    }

    /// What another process needs in its environment to use it.
    pub fn variable(&self) -> (&'static str, String) {
        (FOLDER_VARIABLE, self.0.to_string_lossy().into_owned())
    }

    /// Uses it in this process.
    ///
    /// To be called before the plug-in is loaded or a layer joins, and before this process has threads.
    pub fn claim(&self) {
        // SAFETY: by the method's contract nobody reads the environment meanwhile.
        unsafe { std::env::set_var(FOLDER_VARIABLE, &self.0) };
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // What cannot be removed lies among temporary files, which the system clears.
        let _ = std::fs::remove_dir_all(&self.0);
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

/// Makes folders that only this user may enter, as a board has to lie in one.
#[cfg(unix)]
fn private() -> std::fs::DirBuilder {
    let mut builder = std::fs::DirBuilder::new();
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder
}

/// On Windows a folder among the user's own is theirs by inheritance.
#[cfg(not(unix))]
fn private() -> std::fs::DirBuilder {
    std::fs::DirBuilder::new()
}
