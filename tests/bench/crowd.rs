//! A hundred layers in one process, in real time, through the real worker.

use crate::{Line, noise};
use plumbline_live::{Format, Layer, Stamp};
use std::time::{Duration, Instant};

const LAYERS: usize = 100;
const SECS: usize = 6;
const BLOCK: usize = 480;

pub(crate) fn run() -> Line {
    let [left, right] = noise(SECS);
    let layers: Vec<_> = (0..LAYERS).map(|_| Layer::join()).collect();
    let format = Format { rate_hz: 48_000.0, channels: 2, side_channels: 0, offline: false };
    let mut taps: Vec<_> = layers.iter().map(|l| l.open(format).expect("48 kHz is measured")).collect();
    // The first blocks make the worker allocate and plan; that is once, not per second.
    std::thread::sleep(Duration::from_millis(300));
    let mut before = None;
    let start = Instant::now();
    for at in (0..left.len()).step_by(BLOCK) {
        let song = i64::try_from(at).expect("short");
        for tap in &mut taps {
            let block = [&left[at..at + BLOCK], &right[at..at + BLOCK]];
            tap.push(Stamp { song: Some(song), playing: true }, &block, &[]);
        }
        let due = Duration::from_secs_f64((at + BLOCK) as f64 / 48_000.0);
        std::thread::sleep(due.saturating_sub(start.elapsed()));
        if before.is_none() && due >= Duration::from_secs(1) {
            before = Some((worker_nanos(), start.elapsed()));
        }
    }
    let (nanos_before, from) = before.expect("more than a second was played");
    let spent = (worker_nanos() - nanos_before) as f64 / 1e9;
    let lasted = (start.elapsed() - from).as_secs_f64();
    drop(taps);
    let heard: usize = layers.iter().map(|l| l.with_history(|h| h.len())).sum();
    assert!(heard >= LAYERS * (10 * SECS - 8), "only {heard} tenths were measured");
    let share = spent / lasted * 100.0;
    Line {
        what: "100 stereo layers in one process",
        bound: "one core",
        found: share,
        budget: 60.0,
        unit: "%",
        behind: format!("worker's processor time over {lasted:.1} s of real time"),
    }
}

/// Processor time of the worker's thread so far, from the kernel.
fn worker_nanos() -> u64 {
    let tasks = std::fs::read_dir("/proc/self/task").expect("Linux: the bench reads thread times from /proc");
    for task in tasks.flatten() {
        let name = std::fs::read_to_string(task.path().join("comm")).unwrap_or_default();
        if name.trim() == "plumbline" {
            let stat = std::fs::read_to_string(task.path().join("schedstat")).unwrap_or_default();
            return stat
                .split(' ')
                .next()
                .and_then(|n| n.parse().ok())
                .expect("schedstat starts with nanoseconds");
        }
    }
    panic!("the worker's thread is not there")
}
