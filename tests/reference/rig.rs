//! Signals made of segments, and runs of the analyser that read the glance after each cell.

use plumbline_measure::bands::THIRD_LABELS;
use plumbline_measure::test_support::cell_start;
use plumbline_measure::{Analyzer, BandEdges, Glance, Grid, Position, SampleRate, Tenth};
use plumbline_programme::Programme;
use plumbline_tests::signal::single;
use std::f64::consts::PI;

/// The rates of the published signals.
pub(crate) const RATES: [u32; 3] = [44_100, 48_000, 96_000];

/// Coefficients of the K-weighting as published (48 kHz: BS.1770-5 Annex 1 Tables 1 and 2) or derived from the
/// analogue prototype: b0, b1, b2, a1, a2 of the shelf, then a1, a2 of the high-pass, whose b is 1, −2, 1.
pub(crate) const K_TABLES: [(u32, [f64; 5], [f64; 2]); 5] = [
    (
        44_100,
        [1.53084123005035, -2.65097999515473, 1.16907907992159, -1.66365511325602, 0.712595428073225],
        [-1.9891696736298, 0.989199035787039],
    ),
    (
        48_000,
        [1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585],
        [-1.99004745483398, 0.99007225036621],
    ),
    (
        88_200,
        [1.55751537557965, -2.90562707992635, 1.36133397747221, -1.83091998796233, 0.844142261087853],
        [-1.99457751545034, 0.994584875878055],
    ),
    (
        96_000,
        [1.5597142289758, -2.92674157825108, 1.37826120231582, -1.84460946989011, 0.855843322930641],
        [-1.99501754472472, 0.995023759040923],
    ),
    (
        192_000,
        [1.57222721509128, -3.04728305156155, 1.47797134097961, -1.92220223060749, 0.925117735116826],
        [-1.9975072228407, 0.99750877835551],
    ),
];

/// Gain in dB of one second-order section at a frequency, from its coefficients on the unit circle.
pub(crate) fn section_db(b: [f64; 3], a: [f64; 2], hz: f64, rate: f64) -> f64 {
    let w = 2.0 * PI * hz / rate;
    let power = |c0: f64, c1: f64, c2: f64| {
        let re = c0 + c1 * w.cos() + c2 * (2.0 * w).cos();
        let im = c1 * w.sin() + c2 * (2.0 * w).sin();
        re * re + im * im
    };
    10.0 * (power(b[0], b[1], b[2]) / power(1.0, a[0], a[1])).log10()
}

/// Gains in dB of the shelf and of the high-pass at a frequency, from the table of coefficients.
pub(crate) fn k_stages_db(hz: f64, rate: u32) -> [f64; 2] {
    let (_, shelf, high_pass) =
        K_TABLES.into_iter().find(|table| table.0 == rate).expect("a rate of the table");
    let fs = f64::from(rate);
    let [b0, b1, b2, a1, a2] = shelf;
    [section_db([b0, b1, b2], [a1, a2], hz, fs), section_db([1.0, -2.0, 1.0], high_pass, hz, fs)]
}

/// Gain in dB of the K-weighting.
pub(crate) fn k_db(hz: f64, rate: u32) -> f64 {
    k_stages_db(hz, rate).iter().sum()
}

/// The level of a sine at `rate` relative to 48 kHz in dB: the second stage is not normalised, so its gain at high
/// frequencies depends on the rate.
pub(crate) fn k_shift_db(hz: f64, rate: u32) -> f64 {
    k_db(hz, rate) - k_db(hz, 48_000)
}

/// Amplitude of a peak level in dBFS.
pub(crate) fn amplitude(dbfs: f64) -> f64 {
    10.0_f64.powf(dbfs / 20.0)
}

/// Nominal label of a third.
pub(crate) fn label(third: usize) -> &'static str {
    THIRD_LABELS[third]
}

/// Seconds in samples.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few minutes")]
pub(crate) fn frames(secs: f64, rate: u32) -> usize {
    (secs * f64::from(rate)).round() as usize
}

/// A phase-continuous sine with a peak level for each segment: (seconds, dBFS), −∞ for silence.
pub(crate) fn steps(segments: &[(f64, f64)], hz: f64, rate: u32) -> Vec<f64> {
    let mut samples = Vec::new();
    for &(secs, dbfs) in segments {
        let size = amplitude(dbfs);
        for _ in 0..frames(secs, rate) {
            let n = samples.len() as f64;
            samples.push(size * (2.0 * PI * hz * n / f64::from(rate)).sin());
        }
    }
    samples
}

/// The measurement of one signal.
pub(crate) struct Run {
    /// Its tenths.
    pub(crate) tenths: Vec<Tenth>,
    /// The glance at its end, including programme loudness.
    pub(crate) view: Glance,
}

/// Runs the analyser over a signal, and calls `look` with the glance after each 10 ms cell.
pub(crate) fn watched(rate_hz: u32, channels: &[&[f64]], mut look: impl FnMut(usize, &Glance)) -> Run {
    let rate = SampleRate::new(rate_hz).expect("a rate that can be measured");
    let mut analyzer = Analyzer::new(rate, channels.len(), BandEdges::default());
    let singles: Vec<Vec<f32>> = channels.iter().map(|c| single(c)).collect();
    let mut run = Run { tenths: Vec::new(), view: Glance::default() };
    let mut start = 0;
    for cell in 1.. {
        let end = usize::try_from(cell_start(rate, cell)).expect("short").min(singles[0].len());
        if end == start {
            break;
        }
        let block: Vec<&[f32]> = singles.iter().map(|c| &c[start..end]).collect();
        let at = Position { grid: Grid::Song, sample: i64::try_from(start).expect("short") };
        analyzer.push(at, &block, &mut run.tenths);
        analyzer.fill(&mut run.view);
        look(end, &run.view);
        start = end;
    }
    finish(analyzer, run)
}

/// Runs the analyser over a signal.
pub(crate) fn measured(rate_hz: u32, channels: &[&[f64]]) -> Run {
    let rate = SampleRate::new(rate_hz).expect("a rate that can be measured");
    let mut analyzer = Analyzer::new(rate, channels.len(), BandEdges::default());
    let singles: Vec<Vec<f32>> = channels.iter().map(|c| single(c)).collect();
    let all: Vec<&[f32]> = singles.iter().map(Vec::as_slice).collect();
    let mut run = Run { tenths: Vec::new(), view: Glance::default() };
    analyzer.push(Position { grid: Grid::Song, sample: 0 }, &all, &mut run.tenths);
    analyzer.fill(&mut run.view);
    finish(analyzer, run)
}

/// The same samples in both channels.
pub(crate) fn in_both(rate_hz: u32, samples: &[f64]) -> Run {
    measured(rate_hz, &[samples, samples])
}

fn finish(mut analyzer: Analyzer, mut run: Run) -> Run {
    analyzer.flush(&mut run.tenths);
    let mut programme = Programme::default();
    run.tenths.iter().for_each(|tenth| programme.push(tenth));
    programme.fill(&mut run.view.loudness);
    run
}
