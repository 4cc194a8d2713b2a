//! Where the board lies: a folder of this user alone.

use std::path::{Path, PathBuf};
use std::{env, fs, io};

/// Names another folder for the board than the one this computer would give. `{pid}` in it publishers for the number of
/// the process, so that runs of tests do not meet.
const OVERRIDE: &str = "PLUMBLINE_BOARD_DIR";
const PROCESS: &str = "{pid}";

/// The folder of the board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Folder {
    path: PathBuf,
    /// Whether it is this process's alone, and goes with it.
    passing: bool,
}

impl Folder {
    /// The folder that this computer gives, made ready.
    ///
    /// # Errors
    /// Words that say what was expected and what came.
    pub(crate) fn find() -> Result<Self, String> {
        let Some(named) = env::var_os(OVERRIDE).filter(|v| !v.is_empty()) else { return Self::at(usual()) };
        let process = std::process::id().to_string();
        let path = PathBuf::from(named.to_string_lossy().replace(PROCESS, &process));
        let passing = named.to_string_lossy().contains(PROCESS);
        Ok(Self { passing, ..Self::at(path)? })
    }

    /// Makes a folder ready: private to this user.
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

    /// Makes the folder if it is gone, and checks it.
    pub(super) fn secure(&self) -> Result<(), String> {
        let shown = self.path.display();
        if !self.path.is_absolute() {
            return Err(format!("expected an absolute path for the folder of the board, got “{shown}”"));
        }
        create(&self.path).map_err(|error| format!("the folder {shown} could not be made ({error})"))?;
        let found = fs::symlink_metadata(&self.path)
            .map_err(|error| format!("the folder {shown} could not be looked at ({error})"))?;
        if !found.is_dir() {
            return Err(format!(
                "expected a folder at {shown}, found something else or a queue; nothing was changed"
            ));
        }
        restrict(&self.path, &found)
    }

    /// Removes a folder that was this process's alone, if nothing is in it. Any other stays for those to come.
    pub(crate) fn leave(&self) {
        if self.passing {
            // Not empty, or gone already: both are as they should be.
            let _ = fs::remove_dir(&self.path);
        }
    }
}

/// The folder without an override.
#[cfg(all(unix, not(target_os = "macos")))]
fn usual() -> PathBuf {
    let runtime = env::var_os("XDG_RUNTIME_DIR").map(PathBuf::from);
    match runtime.filter(|path| path.is_absolute() && path.is_dir()) {
        Some(path) => path.join("plumbline"),
        None => env::temp_dir().join(format!("plumbline-{}", rustix::process::geteuid().as_raw())),
    }
}

/// The folder without an override: the temporary folder is each user's own. Untested.
#[cfg(target_os = "macos")]
fn usual() -> PathBuf {
    env::temp_dir().join("plumbline")
}

/// The folder without an override: application data of this user on this computer, which no profile carries along.
#[cfg(windows)]
fn usual() -> PathBuf {
    let local = env::var_os("LOCALAPPDATA").map_or_else(env::temp_dir, PathBuf::from);
    local.join("Plumbline").join("board")
}

fn create(path: &Path) -> io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path)
}

/// Refuses a folder of somebody else, and takes others' rights away.
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

/// The user's own application folder is private by inheritance.
#[cfg(not(unix))]
fn restrict(_: &Path, _: &fs::Metadata) -> Result<(), String> {
    Ok(())
}

/// Whether something belongs to the user of this process.
#[cfg(unix)]
pub(super) fn is_ours(found: &fs::Metadata) -> bool {
    std::os::unix::fs::MetadataExt::uid(found) == rustix::process::geteuid().as_raw()
}

/// The folder is the user's own.
#[cfg(not(unix))]
pub(super) fn is_ours(_: &fs::Metadata) -> bool {
    true
}
