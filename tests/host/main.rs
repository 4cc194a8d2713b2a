//! The plug-ins built by `cargo xtask bundle`, loaded as by a user's host.
//!
//! Each case runs in a separate process, so that a plug-in that crashes its host ends one case, and its output can be
//! checked. Nothing here uses the plug-in's code; the ids below are those in users' projects.
#![expect(clippy::unwrap_used, reason = "a step that fails ends its case, with the words of the rig's error")]

mod audio;
mod editor;
mod editor_in_wine;
mod editor_windows;
mod host_behaviours;
mod hostile_host;
mod identity;
mod layers;
mod layers_processes;
mod lifecycle;
mod measuring;
mod mics;
mod parameters;
mod session_rig;
mod signals;
mod state;
mod survey;
mod time;
mod trial;
mod vst3_host_behaviours;
mod watched;

use plumbline_tests::rig::child::Finished;
use std::io::Write;

/// The id of the stereo class, which is in projects and never changes.
const STEREO: &str = "plumbline.analyser.stereo";
/// The id of the mono class, which is in projects and never changes.
const MONO: &str = "plumbline.analyser.mono";
/// Sample rates of hosts.
const RATES_HZ: [f64; 4] = [44_100.0, 48_000.0, 96_000.0, 192_000.0];
/// Largest blocks of hosts, including odd ones.
const BLOCKS: [usize; 6] = [1, 32, 64, 511, 512, 4_096];

/// The start of the one line that the VST3 wrapper prints to stderr for each instance at any log level.
const WRAPPERS_LINE: &str = "AUDIO in: ";

/// Asserts that the plug-in printed nothing to its host's output: only lines of the test harness, and the
/// [`WRAPPERS_LINE`], are allowed.
fn assert_quiet(child: &Finished) {
    let foreign: Vec<&str> = child
        .stdout
        .lines()
        .filter(|line| {
            let harness = ["running ", "test ", "test result:"];
            !line.trim().is_empty() && !harness.iter().any(|start| line.starts_with(start))
        })
        .collect();
    assert!(foreign.is_empty(), "printed to the host's output: {foreign:#?}");
    let errors: Vec<&str> = child
        .stderr
        .lines()
        .filter(|line| !line.trim().is_empty() && !line.trim().starts_with(WRAPPERS_LINE))
        .collect();
    assert!(errors.is_empty(), "printed to the host's errors: {errors:#?}");
}

/// The output of a child without the messages of its test.
fn without_words(finished: &Finished) -> Finished {
    // The harness prints its `ok` on a separate line after messages.
    let said = |line: &&str| !line.contains(plumbline_tests::rig::child::MARK) && *line != "ok";
    let stdout = finished.stdout.lines().filter(said).fold(String::new(), |all, line| all + line + "\n");
    Finished { stdout, stderr: finished.stderr.clone() }
}

/// Prints those messages of a child's test that are `wanted`.
#[expect(clippy::explicit_write, reason = "`println!` would be caught by the harness")]
fn show_words(finished: &Finished, wanted: impl Fn(&str) -> bool) {
    let said = finished.stdout.lines().filter_map(|line| line.split_once(plumbline_tests::rig::child::MARK));
    for word in said.map(|(_, word)| word).filter(|word| wanted(word)) {
        // Bypasses the harness, which shows output only of failed tests.
        writeln!(std::io::stdout(), "{word}").unwrap();
    }
}
