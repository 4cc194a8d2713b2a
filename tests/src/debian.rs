//! Files of Debian packages, read where they are installed; none is copied into this project.

use std::env;
use std::path::PathBuf;
use std::process::Command;

/// The variable that names a list of the packages' files, one path per line, for programs that cannot ask `dpkg`: those
/// built for Windows that run in Wine.
const LISTED: &str = "PLUMBLINE_PACKAGE_FILES";

/// The file of a package whose path ends with `name`. If it is missing and optional, prints that and returns `None`.
///
/// # Panics
/// If a required file is missing.
pub fn file(package: &str, name: &str) -> Option<PathBuf> {
    let found = files(package).lines().map(PathBuf::from).find(|path| path.ends_with(name) && path.is_file());
    if found.is_none() {
        missing(&format!(
            "{name}: the Debian package {package} is not installed; `apt install {package}` gets it"
        ));
    }
    found
}

fn files(package: &str) -> String {
    if let Some(listed) = env::var_os(LISTED) {
        return std::fs::read_to_string(&listed).unwrap_or_else(|e| panic!("{}: {e}", listed.display()));
    }
    let told = Command::new("dpkg").args(["-L", package]).output();
    told.map(|out| String::from_utf8_lossy(&out.stdout).into_owned()).unwrap_or_default()
}

/// Reports that a Debian package or file is missing, which is allowed on a developer's machine and in the public CI on
/// Windows and macOS.
///
/// # Panics
/// If it is required: with a list of files, and in CI on Linux.
#[expect(clippy::print_stdout, reason = "a skipped test must say so")]
pub fn missing(told: &str) {
    let handed_over = env::var_os(LISTED).is_some();
    let proved = cfg!(target_os = "linux") && env::var_os("CI").is_some();
    assert!(!handed_over && !proved, "{told}");
    println!("skipped: {told}");
}
