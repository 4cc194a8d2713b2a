//! Exponential averaging: IEC 61672-1:2013 time weightings F (125 ms) and S (1 s).
//!
//! The meter is updated at the end of every 10 ms cell, so a reading at a cell's end is the level at that sample.
//! Signals here end with a cell unless a case delays them.

use crate::rig::{amplitude, frames, measured, watched};
use plumbline_measure::{Averaging, Glance, Meters};

use plumbline_tests::cases::Cases;
use std::f64::consts::PI;

const RATE: u32 = 48_000;
/// Samples in a cell.
const CELL: usize = 480;
/// Peak level of the tones, dBFS.
const TONE_DBFS: f64 = -6.0;

/// A time weighting: its name, its time constant, the reading.
type Weighting = (&'static str, f64, fn(&Meters) -> Option<f64>);
const F: Weighting = ("F", 0.125, |meters| meters.level_fast_dbfs);
const S: Weighting = ("S", 1.0, |meters| meters.level_slow_dbfs);

/// A tone of 4 kHz that starts out of silence, stops `late` samples after a cell's end, and is followed by silence.
/// Also gives the sample at which it stops.
fn burst(secs: f64, late: usize, rest_secs: f64) -> (Vec<f64>, usize) {
    let count = frames(secs, RATE);
    let mut samples = vec![0.0; (late + CELL - count % CELL) % CELL];
    samples.extend((0..count).map(|n| amplitude(TONE_DBFS) * (2.0 * PI * n as f64 / 12.0).sin()));
    let end = samples.len();
    samples.extend(vec![0.0; frames(rest_secs, RATE)]);
    (samples, end)
}

/// The highest reading in dB relative to the steady tone.
fn highest_db(samples: &[f64], read: fn(&Meters) -> Option<f64>) -> Option<f64> {
    let mut highest = None;
    watched(RATE, &[samples, samples], |_, view| {
        highest = [highest, read(&view.meters)].into_iter().flatten().reduce(f64::max);
    });
    highest.map(|level| level - TONE_DBFS)
}

/// Burst in ms, table value, exact value, class 1 tolerance over and under, dB: IEC 61672-1:2013 Table 4.
type Row = (f64, f64, f64, f64, f64);

const BURSTS_F: [Row; 12] = [
    (1_000.0, 0.0, -0.001, 0.5, 0.5),
    (500.0, -0.1, -0.080, 0.5, 0.5),
    (200.0, -1.0, -0.979, 0.5, 0.5),
    (100.0, -2.6, -2.591, 1.0, 1.0),
    (50.0, -4.8, -4.819, 1.0, 1.0),
    (20.0, -8.3, -8.302, 1.0, 1.0),
    (10.0, -11.1, -11.142, 1.0, 1.0),
    (5.0, -14.1, -14.066, 1.0, 1.0),
    (2.0, -18.0, -17.993, 1.0, 1.5),
    (1.0, -21.0, -20.986, 1.0, 2.0),
    // From memory: the last two rows.
    (0.5, -24.0, -23.988, 1.0, 2.5),
    (0.25, -27.0, -26.994, 1.0, 3.0),
];

const BURSTS_S: [Row; 9] = [
    (1_000.0, -2.0, -1.992, 0.5, 0.5),
    (500.0, -4.1, -4.051, 0.5, 0.5),
    (200.0, -7.4, -7.417, 0.5, 0.5),
    (100.0, -10.2, -10.215, 1.0, 1.0),
    (50.0, -13.1, -13.118, 1.0, 1.0),
    (20.0, -17.0, -17.033, 1.0, 1.5),
    (10.0, -20.0, -20.022, 1.0, 2.0),
    // From memory: the tolerances of the last two rows.
    (5.0, -23.0, -23.021, 1.0, 2.5),
    (2.0, -27.0, -26.994, 1.0, 3.0),
];

#[test]
fn tone_bursts_read_as_the_time_weightings_ask() {
    let mut cases = Cases::new("IEC 61672-1:2013 Table 4, 4 kHz tone bursts, class 1 and exact");
    for ((name, tau, read), rows) in [(F, BURSTS_F.as_slice()), (S, BURSTS_S.as_slice())] {
        for &(ms, table, exact, over, under) in rows {
            let (samples, _) = burst(ms / 1e3, 0, 0.1);
            let got = highest_db(&samples, read);
            cases.within(format!("{name} {ms} ms, class 1"), got, table - under, table + over);
            cases.near(format!("{name} {ms} ms, exact"), got, exact, 0.002);
            // If a burst stops inside a cell, its peak is read before its end or after the fall has begun.
            for late in [12, 120, 240, 468] {
                let (samples, _) = burst(ms / 1e3, late, 0.1);
                let got = highest_db(&samples, read);
                let name = format!("{name} {ms} ms, {late} samples late");
                cases.within(format!("{name}, class 1"), got, table - under, table + over);
                let charge = |secs: f64| 10.0 * (1.0 - (-secs.max(0.0) / tau).exp()).log10();
                let before = charge(ms / 1e3 - late as f64 / f64::from(RATE));
                let after = charge(ms / 1e3) - 4.3429 * (CELL - late) as f64 / f64::from(RATE) / tau;
                cases.near(name, got, before.max(after), 0.005);
            }
        }
    }
    cases.end(21 * 10);
}

#[test]
#[expect(clippy::approx_constant, reason = "digits as printed")]
fn a_step_is_followed_with_the_time_constant() {
    let mut cases = Cases::new("y += (1−a)(x−y), a = exp(−1/(τ·fs)): share of a step after so many τ");
    for (name, tau, read) in [F, S] {
        for (times, share) in [(1.0, 63.21), (2.0, 86.47), (3.0, 95.02), (2.3026, 90.0), (4.6052, 99.0)] {
            let (samples, _) = burst(times * tau, 0, 0.05);
            let got = highest_db(&samples, read).map(|db| 100.0 * 10.0_f64.powf(db / 10.0));
            cases.near(format!("{name} after {times} τ, %"), got, share, 0.02);
        }
        for (times, db) in [(1.0, -1.992), (2.0, -0.632), (3.0, -0.222)] {
            let (samples, _) = burst(times * tau, 0, 0.05);
            cases.near(format!("{name} after {times} τ, dB"), highest_db(&samples, read), db, 0.001);
        }
    }
    cases.end(16);
}

#[test]
fn a_level_falls_at_the_published_rate() {
    let mut cases =
        Cases::new("IEC 61672-1:2013 §5.8: 34.7 dB/s (+3.8/−3.7) and 4.3 dB/s (+0.8/−0.7); exact 4.3429/τ");
    let limits = [(34.7, 3.8, 3.7, 34.744), (4.3, 0.8, 0.7, 4.343)];
    for ((name, tau, read), (goal, over, under, exact)) in [F, S].into_iter().zip(limits) {
        let (samples, end) = burst(2.0, 0, 1.6 * tau);
        let mut levels = Vec::new();
        watched(RATE, &[&samples, &samples], |at, view| {
            if at >= end {
                levels.push(read(&view.meters));
            }
        });
        let count = levels.len();
        let fall = |from: usize, to: usize| Some((levels[from]? - levels[to]?) / ((to - from) as f64 * 0.01));
        for (part, from, to) in [("first half", 0, count / 2), ("second half", count / 2, count - 1)] {
            let got = fall(from, to);
            cases.within(format!("{name}, {part}, limits"), got, goal - under, goal + over);
            cases.near(format!("{name}, {part}, exact"), got, exact, 0.002);
        }
    }
    // The spectral averages fall at the same rate, a frame at a time, once the windows contain only silence. (In its
    // first seconds an average covers only the time so far, and would still be filling while it falls: hence the long
    // tone.)
    let (samples, end) = burst(12.0, 0, 0.2);
    let silent_at = end + 4_096;
    let level = |view: &Glance, averaging| view.spectral(averaging).thirds[23].level_dbfs;
    let mut at_first = [None; 2];
    // Frames of the 1024-sample window end every 256 samples of song time.
    let first = silent_at.next_multiple_of(256);
    let last = first + 16 * 256;
    for (slot, stop) in [(0, first), (1, last)] {
        let view = measured(RATE, &[&samples[..stop], &samples[..stop]]).view;
        at_first[slot] = level(&view, Averaging::Fast).zip(level(&view, Averaging::Slow));
    }
    let secs = (last - first) as f64 / f64::from(RATE);
    let fall = at_first[0].zip(at_first[1]).map(|(a, b)| [(a.0 - b.0) / secs, (a.1 - b.1) / secs]);
    cases.near("F, third of 4 kHz", fall.map(|f| f[0]), 34.744, 0.01);
    cases.near("S, third of 4 kHz", fall.map(|f| f[1]), 4.343, 0.01);
    cases.end(10);
}
