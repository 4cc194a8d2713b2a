//! Dependencies between crates, the crate that may name the framework, and the entries of the top level.

use super::{ARROWS, sources, top};
use std::fs;

/// The top level without dotfiles.
const TOP: [&str; 9] =
    ["Cargo.toml", "Cargo.lock", "README.md", "DEVELOPERS.md", "LICENSE", "plugin", "xtask", "tests", "docs"];

/// Our crates among a manifest's dependencies.
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
            assert!(
                may.contains(&used.as_str()),
                "{folder} uses {used}, which the architecture does not allow"
            );
            arrows += 1;
        }
    }
    assert!(arrows >= 5, "only {arrows} arrows were found: the manifests were not read");
    let tests = fs::read_to_string(top().join("tests/Cargo.toml")).expect("ours");
    assert!(!uses(&tests).contains(&"shell".to_owned()), "nothing uses shell, not even the tests");
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
        assert!(TOP.contains(&name.as_str()), "{name} is at the top level");
        seen += 1;
    }
    assert!(seen >= 8, "only {seen} entries were seen");
}
