//! `bundle`: builds the plug-in, lays it out as each format and system requires, and builds the command-line program.

use crate::error::{Error, only_flag};
use crate::{paths, step};
use std::fs;
use std::path::{Path, PathBuf};

/// The name of the plug-in files.
const NAME: &str = "Plumbline";
/// The package of the plug-in.
const PACKAGE: &str = "plumbline-shell";
pub(crate) const LIBRARY: &str = "plumbline_shell";
/// The package of the command.
const COMMAND_PACKAGE: &str = "plumbline-survey";
pub(crate) const COMMAND: &str = "plumbline";
/// Cargo's arguments to build both at once, so that shared crates are built once. In separate builds, optimisation
/// across crates would build them twice.
pub(crate) const BOTH: [&str; 7] =
    ["--package", PACKAGE, "--lib", "--package", COMMAND_PACKAGE, "--bin", COMMAND];
/// The start of the bundle identifiers for macOS; the format's ending follows.
const IDENTIFIER: &str = "org.plumbline.plumbline";

/// A plug-in format.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Format {
    Clap,
    Vst3,
}

impl Format {
    pub(crate) const ALL: [Self; 2] = [Self::Clap, Self::Vst3];

    fn ending(self) -> &'static str {
        match self {
            Self::Clap => "clap",
            Self::Vst3 => "vst3",
        }
    }

    /// The name in a plug-in folder: `Plumbline.clap` or `Plumbline.vst3`.
    pub(crate) fn file_name(self) -> String {
        format!("{NAME}.{}", self.ending())
    }

    /// The path of the library, relative to the folder of the bundles.
    pub(crate) fn library_path(self, os: &str, arch: &str) -> PathBuf {
        let bundle = PathBuf::from(self.file_name());
        match (self, os) {
            (_, "macos") => bundle.join("Contents/MacOS").join(NAME),
            (Self::Clap, _) => bundle,
            (Self::Vst3, "windows") => {
                bundle.join("Contents").join(format!("{}-win", vst3_arch(arch))).join(self.file_name())
            }
            (Self::Vst3, _) => {
                bundle.join("Contents").join(format!("{arch}-linux")).join(format!("{NAME}.so"))
            }
        }
    }
}

/// The processor in VST3's folder names, which are the platform's own.
fn vst3_arch(arch: &str) -> &str {
    match arch {
        "aarch64" => "arm64",
        other => other,
    }
}

/// Runs the command.
pub(crate) fn run(rest: &[String]) -> Result<(), Error> {
    bundle(only_flag(rest, "--debug")?)
}

/// Builds and lays out both formats, and builds the command-line program.
pub(crate) fn bundle(debug: bool) -> Result<(), Error> {
    let mut build = paths::cargo();
    build.arg("build").args(BOTH);
    if !debug {
        build.arg("--release");
    }
    step::run(&mut build)?;

    let target = paths::target()?;
    let profile = target.join(if debug { "debug" } else { "release" });
    let built =
        profile.join(format!("{}{LIBRARY}{}", std::env::consts::DLL_PREFIX, std::env::consts::DLL_SUFFIX));
    if !built.is_file() {
        return Err(Error::Failed(format!(
            "cargo built {PACKAGE}, but {} is missing; is its crate type still cdylib?",
            built.display()
        )));
    }
    for format in Format::ALL {
        let laid = lay_out(format, &built, &target.join("bundled"))?;
        println!("bundle: {}", laid.display());
    }
    let command = profile.join(format!("{COMMAND}{}", std::env::consts::EXE_SUFFIX));
    if !command.is_file() {
        return Err(Error::Failed(format!(
            "cargo built {COMMAND_PACKAGE}, but {} is missing; is its program still called {COMMAND}?",
            command.display()
        )));
    }
    println!("bundle: {}", command.display());
    Ok(())
}

pub(crate) fn lay_out(format: Format, built: &Path, bundled: &Path) -> Result<PathBuf, Error> {
    let bundle = bundled.join(format.file_name());
    remove(&bundle)?;
    let library = bundled.join(format.library_path(std::env::consts::OS, std::env::consts::ARCH));
    let folder = library.parent().unwrap_or(bundled);
    fs::create_dir_all(folder).map_err(|e| Error::path("make the folder", folder, &e))?;
    fs::copy(built, &library).map_err(|e| Error::path("write", &library, &e))?;
    if cfg!(target_os = "macos") {
        let contents = bundle.join("Contents");
        for (name, text) in [("Info.plist", info_plist(format)), ("PkgInfo", "BNDL????".to_owned())] {
            let path = contents.join(name);
            fs::write(&path, text).map_err(|e| Error::path("write", &path, &e))?;
        }
    }
    Ok(bundle)
}

/// Removes a file or folder. False if there is none.
pub(crate) fn remove(path: &Path) -> Result<bool, Error> {
    let outcome = match fs::symlink_metadata(path) {
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(false),
        Err(e) => Err(e),
        Ok(meta) if meta.is_dir() => fs::remove_dir_all(path),
        Ok(_) => fs::remove_file(path),
    };
    outcome.map(|()| true).map_err(|e| Error::path("remove", path, &e))
}

/// The `Info.plist` of a bundle on macOS.
fn info_plist(format: Format) -> String {
    let version = env!("CARGO_PKG_VERSION");
    let ending = format.ending();
    format!(
        r#"<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd">
<plist version="1.0">
<dict>
  <key>CFBundleExecutable</key><string>{NAME}</string>
  <key>CFBundleIdentifier</key><string>{IDENTIFIER}.{ending}</string>
  <key>CFBundleName</key><string>{NAME}</string>
  <key>CFBundleDisplayName</key><string>{NAME}</string>
  <key>CFBundlePackageType</key><string>BNDL</string>
  <key>CFBundleSignature</key><string>????</string>
  <key>CFBundleShortVersionString</key><string>{version}</string>
  <key>CFBundleVersion</key><string>{version}</string>
  <key>NSHighResolutionCapable</key><true/>
</dict>
</plist>
"#
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_system_gets_its_own_layout() {
        let path =
            |format: Format, os, arch| format.library_path(os, arch).to_string_lossy().replace('\\', "/");
        assert_eq!(path(Format::Clap, "linux", "x86_64"), "Plumbline.clap");
        assert_eq!(path(Format::Clap, "windows", "x86_64"), "Plumbline.clap");
        assert_eq!(
            path(Format::Vst3, "linux", "x86_64"),
            "Plumbline.vst3/Contents/x86_64-linux/Plumbline.so"
        );
        assert_eq!(
            path(Format::Vst3, "windows", "x86_64"),
            "Plumbline.vst3/Contents/x86_64-win/Plumbline.vst3"
        );
        assert_eq!(
            path(Format::Vst3, "windows", "aarch64"),
            "Plumbline.vst3/Contents/arm64-win/Plumbline.vst3"
        );
        for format in Format::ALL {
            let library = path(format, "macos", "aarch64");
            assert!(library.ends_with("Contents/MacOS/Plumbline"), "{library}");
            assert!(info_plist(format).contains(&format!("{IDENTIFIER}.{}", format.ending())));
        }
    }
}
