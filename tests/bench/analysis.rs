//! The cost of analysing one stereo layer, against the bare transforms that it needs and against `ebur128`.

use crate::{Line, median, noise};
use ebur128::{EbuR128, Mode};
use plumbline_measure::test_support::window_lengths;
use plumbline_measure::{Analyzer, BandEdges, Grid, Position, SampleRate};
use realfft::RealFftPlanner;
use std::time::Instant;

const SECS: usize = 10;

pub(crate) fn run() -> Line {
    let [left, right] = noise(SECS);
    let rate = SampleRate::new(48_000).expect("measured");
    let (mut ours, mut transforms, mut loudness) = (Vec::new(), Vec::new(), Vec::new());
    for _ in 0..5 {
        let mut analyzer = Analyzer::new(rate, 2, BandEdges::default());
        let mut tenths = Vec::new();
        let start = Instant::now();
        for at in (0..left.len()).step_by(64) {
            let sample = i64::try_from(at).expect("short");
            let block = [&left[at..at + 64], &right[at..at + 64]];
            analyzer.push(Position { grid: Grid::Song, sample }, &block, &mut tenths);
        }
        ours.push(start.elapsed().as_secs_f64());
        assert!(tenths.len() > 10 * SECS - 5, "nothing was measured");
        transforms.push(bare_transforms(&left, rate));
        loudness.push(bare_loudness(&left, &right));
    }
    let percent = |values| median(values) / SECS as f64 * 100.0;
    let (ours, transforms, loudness) = (percent(ours), percent(transforms), percent(loudness));
    Line {
        what: "analysis of one stereo layer at 48 kHz",
        bound: "the bare FFTs it needs plus ebur128",
        found: ours / (transforms + loudness),
        budget: 2.0,
        unit: "×",
        behind: format!("{ours:.3} % of a core against {transforms:.3} % + {loudness:.3} %"),
    }
}

/// Seconds for the transforms alone, with the same type, lengths, overlap and channels.
fn bare_transforms(samples: &[f32], rate: SampleRate) -> f64 {
    let mut total = 0.0;
    for length in window_lengths(rate) {
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(length);
        let (mut input, mut output, mut scratch) =
            (fft.make_input_vec(), fft.make_output_vec(), fft.make_scratch_vec());
        let start = Instant::now();
        for _ in 0..2 * 4 * samples.len() / length {
            input.copy_from_slice(&samples[..length]);
            fft.process_with_scratch(&mut input, &mut output, &mut scratch).expect("its own buffers");
        }
        total += start.elapsed().as_secs_f64();
    }
    total
}

/// Seconds for M, S, I, LRA and true peak in `ebur128`.
fn bare_loudness(left: &[f32], right: &[f32]) -> f64 {
    let modes = Mode::M | Mode::S | Mode::I | Mode::LRA | Mode::TRUE_PEAK;
    let mut meter = EbuR128::new(2, 48_000, modes).expect("within its limits");
    let start = Instant::now();
    for at in (0..left.len()).step_by(480) {
        meter.add_frames_planar_f32(&[&left[at..at + 480], &right[at..at + 480]]).expect("within its limits");
    }
    start.elapsed().as_secs_f64()
}
