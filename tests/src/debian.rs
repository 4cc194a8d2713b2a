//! Files of Debian packages, read where they lie; nothing of them is kept here.

use std::env;
use std::path::PathBuf;
use std::process::Command;

/// Names a text with the path of every file of the packages, one a line, for a program that cannot ask `dpkg`: one that
/// was built for Windows and runs in Wine.
const LISTED: &str = "PLUMBLINE_PACKAGE_FILES";

/// The file of a package whose path ends with `name`. `None`, in words, where it is not installed and need not be.
///
/// # Panics
/// If the file must be here and is not.
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

/// Says that something of Debian's is not here, which a developer's machine and the public CI's Windows and macOS may do.
///
/// # Panics
/// Where it must be here: where the files were handed over, and in CI on Linux.
#[expect(clippy::print_stdout, reason = "a skipped test must say so")]
pub fn missing(told: &str) {
    let handed_over = env::var_os(LISTED).is_some();
    let proved = cfg!(target_os = "linux") && env::var_os("CI").is_some();
    assert!(!handed_over && !proved, "{told}");
    println!("skipped: {told}");
}
