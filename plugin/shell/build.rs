//! Links the VST3 wrapper's C++ statically into a Windows library built with mingw-w64, so that it depends only on
//! libraries that come with Windows. Other targets are linked as usual.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::{env, fs};

/// The compiler's name of a library, and the name under which the linker must find it first.
const STATIC: [(&str, &str); 4] = [
    // The wrapper asks for -lShell32, and a case-sensitive file system has no libshell32.a by that name.
    ("libshell32.a", "libShell32.a"),
    // Only static forms of these are in the folder that is searched first.
    ("libstdc++.a", "libstdc++.a"),
    ("libwinpthread.a", "libwinpthread.a"),
    ("libpthread.a", "libpthread.a"),
];

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    if variable("TARGET") != "x86_64-pc-windows-gnu" {
        return;
    }
    println!("cargo:rerun-if-env-changed=CXX_x86_64_pc_windows_gnu");
    let compiler =
        env::var("CXX_x86_64_pc_windows_gnu").unwrap_or_else(|_| "x86_64-w64-mingw32-g++".to_owned());
    let folder = PathBuf::from(variable("OUT_DIR"));
    for (named, wanted) in STATIC {
        // File names on Windows are not case-sensitive, so there the compiler finds the libraries without this.
        if let Err(why) = lay(&compiler, named, &folder.join(wanted)) {
            println!("cargo:warning={named}: {why}; if linking fails, this is why");
        }
    }
    println!("cargo:rustc-link-search=native={}", folder.display());
    println!("cargo:rustc-cdylib-link-arg=-static-libgcc");
    // FOLDERID_* for the wrapper's search for plug-ins.
    println!("cargo:rustc-cdylib-link-arg=-luuid");
}

fn variable(name: &str) -> String {
    env::var(name).unwrap_or_default()
}

/// Copies a library of the compiler into the folder that is searched first.
fn lay(compiler: &str, named: &str, to: &Path) -> Result<(), String> {
    let output = Command::new(compiler)
        .arg(format!("-print-file-name={named}"))
        .output()
        .map_err(|error| format!("{compiler} could not be asked where it is ({error})"))?;
    let found = PathBuf::from(String::from_utf8_lossy(&output.stdout).trim());
    if !found.is_file() {
        return Err(format!("{compiler} has none"));
    }
    fs::copy(&found, to).map(drop).map_err(|error| format!("could not be copied ({error})"))
}
