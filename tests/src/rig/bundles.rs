//! The paths of the built plug-ins.

use super::RigError;
use std::path::PathBuf;

/// The variable that names the folder with the bundles.
pub const FOLDER_VARIABLE: &str = "PLUMBLINE_BUNDLES";

/// The built CLAP.
///
/// # Errors
/// If the file is missing; the text says what to do.
pub fn clap() -> Result<PathBuf, RigError> {
    find("Plumbline.clap")
}

/// The built VST3.
///
/// # Errors
/// If the file is missing; the text says what to do.
pub fn vst3() -> Result<PathBuf, RigError> {
    find("Plumbline.vst3")
}

/// The library inside the built VST3.
///
/// # Errors
/// If the file is missing; the text says what to do.
pub fn vst3_library() -> Result<PathBuf, RigError> {
    let arch = std::env::consts::ARCH;
    let inside = match std::env::consts::OS {
        "windows" => format!("{}-win/Plumbline.vst3", if arch == "aarch64" { "arm64" } else { arch }),
        "macos" => "MacOS/Plumbline".to_owned(),
        _ => format!("{arch}-linux/Plumbline.so"),
    };
    find(&format!("Plumbline.vst3/Contents/{inside}"))
}

fn find(name: &str) -> Result<PathBuf, RigError> {
    let named = std::env::var_os(FOLDER_VARIABLE).map(PathBuf::from);
    let folders: Vec<PathBuf> = match named {
        Some(folder) => vec![folder],
        // This program and the bundles are under cargo's target folder.
        None => std::env::current_exe()
            .map(|exe| exe.ancestors().map(|folder| folder.join("bundled")).collect())
            .unwrap_or_default(),
    };
    folders.iter().map(|folder| folder.join(name)).find(|path| path.exists()).ok_or_else(|| {
        RigError::new(format!(
            "{name} is neither in {FOLDER_VARIABLE} nor in the target folder's `bundled`; nothing was loaded: \
             run `cargo xtask bundle` first"
        ))
    })
}
