//! The folder of the board, private to this user.

use super::rights;
use std::path::{Path, PathBuf};
use std::{env, fs};

/// Environment variable that names another folder. `{pid}` in it becomes the process number, which keeps test runs
/// apart.
const OVERRIDE: &str = "PLUMBLINE_BOARD_DIR";
const PROCESS: &str = "{pid}";

/// The folder of the board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Folder {
    path: PathBuf,
    /// Whether it existed when the user named it: then its rights are the user's choice.
    theirs: bool,
    /// Whether it belongs to this process alone, and is removed with it.
    passing: bool,
}

impl Folder {
    /// Finds this computer's folder and makes it ready.
    ///
    /// # Errors
    /// A text that says what failed, and where.
    pub(crate) fn find() -> Result<Self, String> {
        let Some(named) = env::var_os(OVERRIDE).filter(|v| !v.is_empty()) else { return Self::at(usual()?) };
        let process = std::process::id().to_string();
        let path = PathBuf::from(named.to_string_lossy().replace(PROCESS, &process));
        let passing = named.to_string_lossy().contains(PROCESS);
        Ok(Self { passing, ..Self::named(path)? })
    }

    /// Makes a folder ready for use, private to this user.
    ///
    /// # Errors
    /// As [`Self::find`].
    pub(crate) fn at(path: PathBuf) -> Result<Self, String> {
        Self { path, theirs: false, passing: false }.secured()
    }

    /// Makes a folder ready that the user names. If it exists it keeps its rights; if others have any to it, the board is
    /// in a folder `plumbline` inside it.
    ///
    /// # Errors
    /// As [`Self::find`].
    pub(super) fn named(path: PathBuf) -> Result<Self, String> {
        match fs::symlink_metadata(&path) {
            Ok(found) if rights::stranger(&found).is_none() && rights::is_open(&found) => {
                // Not a folder: refused with the reason.
                Self::at(if found.is_dir() { path.join("plumbline") } else { path })
            }
            found => Self { path, theirs: found.is_ok(), passing: false }.secured(),
        }
    }

    fn secured(self) -> Result<Self, String> {
        self.secure()?;
        Ok(self)
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Creates the folder if it is missing, and checks it.
    pub(super) fn secure(&self) -> Result<(), String> {
        let shown = self.path.display();
        if !self.path.is_absolute() {
            return Err(format!("the board folder “{shown}” is not an absolute path"));
        }
        rights::create(&self.path)
            .map_err(|error| format!("the folder {shown} could not be made ({error})"))?;
        let found = fs::symlink_metadata(&self.path)
            .map_err(|error| format!("the folder {shown} could not be checked ({error})"))?;
        if !found.is_dir() {
            return Err(format!(
                "expected a folder at {shown}, found something else or a link; nothing was changed"
            ));
        }
        if let Some(owner) = rights::stranger(&found) {
            return Err(format!(
                "the folder {shown} belongs to user {owner}, not to this one; nothing was changed"
            ));
        }
        if self.theirs {
            return Ok(());
        }
        rights::restrict(&self.path, &found)
            .map_err(|error| format!("the folder {shown} could not be made private ({error})"))
    }

    /// Removes the folder if it belonged to this process alone and is empty. Any other folder stays.
    pub(crate) fn leave(&self) {
        if self.passing {
            // It may be in use or gone already; either is fine.
            let _ = fs::remove_dir(&self.path);
        }
    }
}

/// The folder without an override.
#[cfg(target_os = "linux")]
fn usual() -> Result<PathBuf, String> {
    super::usual_folder::find()
}

/// The folder without an override: on macOS the temporary folder is each user's own. Untested.
#[cfg(all(unix, not(target_os = "linux")))]
fn usual() -> Result<PathBuf, String> {
    Ok(env::temp_dir().join("plumbline"))
}

/// The folder without an override: this user's local application data, which does not roam with the profile.
#[cfg(windows)]
fn usual() -> Result<PathBuf, String> {
    let local = env::var_os("LOCALAPPDATA").map_or_else(env::temp_dir, PathBuf::from);
    Ok(local.join("Plumbline").join("board"))
}
