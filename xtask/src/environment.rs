//! The environment of programs that draw: a private runtime folder, and software rendering if there is no display.

use crate::error::Error;
use crate::paths;
use std::path::PathBuf;
use std::process::Command;

/// The variables that a program needs in order to draw without a display and to have a runtime folder.
pub(crate) struct Environment {
    runtime: Option<PathBuf>,
    software_drawing: bool,
}

impl Environment {
    /// Finds the missing variables, and makes the folder.
    pub(crate) fn make() -> Result<Self, Error> {
        let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
        let runtime = if set("XDG_RUNTIME_DIR") || cfg!(not(target_os = "linux")) {
            None
        } else {
            Some(private_folder(paths::target()?.join("runtime"))?)
        };
        Ok(Self { runtime, software_drawing: cfg!(target_os = "linux") && !set("DISPLAY") })
    }

    /// Sets the missing variables of a command.
    pub(crate) fn apply(&self, command: &mut Command) {
        if let Some(runtime) = &self.runtime {
            command.env("XDG_RUNTIME_DIR", runtime);
        }
        if self.software_drawing {
            command.env("LIBGL_ALWAYS_SOFTWARE", "1");
        }
    }

    /// As [`Self::apply`], for a command taken by value.
    pub(crate) fn applied_to(&self, mut command: Command) -> Command {
        self.apply(&mut command);
        command
    }
}

/// A folder that only this user may enter.
fn private_folder(path: PathBuf) -> Result<PathBuf, Error> {
    std::fs::create_dir_all(&path).map_err(|e| Error::path("make the folder", &path, &e))?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o700))
            .map_err(|e| Error::path("restrict the permissions of", &path, &e))?;
    }
    Ok(path)
}
