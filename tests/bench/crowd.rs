//! Many layers in one process, in real time, through the real worker.

use crate::{Line, noise};
use plumbline_live::{Format, Layer, Stamp};
use plumbline_programme::{Identity, Role};
use std::time::{Duration, Instant};

const SECS: usize = 6;
const BLOCK: usize = 480;

/// The cost of many layers.
pub(crate) struct Cost {
    /// Share of one core used by the worker, 0…1.
    pub(crate) share: f64,
    /// The measured time, seconds.
    pub(crate) secs: f64,
    /// Layers in the mix's session at the end, including the mix.
    pub(crate) heard: usize,
}

/// A hundred layers in one process, all in one session.
pub(crate) fn run() -> Line {
    let cost = spent(100);
    Line {
        what: "100 stereo layers in one process",
        bound: "one core",
        found: cost.share * 100.0,
        budget: 60.0,
        unit: "%",
        behind: format!(
            "worker's processor time over {:.1} s of real time; the mix, which is looked at, counts {} layers",
            cost.secs, cost.heard
        ),
    }
}

/// Plays `count` layers for a while; one of them is a watched mix.
pub(crate) fn spent(count: usize) -> Cost {
    let [left, right] = noise(SECS);
    let layers: Vec<_> = (0..count).map(|_| Layer::join()).collect();
    for (number, layer) in layers.iter().enumerate() {
        let role = if number == 0 { Role::Mix } else { Role::PARTS[number % Role::PARTS.len()] };
        layer.change(|settings| {
            settings.identity = Identity { name: format!("layer {number}"), role, colour: None }
        });
    }
    layers[0].change(|settings| settings.watched = true);
    let format = Format { rate_hz: 48_000.0, channels: 2, side_channels: 0, offline: false };
    let mut taps: Vec<_> = layers.iter().map(|l| l.open(format).expect("48 kHz is measured")).collect();
    // During the first blocks the worker allocates and plans, once.
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
    let secs = (start.elapsed() - from).as_secs_f64();
    drop(taps);
    let tenths: usize = layers.iter().map(|l| l.with_history(|h| h.len())).sum();
    assert!(tenths >= count * (10 * SECS - 8), "only {tenths} tenths were measured");
    Cost { share: spent / secs, secs, heard: layers[0].view().session.layers.len() }
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
    panic!("there is no worker thread")
}
