//! The audio thread: the cost of a block against copying it.

use crate::{Line, median, noise};
use plumbline_live::{Format, Layer, Stamp};
use std::hint::black_box;
use std::time::Instant;

/// A chunk in the queue: 64 frames of two channels, and the size of its tag.
#[derive(Clone, Copy)]
struct Bare {
    samples: [[f32; 64]; 2],
    tag: [u64; 4],
}

const BLOCK: usize = 512;

pub(crate) fn run() -> Line {
    let [left, right] = noise(2);
    let layer = Layer::join();
    let format = Format { rate_hz: 48_000.0, channels: 2, side_channels: 0, offline: false };
    let mut tap = layer.open(format).expect("48 kHz is measured");
    let mut ring = vec![Bare { samples: [[0.0; 64]; 2], tag: [0; 4] }; 3_000];
    let (mut ours, mut bare) = (Vec::new(), Vec::new());
    let mut song = 0;
    for _ in 0..12 {
        let start = Instant::now();
        for at in (0..left.len()).step_by(BLOCK) {
            let end = (at + BLOCK).min(left.len());
            tap.push(Stamp { song: Some(song), playing: true }, &[&left[at..end], &right[at..end]], &[]);
            song += i64::try_from(end - at).expect("short");
        }
        ours.push(start.elapsed().as_secs_f64() / left.len() as f64);
        // The worker empties the queue outside the measured time.
        std::thread::sleep(std::time::Duration::from_millis(200));

        let start = Instant::now();
        for (number, at) in (0..left.len()).step_by(64).enumerate() {
            let end = (at + 64).min(left.len());
            let slot = number % ring.len();
            let chunk = &mut ring[slot];
            chunk.samples[0][..end - at].copy_from_slice(&left[at..end]);
            chunk.samples[1][..end - at].copy_from_slice(&right[at..end]);
            chunk.tag = [number as u64; 4];
            black_box(chunk);
        }
        black_box(&ring);
        bare.push(start.elapsed().as_secs_f64() / left.len() as f64);
    }
    assert_eq!(layer.view().health.lost_frames, 0, "the queue overflowed: nothing was measured");
    let (ours, bare) = (median(ours) * 1e9, median(bare) * 1e9);
    Line {
        what: "audio thread, per frame",
        bound: "copying the same chunks",
        found: ours / bare,
        budget: 3.0,
        unit: "×",
        behind: format!("{ours:.2} ns against {bare:.2} ns"),
    }
}
