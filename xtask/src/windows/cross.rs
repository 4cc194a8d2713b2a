//! Building for Windows on Debian: the compiler, the folders, and Wine to run the result.

use crate::error::Error;
use crate::packages::READ_IN_WINE;
use crate::{paths, setup, step};
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// The target.
pub(crate) const TARGET: &str = "x86_64-pc-windows-gnu";
/// The prefix of the names of mingw-w64's programs.
const MINGW: &str = "x86_64-w64-mingw32";
/// Debian's compiler. rustup's would have to download a standard library for Windows; Debian packages the source of its
/// compiler's, and cargo builds that.
const RUSTC: &str = "/usr/bin/rustc";
const RUSTDOC: &str = "/usr/bin/rustdoc";
/// The oldest minor version of the compiler that can build the project.
const OLDEST_MINOR: u32 = 95;
pub(crate) const WINE: &str = "/usr/lib/wine/wine64";
const WINE_SERVER: &str = "/usr/lib/wine/wineserver64";
/// The one system library that Wine 8 lacks.
const MISSING_LIBRARY: &str = include_str!("bcryptprimitives.c");

/// The folders of the cross build, and the environment of its programs.
pub(crate) struct Cross {
    work: PathBuf,
    /// The folder of the finished files.
    pub(crate) output: PathBuf,
}

impl Cross {
    /// Checks the compiler and makes the folders.
    pub(crate) fn make() -> Result<Self, Error> {
        check_compiler()?;
        let target = paths::target()?;
        let cross = Self { work: target.join("windows-build"), output: target.join("windows") };
        for folder in [cross.output.clone(), cross.temporary()] {
            fs::create_dir_all(&folder).map_err(|e| Error::path("make the folder", &folder, &e))?;
        }
        Ok(cross)
    }

    /// The working folder of a step.
    pub(crate) fn work(&self, name: &str) -> PathBuf {
        self.work.join(name)
    }

    fn temporary(&self) -> PathBuf {
        self.work("tmp")
    }

    fn prefix(&self) -> PathBuf {
        self.work("prefix")
    }

    /// The folder of a profile's built programs.
    pub(crate) fn built(&self, profile: &str) -> PathBuf {
        self.work("target").join(TARGET).join(profile)
    }

    /// `cargo` for Windows.
    pub(crate) fn cargo(&self) -> Command {
        let mut command = paths::cargo();
        let gcc = format!("{MINGW}-gcc-posix");
        command
            .env("RUSTC", RUSTC)
            .env("RUSTDOC", RUSTDOC)
            // Building the standard library is unstable in cargo.
            .env("RUSTC_BOOTSTRAP", "1")
            .env("CARGO_UNSTABLE_BUILD_STD", "std,panic_unwind")
            .env("CARGO_BUILD_TARGET", TARGET)
            .env("CARGO_TARGET_DIR", self.work("target"))
            .env("CARGO_INCREMENTAL", "0")
            .env("CARGO_TARGET_X86_64_PC_WINDOWS_GNU_LINKER", &gcc)
            .env("CC_x86_64_pc_windows_gnu", &gcc)
            .env("CXX_x86_64_pc_windows_gnu", format!("{MINGW}-g++-posix"))
            .env("AR_x86_64_pc_windows_gnu", format!("{MINGW}-ar"))
            // The mingw-w64 tools leave hundreds of empty files there.
            .env("TMPDIR", self.temporary())
            .env_remove("RUSTC_WRAPPER");
        command
    }

    /// A tool of mingw-w64.
    pub(crate) fn tool(&self, name: &str) -> Command {
        let mut command = Command::new(format!("{MINGW}-{name}"));
        command.env("TMPDIR", self.temporary());
        command
    }

    /// A program in Wine, without a display and with its own board folder.
    pub(crate) fn wine(&self, program: &Path) -> Command {
        let mut command = Command::new(WINE);
        command.arg(program);
        self.set_environment(&mut command);
        command
    }

    /// Sets the environment of a program in Wine.
    pub(crate) fn set_environment(&self, command: &mut Command) {
        self.set_wine(command);
        command.env("PLUMBLINE_BOARD_DIR", windows_path(&self.work("board").join("{pid}")));
        command.env("PLUMBLINE_PACKAGE_FILES", windows_path(&self.package_files()));
    }

    /// Ends Wine's server, and with it every program in Wine, and waits for it to end.
    pub(crate) fn end_wine(&self) -> Result<(), Error> {
        for order in ["-k", "-w"] {
            let mut server = Command::new(WINE_SERVER);
            server.arg(order);
            self.set_wine(&mut server);
            // The status is ignored: it is a failure if no server runs.
            server.status().map_err(|e| Error::Failed(format!("could not start {WINE_SERVER}: {e}")))?;
        }
        Ok(())
    }

    /// The path of the list of package files that tests read.
    fn package_files(&self) -> PathBuf {
        self.work("package-files.txt")
    }

    /// Writes the list of package files that tests read.
    pub(crate) fn list_package_files(&self) -> Result<(), Error> {
        let mut named = String::new();
        for path in setup::files_of(READ_IN_WINE)? {
            named.push_str(&windows_path(&path).to_string_lossy());
            named.push('\n');
        }
        let list = self.package_files();
        fs::write(&list, named).map_err(|e| Error::path("write", &list, &e))
    }

    fn set_wine(&self, command: &mut Command) {
        command
            .env("WINEPREFIX", self.prefix())
            .env("WINEARCH", "win64")
            .env("WINEDEBUG", "-all")
            // Wine's debugger can end a crashed program with exit code 0, so it must not be available.
            .env("WINEDLLOVERRIDES", "mscoree,mshtml=;winedbg.exe=d")
            .env_remove("DISPLAY")
            .env_remove("WAYLAND_DISPLAY");
    }

    /// Makes Wine's prefix if it is missing, and adds the library that Wine 8 lacks.
    pub(crate) fn make_prefix(&self) -> Result<(), Error> {
        let library = self.prefix().join("drive_c/windows/system32/bcryptprimitives.dll");
        if library.exists() {
            return Ok(());
        }
        let mut boot = Command::new(WINE);
        boot.args(["wineboot", "-i"]);
        self.set_wine(&mut boot);
        step::run(&mut boot)?;
        let mut wait = Command::new(WINE_SERVER);
        wait.arg("-w");
        self.set_wine(&mut wait);
        step::run(&mut wait)?;
        let source = self.work("bcryptprimitives.c");
        fs::write(&source, MISSING_LIBRARY).map_err(|e| Error::path("write", &source, &e))?;
        let mut compile = self.tool("gcc-posix");
        compile.args(["-O2", "-shared", "-o"]).arg(&library).arg(&source).arg("-ladvapi32");
        step::run(&mut compile)
    }
}

/// A path of this computer as seen by a program in Wine.
pub(crate) fn windows_path(path: &Path) -> OsString {
    let mut named = OsString::from("Z:");
    named.push(path.as_os_str().to_string_lossy().replace('/', "\\"));
    named
}

fn check_compiler() -> Result<(), Error> {
    let output = Command::new(RUSTC).arg("--version").output();
    let text = output.map(|o| String::from_utf8_lossy(&o.stdout).into_owned()).unwrap_or_default();
    match minor(&text) {
        Some(minor) if minor >= OLDEST_MINOR => Ok(()),
        _ => Err(Error::Failed(format!(
            "{RUSTC} reports “{}”, but 1.{OLDEST_MINOR} or newer is needed; nothing was built. Install Debian's \
             package rustc-web",
            text.trim()
        ))),
    }
}

/// The minor version in `rustc 1.96.0 (…)`.
fn minor(version: &str) -> Option<u32> {
    let number = version.strip_prefix("rustc 1.")?;
    number.split('.').next()?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_is_named_as_wine_names_it() {
        assert_eq!(windows_path(Path::new("/bell tower/é")), OsString::from("Z:\\bell tower\\é"));
    }

    #[test]
    fn the_compilers_version_is_read() {
        assert_eq!(minor("rustc 1.96.0 (ac68faa20 2026-05-25) (built from a source tarball)"), Some(96));
        assert_eq!(minor(""), None);
        assert_eq!(minor("rustc 2.0.0"), None);
    }
}
