//! The rules of docs/architecture.md: dependencies between crates, imports between files, and what must be absent.

mod circles;
mod crates;
mod files;
mod imports;
mod modules;
mod syntax;

use std::path::{Path, PathBuf};

/// Each crate, and our crates that it may use. A new arrow is a decision: docs/decisions.md.
const ARROWS: [(&str, &[&str]); 10] = [
    ("plugin/measure", &[]),
    ("plugin/programme", &["measure"]),
    ("plugin/live", &["measure", "programme"]),
    ("plugin/report", &["measure", "programme"]),
    ("plugin/screen", &["measure", "programme", "report"]),
    ("plugin/shell", &["measure", "programme", "live", "report", "screen"]),
    ("plugin/audio", &[]),
    ("plugin/scene", &["programme"]),
    ("plugin/survey", &["audio", "measure", "programme", "report", "scene"]),
    ("xtask", &[]),
];

/// The project's folder.
fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("tests are in the workspace").to_owned()
}

/// All Rust files of a folder and its subfolders.
fn sources(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a source folder").flatten() {
        let path = entry.path();
        if path.is_dir() {
            found.extend(sources(&path));
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
    found
}
