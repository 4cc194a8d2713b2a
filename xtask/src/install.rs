//! `install`: copies the built plug-ins into this user's plug-in folders; `--remove` removes them.

use crate::bundle::{Format, remove};
use crate::error::{Error, only_flag};
use crate::paths;
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Error> {
    let taking_out = only_flag(rest, "--remove")?;
    let destinations = Format::ALL
        .into_iter()
        .map(|format| Ok((format, folder(format, std::env::consts::OS, |name| std::env::var_os(name))?)))
        .collect::<Result<Vec<_>, Error>>()?;
    if taking_out {
        return destinations.iter().try_for_each(|(format, folder)| take_out(*format, folder));
    }
    let bundled = paths::bundled()?;
    // Both must exist before anything is copied: a half-installed pair is worse than none.
    for format in Format::ALL {
        let built = bundled.join(format.file_name());
        if !built.exists() {
            return Err(Error::Failed(format!(
                "{} is not built yet; run `cargo xtask bundle` first. Nothing was installed",
                built.display()
            )));
        }
    }
    destinations.iter().try_for_each(|(format, folder)| put_in(*format, &bundled, folder))?;
    println!("install: rescan plug-ins in your host.");
    Ok(())
}

fn put_in(format: Format, bundled: &Path, folder: &Path) -> Result<(), Error> {
    let (from, to) = (bundled.join(format.file_name()), folder.join(format.file_name()));
    fs::create_dir_all(folder).map_err(|e| Error::path("make the folder", folder, &e))?;
    let replaced = remove(&to)?;
    copy(&from, &to)?;
    println!("install: {} {}", if replaced { "replaced" } else { "installed" }, to.display());
    Ok(())
}

fn take_out(format: Format, folder: &Path) -> Result<(), Error> {
    let path = folder.join(format.file_name());
    let was_there = remove(&path)?;
    println!("install: {} {}", if was_there { "removed" } else { "was not installed:" }, path.display());
    Ok(())
}

/// Copies a file, or a folder with its contents.
fn copy(from: &Path, to: &Path) -> Result<(), Error> {
    if !from.is_dir() {
        return fs::copy(from, to).map(drop).map_err(|e| Error::path("write", to, &e));
    }
    fs::create_dir_all(to).map_err(|e| Error::path("make the folder", to, &e))?;
    let entries = fs::read_dir(from).map_err(|e| Error::path("read", from, &e))?;
    for entry in entries {
        let entry = entry.map_err(|e| Error::path("read", from, &e))?;
        copy(&entry.path(), &to.join(entry.file_name()))?;
    }
    Ok(())
}

/// The user's own plug-in folder, as the CLAP and VST3 specifications name it for each system.
fn folder(format: Format, os: &str, variable: impl Fn(&str) -> Option<OsString>) -> Result<PathBuf, Error> {
    let base = |name: &str| {
        variable(name).filter(|value| !value.is_empty()).map(PathBuf::from).ok_or_else(|| {
            Error::Failed(format!(
                "the variable {name} is not set, so this user's plug-in folder is unknown; set it. Nothing was done"
            ))
        })
    };
    Ok(match (os, format) {
        ("windows", Format::Clap) => base("LOCALAPPDATA")?.join("Programs").join("Common").join("CLAP"),
        ("windows", Format::Vst3) => base("LOCALAPPDATA")?.join("Programs").join("Common").join("VST3"),
        ("macos", Format::Clap) => base("HOME")?.join("Library/Audio/Plug-Ins/CLAP"),
        ("macos", Format::Vst3) => base("HOME")?.join("Library/Audio/Plug-Ins/VST3"),
        (_, Format::Clap) => base("HOME")?.join(".clap"),
        (_, Format::Vst3) => base("HOME")?.join(".vst3"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_system_has_its_own_folders() {
        let base = |_: &str| Some(OsString::from("base"));
        let path = |format, os| folder(format, os, base).expect("known").to_string_lossy().replace('\\', "/");
        assert_eq!(path(Format::Clap, "linux"), "base/.clap");
        assert_eq!(path(Format::Vst3, "linux"), "base/.vst3");
        assert_eq!(path(Format::Clap, "macos"), "base/Library/Audio/Plug-Ins/CLAP");
        assert_eq!(path(Format::Vst3, "windows"), "base/Programs/Common/VST3");
    }

    #[test]
    fn without_a_home_nothing_is_done_and_the_variable_is_named() {
        for value in [None, Some(OsString::new())] {
            let outcome = folder(Format::Clap, "linux", |_| value.clone());
            assert!(matches!(outcome, Err(Error::Failed(text)) if text.contains("HOME")));
        }
    }

    #[test]
    fn a_bundle_is_copied_with_all_that_is_in_it_and_taken_out_again() {
        let root = tempfile::tempdir().expect("a folder");
        let (bundled, home) = (root.path().join("bundled"), root.path().join("home"));
        let inner = bundled.join("Plumbline.vst3/Contents/x86_64-linux");
        fs::create_dir_all(&inner).expect("made");
        fs::write(inner.join("Plumbline.so"), b"new").expect("written");
        fs::create_dir_all(home.join("Plumbline.vst3/old")).expect("made");

        put_in(Format::Vst3, &bundled, &home).expect("installed");
        let installed = home.join("Plumbline.vst3/Contents/x86_64-linux/Plumbline.so");
        assert_eq!(fs::read(&installed).expect("there"), b"new");
        assert!(!home.join("Plumbline.vst3/old").exists(), "the old bundle must be removed completely");

        take_out(Format::Vst3, &home).expect("removed");
        assert!(!home.join("Plumbline.vst3").exists());
        take_out(Format::Vst3, &home).expect("twice is fine");
    }
}
