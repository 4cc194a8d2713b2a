//! Ctrl-C during a survey.
#![cfg(unix)]

use crate::files::{long_silence, tone, wav};
use crate::rig::{Ran, TempDir, plumbline, run};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Five hours, which no computer finishes before the signal.
const LONG_SECS: u32 = 18_000;
/// The longest wait of a test, so that a hang does not hang the suite.
const PATIENCE: Duration = Duration::from_secs(120);

/// Starts a long survey, and waits until `at_work` is true.
fn at_work(folder: &TempDir, words: &[&str], at_work: impl Fn(&TempDir) -> bool) -> Child {
    let child = plumbline()
        .args(words)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the command starts");
    let start = Instant::now();
    while !at_work(folder) {
        assert!(start.elapsed() < PATIENCE, "the survey did not begin");
        std::thread::sleep(Duration::from_millis(10));
    }
    child
}

/// Waits until the command handles SIGINT: an earlier signal would kill it.
fn listening(child: &Child) {
    /// SIGINT's bit in `SigCgt` of Linux's proc(5).
    const INT: u64 = 1 << 1;
    let start = Instant::now();
    loop {
        let status = std::fs::read_to_string(format!("/proc/{}/status", child.id()));
        // If the system does not show this, wait much longer than it takes.
        let Ok(status) = status else { return std::thread::sleep(Duration::from_millis(1_500)) };
        let caught = status.lines().find_map(|line| line.strip_prefix("SigCgt:"));
        let caught = caught.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).unwrap_or(0);
        if caught & INT != 0 {
            return;
        }
        assert!(start.elapsed() < PATIENCE, "it did not start to handle SIGINT");
        std::thread::sleep(Duration::from_millis(5));
    }
}

fn signal(child: &Child, name: &str) {
    let sent = Command::new("kill").args([&format!("-{name}"), &child.id().to_string()]).status();
    assert!(sent.expect("kill is there").success());
}

/// Waits for the end.
fn end(mut child: Child) -> Ran {
    let start = Instant::now();
    while child.try_wait().expect("a child").is_none() {
        if start.elapsed() > PATIENCE {
            let _ = child.kill();
            panic!("the signal had no effect");
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    Ran::of(child.wait_with_output().expect("a child"))
}

#[test]
fn nothing_half_is_left() {
    let folder = TempDir::new();
    let mix = folder.word("mix.wav");
    long_silence(&folder.path("mix.wav"), LONG_SECS);
    let out = folder.word("out");
    let words = ["survey", "--mix", &mix, "--out", &out, "--tenths"];
    let mut stopped = 0;
    for name in ["INT", "TERM", "HUP"] {
        let child = at_work(&folder, &words, |folder| folder.names("").len() > 1);
        signal(&child, name);
        let ran = end(child).ended_with(130);
        ran.said_in_one_line(&["stopped", "no report"]);
        assert_eq!(folder.names(""), ["mix.wav"], "after {name}");
        stopped += 1;
    }
    assert_eq!(stopped, 3);
}

#[test]
fn an_earlier_report_stays() {
    let folder = TempDir::new();
    let short = folder.file("short.wav", &wav(&[tone(997.0, 48_000, 0.1)]));
    let out = folder.word("out");
    run(["survey", "--mix", &short, "--out", &out]).ended_with(0);
    let (names, report) = (folder.names("out"), folder.text("out/report.json"));
    let mix = folder.word("mix.wav");
    long_silence(&folder.path("mix.wav"), LONG_SECS);
    let words = ["survey", "--mix", &mix, "--out", &out, "--replace", "--quiet"];
    let child = at_work(&folder, &words, |folder| folder.names("out").len() > names.len());
    signal(&child, "INT");
    end(child).ended_with(130);
    assert_eq!((folder.names("out"), folder.text("out/report.json")), (names, report));
}

#[test]
fn microphones_too_can_be_stopped() {
    let folder = TempDir::new();
    let (a, b) = (folder.word("a.wav"), folder.word("b.wav"));
    for name in ["a.wav", "b.wav"] {
        long_silence(&folder.path(name), LONG_SECS);
    }
    let child = at_work(&folder, &["mics", &a, &b], |_| true);
    listening(&child);
    signal(&child, "INT");
    end(child).ended_with(130).said_in_one_line(&["stopped"]);
}
