//! The time from a sample to its reading in a view, less the reading's own window.

use crate::Line;
use plumbline_live::{Format, Layer, Stamp};
use plumbline_programme::Command;
use std::time::{Duration, Instant};

const BLOCK: usize = 240;
const TRIALS: usize = 40;
/// The length of the cells in which the sample peak is read; the step may be anywhere in a cell.
const CELL_MS: f64 = 10.0;
/// The length of the host's block.
const BLOCK_MS: f64 = BLOCK as f64 / 48.0;

pub(crate) fn run() -> Line {
    let layer = Layer::join();
    layer.change(|settings| settings.watched = true);
    let format = Format { rate_hz: 48_000.0, channels: 2, side_channels: 0, offline: false };
    let mut tap = layer.open(format).expect("48 kHz is measured");
    let mut worst = 0.0_f64;
    let mut song = 0;
    for trial in 0..TRIALS {
        layer.send(Command::Reset);
        let quiet = [1e-3_f32; BLOCK];
        let loud = [0.5_f32; BLOCK];
        let start = Instant::now();
        let mut blocks = 0_u32;
        // Different phases of cell, poll and block in each trial.
        let quiet_blocks = 80 + 7 * u32::try_from(trial).expect("few");
        let mut stepped = None;
        let seen = loop {
            let block = if blocks < quiet_blocks { &quiet } else { &loud };
            if blocks == quiet_blocks {
                stepped = Some(Instant::now());
            }
            tap.push(Stamp { song: Some(song), playing: true }, &[block, block], &[]);
            song += BLOCK as i64;
            blocks += 1;
            let due = start + Duration::from_secs_f64(f64::from(blocks) * BLOCK as f64 / 48_000.0);
            let mut found = None;
            while Instant::now() < due {
                let view = layer.view();
                if stepped.is_some() && view.meters.max_peak_dbfs[0].is_some_and(|p| p > -7.0) {
                    found = Some(Instant::now());
                    break;
                }
                std::thread::sleep(Duration::from_micros(200));
            }
            if let (Some(found), Some(stepped)) = (found, stepped) {
                break found - stepped;
            }
            assert!(blocks < quiet_blocks + 400, "the step was never seen");
        };
        worst = worst.max(seen.as_secs_f64() * 1e3);
    }
    Line {
        what: "sample in to reading in a view, worst of 40",
        bound: "its 10 ms cell",
        found: worst - CELL_MS,
        budget: 30.0,
        unit: "ms",
        behind: format!(
            "{worst:.1} ms less the cell of {CELL_MS:.0} ms; blocks of {BLOCK_MS:.0} ms; painting not included"
        ),
    }
}
