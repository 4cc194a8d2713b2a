//! A survey's verdicts on real recordings, none made for this project: the CC0 sounds of 2 s and more in the Debian
//! package `sonic-pi-samples`. A sound designer should agree with each line; read every line that changes.

use crate::report::compare;
use plumbline_audio::{Options, StemFile, Stems};
use plumbline_report::survey::document;
use plumbline_survey::engine::{Plan, survey};
use plumbline_tests::debian;
use std::fmt::Write;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

/// The package with the recordings.
const PACKAGE: &str = "sonic-pi-samples";
/// Shortest recording, seconds.
const LEAST_SECS: f64 = 2.0;

/// The verdicts on one recording; `None` if it is too short.
fn said(path: &Path) -> Option<String> {
    let file = StemFile { path: path.to_owned(), channels: None };
    let stems = Stems::open(&[file], &Options::default()).expect("a file that can be read");
    let plan = Plan { mix: Some(vec![0]), ..Plan::default() };
    let found = survey(stems, &plan, None, &mut |_| ControlFlow::Continue(())).expect("a survey");
    let secs = found.frames as f64 / found.rate.as_f64();
    if secs < LEAST_SECS {
        return None;
    }
    let document = document(&found);
    let name = path.file_stem().unwrap_or_default().to_string_lossy();
    let mut text = format!("{name}, {secs:.1} s\n");
    for verdict in &document.verdicts {
        // A broadcast loudness target does not apply to a sample.
        if verdict.on != "delivery" {
            writeln!(text, "  {} ({}): {}", verdict.on, verdict.state, verdict.sentence).expect("a string");
        }
    }
    for pair in &document.pairs {
        writeln!(text, "  {} and {}: {}", pair.a, pair.b, pair.advice).expect("a string");
    }
    for finding in &document.findings {
        let (from, to) = (finding.start.seconds, finding.end.seconds);
        writeln!(
            text,
            "  {} ({}) {from:.1} to {to:.1} s: {}",
            finding.kind, finding.severity, finding.advice
        )
        .expect("a string");
    }
    Some(text)
}

#[test]
fn of_real_recordings_it_says_what_was_signed() {
    let Some(one) = debian::file(PACKAGE, "ambi_drone.flac") else { return };
    let folder = one.parent().expect("a file is in a folder");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the package's folder")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "flac"))
        .collect();
    paths.sort();
    let all: Vec<String> = paths.iter().filter_map(|path| said(path)).collect();
    assert!(all.len() >= 30, "{} recordings", all.len());
    compare(&Path::new(env!("CARGO_MANIFEST_DIR")).join("golden/recordings.txt"), &all.join("\n"));
}
