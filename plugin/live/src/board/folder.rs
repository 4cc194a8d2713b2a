//! The folder of the board, private to this user.

use std::path::{Path, PathBuf};
use std::{env, fs, io};

/// Environment variable that names another folder. `{pid}` in it becomes the process number, which keeps test runs
/// apart.
const OVERRIDE: &str = "PLUMBLINE_BOARD_DIR";
const PROCESS: &str = "{pid}";

/// The folder of the board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Folder {
    path: PathBuf,
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
        Ok(Self { passing, ..Self::at(path)? })
    }

    /// Makes a folder ready for use, private to this user.
    ///
    /// # Errors
    /// As [`Self::find`].
    pub(crate) fn at(path: PathBuf) -> Result<Self, String> {
        let folder = Self { path, passing: false };
        folder.secure()?;
        Ok(folder)
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
        create(&self.path).map_err(|error| format!("the folder {shown} could not be made ({error})"))?;
        let found = fs::symlink_metadata(&self.path)
            .map_err(|error| format!("the folder {shown} could not be checked ({error})"))?;
        if !found.is_dir() {
            return Err(format!(
                "expected a folder at {shown}, found something else or a link; nothing was changed"
            ));
        }
        restrict(&self.path, &found)
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

fn create(path: &Path) -> io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path)
}

/// Refuses a folder of another user, and removes other users' access.
#[cfg(unix)]
fn restrict(path: &Path, found: &fs::Metadata) -> Result<(), String> {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    if !is_ours(found) {
        return Err(format!(
            "the folder {} belongs to user {}, not to this one; nothing was changed",
            path.display(),
            found.uid()
        ));
    }
    if found.mode() & 0o777 == 0o700 {
        return Ok(());
    }
    fs::set_permissions(path, fs::Permissions::from_mode(0o700))
        .map_err(|error| format!("the folder {} could not be made private ({error})", path.display()))
}

/// Does nothing: the user's application folder is private by inheritance.
#[cfg(not(unix))]
fn restrict(_: &Path, _: &fs::Metadata) -> Result<(), String> {
    Ok(())
}

/// Whether a file or folder belongs to the user of this process.
#[cfg(unix)]
pub(super) fn is_ours(found: &fs::Metadata) -> bool {
    std::os::unix::fs::MetadataExt::uid(found) == rustix::process::geteuid().as_raw()
}

/// Always true: the folder is the user's own.
#[cfg(not(unix))]
pub(super) fn is_ours(_: &fs::Metadata) -> bool {
    true
}
