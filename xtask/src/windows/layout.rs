//! The release build for Windows, laid out as shipped, and a check of the libraries that it imports.

use super::cross::{Cross, TARGET};
use crate::bundle::{self, BOTH, COMMAND, Format, LIBRARY};
use crate::error::Error;
use crate::step;
use std::fs;
use std::path::{Path, PathBuf};

/// Libraries of every Windows since 10. Users may lack any others.
const SYSTEM: &[&str] = &[
    "advapi32.dll",
    "bcrypt.dll",
    "bcryptprimitives.dll",
    "combase.dll",
    "comctl32.dll",
    "comdlg32.dll",
    "crypt32.dll",
    "dwmapi.dll",
    "gdi32.dll",
    "imm32.dll",
    "kernel32.dll",
    "msvcrt.dll",
    "ntdll.dll",
    "ole32.dll",
    "oleaut32.dll",
    "opengl32.dll",
    "propsys.dll",
    "rpcrt4.dll",
    "secur32.dll",
    "shell32.dll",
    "shlwapi.dll",
    "user32.dll",
    "userenv.dll",
    "uuid.dll",
    "uxtheme.dll",
    "version.dll",
    "winmm.dll",
    "ws2_32.dll",
];
/// The symbols that hosts look up in the library: CLAP's entry, VST3's factory, and VST3's init and exit on Windows.
const EXPORTS: &[&str] = &["clap_entry", "GetPluginFactory", "InitDll", "ExitDll"];

/// Builds, strips, lays out and checks the plug-ins and the command.
pub(crate) fn build(cross: &Cross) -> Result<(), Error> {
    step::run(cross.cargo().args(["build", "--release"]).args(BOTH))?;
    let built = cross.built("release");
    let library = built.join(format!("{LIBRARY}.dll"));
    for format in Format::ALL {
        let bundle = cross.output.join(format.file_name());
        bundle::remove(&bundle)?;
        let to = cross.output.join(format.library_path("windows", "x86_64"));
        strip(cross, &library, &to)?;
        let dump = dump(cross, &to)?;
        only_system(&to, &dump)?;
        let names = exports(&dump);
        if let Some(missing) = EXPORTS.iter().find(|name| !names.contains(*name)) {
            return Err(Error::Failed(format!(
                "{} does not export {missing}; no host would load it",
                to.display()
            )));
        }
        println!("windows: {}", bundle.display());
    }
    let command = cross.output.join(format!("{COMMAND}.exe"));
    strip(cross, &built.join(format!("{COMMAND}.exe")), &command)?;
    only_system(&command, &dump(cross, &command)?)?;
    println!("windows: {}", command.display());
    Ok(())
}

fn strip(cross: &Cross, from: &Path, to: &Path) -> Result<(), Error> {
    if !from.is_file() {
        return Err(Error::Failed(format!("cargo built for {TARGET}, but {} is missing", from.display())));
    }
    let folder = to.parent().map_or_else(PathBuf::new, Path::to_path_buf);
    fs::create_dir_all(&folder).map_err(|e| Error::path("make the folder", &folder, &e))?;
    step::run(cross.tool("strip").arg("-o").arg(to).arg(from))
}

fn dump(cross: &Cross, file: &Path) -> Result<String, Error> {
    let output = cross.tool("objdump").arg("-p").arg(file).output();
    let output = output.map_err(|e| Error::Failed(format!("could not start objdump: {e}")))?;
    if !output.status.success() {
        return Err(Error::Failed(format!("objdump cannot read {}", file.display())));
    }
    Ok(String::from_utf8_lossy(&output.stdout).into_owned())
}

/// Refuses a file that imports a library not part of Windows.
fn only_system(file: &Path, dump: &str) -> Result<(), Error> {
    let imports = imports(dump);
    let foreign: Vec<&str> = imports.iter().copied().filter(|name| !is_system(name)).collect();
    if imports.is_empty() || !foreign.is_empty() {
        return Err(Error::Failed(format!(
            "{} imports {} libraries; not part of Windows: {}",
            file.display(),
            imports.len(),
            if foreign.is_empty() { "none, which cannot be".to_owned() } else { foreign.join(", ") }
        )));
    }
    println!("windows: {} imports {} libraries, all part of Windows", file.display(), imports.len());
    Ok(())
}

/// Whether a library is part of Windows. API sets (`api-ms-win-…`) are names that Windows itself resolves.
fn is_system(name: &str) -> bool {
    let name = name.to_ascii_lowercase();
    name.starts_with("api-ms-win-") || SYSTEM.contains(&name.as_str())
}

fn imports(dump: &str) -> Vec<&str> {
    dump.lines().filter_map(|line| line.trim().strip_prefix("DLL Name: ")).collect()
}

/// The last word of each line of the table of names: `[   0] +base[   1]  0000 clap_entry`.
fn exports(dump: &str) -> Vec<&str> {
    let table = dump.split_once("[Ordinal/Name Pointer] Table").map_or("", |(_, table)| table);
    let lines = table.lines().skip(1).take_while(|line| line.trim_start().starts_with('['));
    lines.filter_map(|line| line.split_whitespace().next_back()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const DUMP: &str = "\tDLL Name: KERNEL32.dll\n\tDLL Name: api-ms-win-core-synch-l1-2-0.dll\n\
        [Ordinal/Name Pointer] Table -- Ordinal Base 1\n\t[   0] +base[   1]  0000 ExitDll\n\
        \t[   1] clap_entry\n\nThe Function Table\n\t[ 9] not_one\n";

    #[test]
    fn a_library_that_windows_does_not_have_is_refused() {
        let file = Path::new("x.dll");
        assert!(only_system(file, DUMP).is_ok());
        let refused = |dump: &str| only_system(file, dump).expect_err("foreign").to_string();
        assert!(refused(&format!("{DUMP}\tDLL Name: libstdc++-6.dll\n")).contains(": libstdc++-6.dll"));
        assert!(refused("").contains("cannot be"));
    }

    #[test]
    fn exported_names_end_with_their_table() {
        assert_eq!(exports(DUMP), ["ExitDll", "clap_entry"]);
        assert_eq!(exports("nothing"), [""; 0]);
    }
}
