//! The house: who may use whom, who may name the framework, and what stands at the top level.

use std::fs;
use std::path::{Path, PathBuf};

/// Each crate and the crates of ours that it may use. Adding an arrow is a decision: docs/decisions.md.
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

/// What may stand at the top level, beside dotfiles.
const TOP: [&str; 9] =
    ["Cargo.toml", "Cargo.lock", "README.md", "DEVELOPERS.md", "LICENSE", "plugin", "xtask", "tests", "docs"];

fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("tests lie in the workspace").to_owned()
}

/// Names of our crates that a manifest mentions as dependencies.
fn uses(manifest: &str) -> Vec<String> {
    let dependencies = manifest.lines().skip_while(|line| !line.starts_with("[dependencies]"));
    let named = dependencies.filter_map(|line| line.trim().strip_prefix("plumbline-"));
    named.map(|rest| rest.chars().take_while(char::is_ascii_alphanumeric).collect()).collect()
}

#[test]
fn no_arrow_is_added_between_the_crates() {
    let mut arrows = 0;
    for (folder, may) in ARROWS {
        let manifest = fs::read_to_string(top().join(folder).join("Cargo.toml")).expect("each crate has one");
        for used in uses(&manifest) {
            assert!(may.contains(&used.as_str()), "{folder} uses {used}, which the house does not allow");
            arrows += 1;
        }
    }
    assert!(arrows >= 5, "only {arrows} arrows were found: the manifests were not read");
    let tests = fs::read_to_string(top().join("tests/Cargo.toml")).expect("ours");
    assert!(!uses(&tests).contains(&"shell".to_owned()), "nothing uses shell, the tests neither");
}

#[test]
fn only_the_shell_names_the_framework() {
    let mut files = 0;
    for folder in ["measure", "programme", "live", "report", "screen", "audio", "scene", "survey"] {
        for file in sources(&top().join("plugin").join(folder).join("src")) {
            let text = fs::read_to_string(&file).expect("our own source");
            for name in ["nice_plug", "clap_wrapper", "baseview"] {
                assert!(!text.contains(name), "{} names {name}", file.display());
            }
            files += 1;
        }
    }
    assert!(files > 40, "only {files} files were read");
}

#[test]
fn arithmetic_and_report_know_no_clock_thread_or_file() {
    let mut files = 0;
    for folder in ["plugin/measure/src", "plugin/programme/src", "plugin/report/src"] {
        for file in sources(&top().join(folder)) {
            let text = fs::read_to_string(&file).expect("our own source");
            for name in ["std::time", "std::thread", "std::fs", "std::net", "std::env", "unsafe {"] {
                assert!(!text.contains(name), "{} names {name}", file.display());
            }
            files += 1;
        }
    }
    assert!(files >= 25, "only {files} files were read");
}

#[test]
fn the_top_level_stays_as_designed() {
    let mut seen = 0;
    for entry in fs::read_dir(top()).expect("the workspace").flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        if name.starts_with('.') || name == "target" {
            continue;
        }
        assert!(TOP.contains(&name.as_str()), "{name} stands at the top level");
        seen += 1;
    }
    assert!(seen >= 8, "only {seen} entries were seen");
}

fn sources(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).expect("a source folder").flatten() {
        let path = entry.path();
        if path.is_dir() {
            found.extend(sources(&path));
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
    found
}
