//! Stdout and stderr: as pipes, as terminals, and closed.

use crate::files::{noise, wav};
use crate::rig::{TempDir, json, plumbline, run};
use std::process::Stdio;

fn mix(folder: &TempDir) -> String {
    let side = |seed| noise(seed, 2 * 48_000, 0.1);
    folder.file("mix.wav", &wav(&[side(1), side(2)]))
}

#[test]
fn json_is_all_that_is_on_stdout() {
    let folder = TempDir::new();
    let mix = mix(&folder);
    let ran = run(["survey", "--mix", &mix, "--json", "-", "--out", &folder.word("out")]).ended_with(0);
    assert_eq!(ran.stdout, folder.text("out/report.json"), "the same bytes");
    assert_eq!(json(&ran.stdout)["format"], "plumbline-survey");
    assert!(ran.stderr.contains("findings") && ran.stderr.contains("report.html"), "{}", ran.stderr);
    let quiet = run(["survey", "--mix", &mix, "--json", "-", "--quiet"]).ended_with(0);
    assert!(quiet.stderr.is_empty() && json(&quiet.stdout)["bus"].is_object());
    assert_eq!(folder.names(""), ["mix.wav", "out"], "no folder but the one asked for");
}

#[cfg(unix)]
#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let folder = TempDir::new();
    let mix = mix(&folder);
    let mut rounds = 0;
    for words in [
        &["survey", "--mix", &mix, "--json", "-"][..],
        &["survey", "--mix", &mix, "--out", &folder.word("out")],
        &["completions", "bash"],
        &["man"],
        &["--help"],
    ] {
        let mut child = plumbline()
            .args(words)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the command starts");
        drop(child.stdout.take());
        let output = child.wait_with_output().expect("a child");
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(0), "{words:?}: {said}");
        assert!(!said.contains("panicked") && !said.contains("Broken pipe"), "{words:?}: {said}");
        rounds += 1;
    }
    assert_eq!(rounds, 5);
    assert!(folder.path("out/report.json").is_file(), "the report is written, also without a reader");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_place_behind_stdout_is_told() {
    let folder = TempDir::new();
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").expect("Linux has it");
    let ran =
        plumbline().args(["survey", "--mix", &mix(&folder), "--json", "-", "--quiet"]).stdout(full).output();
    let ran = crate::rig::Ran::of(ran.expect("the command starts")).ended_with(4);
    ran.said_in_one_line(&["standard output"]);
}

/// A terminal shows a bar with the time left; `script` provides the terminal.
#[cfg(target_os = "linux")]
#[test]
fn a_terminal_sees_a_bar_with_the_time_left_and_keeps_none_of_it() {
    let Some(script) = crate::rig::program("script") else {
        return crate::rig::did_not_run("there is no `script` to give it a terminal");
    };
    let folder = TempDir::new();
    let path = folder.path("long.wav");
    crate::files::long_silence(&path, 300);
    let line = format!(
        "{} survey --mix {} --out {}",
        plumbline().get_program().to_str().expect("a plain path"),
        folder.word("long.wav"),
        folder.word("out")
    );
    let seen = |line: &str| {
        let run = std::process::Command::new(&script)
            .args(["-qec", line, "/dev/null"])
            .stdin(Stdio::null())
            .output();
        let run = run.expect("script starts");
        assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stdout));
        String::from_utf8_lossy(&run.stdout).into_owned()
    };
    let moving = seen(&line);
    assert!(moving.contains(" left") && moving.contains(" %"), "{moving}");
    assert!(moving.trim_end().ends_with("report.html"), "{moving}");
    let quiet = seen(&format!("{line} --replace --quiet"));
    assert_eq!(quiet, "");
}
