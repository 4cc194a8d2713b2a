//! Paths: the project, the build folder, the bundles.

use crate::error::Error;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::Command;

/// The top folder of the project.
pub(crate) fn project() -> PathBuf {
    // Cargo sets the variable when it runs this program. Without cargo, the build-time value is used.
    let manifest =
        std::env::var_os("CARGO_MANIFEST_DIR").unwrap_or_else(|| OsString::from(env!("CARGO_MANIFEST_DIR")));
    let manifest = PathBuf::from(manifest);
    manifest.parent().map_or(manifest.clone(), Path::to_path_buf)
}

/// The `cargo` that runs this program, in the project's folder.
pub(crate) fn cargo() -> Command {
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| OsString::from("cargo")));
    command.current_dir(project());
    if let Some(target) = std::env::var_os("CARGO_TARGET_DIR") {
        // A relative path is relative to the user's working directory, not to the project.
        let absolute = std::path::absolute(PathBuf::from(&target)).unwrap_or_else(|_| PathBuf::from(target));
        command.env("CARGO_TARGET_DIR", absolute);
    }
    command
}

/// The build folder as Cargo determines it: from the variable, the configuration, or `target`.
pub(crate) fn target() -> Result<PathBuf, Error> {
    let output = cargo()
        .args(["metadata", "--format-version", "1", "--no-deps", "--offline"])
        .output()
        .map_err(|e| Error::Failed(format!("could not run cargo: {e}. Install Rust with rustup.")))?;
    let text = String::from_utf8_lossy(&output.stdout);
    json_string(&text, "target_directory").map(PathBuf::from).ok_or_else(|| {
        Error::Failed(format!(
            "cargo did not report its build folder: {}",
            String::from_utf8_lossy(&output.stderr).trim()
        ))
    })
}

/// The folder of the finished plug-ins.
pub(crate) fn bundled() -> Result<PathBuf, Error> {
    Ok(target()?.join("bundled"))
}

/// The last string value of `key` in a JSON text: enough for one known key, without a dependency.
pub(crate) fn json_string(text: &str, key: &str) -> Option<String> {
    let start = text.rfind(&format!("\"{key}\":\""))? + key.len() + 4;
    let mut value = String::new();
    let mut chars = text[start..].chars();
    loop {
        match chars.next()? {
            '"' => return Some(value),
            '\\' => match chars.next()? {
                'u' => {
                    let code: String = chars.by_ref().take(4).collect();
                    value.push(char::from_u32(u32::from_str_radix(&code, 16).ok()?)?);
                }
                plain => value.push(plain),
            },
            plain => value.push(plain),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::json_string;

    #[test]
    fn a_json_string_is_read_with_its_escapes() {
        let text = r#"{"a":1,"target_directory":"C:\\work\\\u00e9 \"x\"","b":"y"}"#;
        assert_eq!(json_string(text, "target_directory").as_deref(), Some("C:\\work\\é \"x\""));
        assert_eq!(json_string(text, "missing"), None);
        assert_eq!(json_string(r#"{"target_directory":"cut"#, "target_directory"), None);
    }
}
