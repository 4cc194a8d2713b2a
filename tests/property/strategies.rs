//! Strategies of the property tests: seeded, counted, and shrunk on failure.

use plumbline_measure::{Analyzer, BandEdges, Glance, Grid, Position, SampleRate, Tenth};

use plumbline_tests::signal::{Noise, single};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, RngSeed, TestCaseError, TestRunner};
use std::cell::Cell;

/// Rates from the lowest to the highest, some of them with a fractional number of samples per cell.
pub(crate) const RATES: [u32; 9] = [22_050, 32_000, 44_100, 47_952, 48_000, 88_200, 96_000, 192_000, 384_000];

/// The number to add to every seed: 0, so that every run draws the same, or `PLUMBLINE_SEED`.
pub(crate) fn more() -> u64 {
    std::env::var("PLUMBLINE_SEED").map_or(0, |seed| seed.parse().expect("PLUMBLINE_SEED is a whole number"))
}

/// Checks a law on `cases` draws, which are the same in every run unless `PLUMBLINE_SEED` is set.
pub(crate) fn holds_for<S: Strategy>(
    cases: u32,
    seed: u64,
    strategy: S,
    law: impl Fn(S::Value) -> Result<(), TestCaseError>,
) {
    let config = Config {
        cases,
        rng_algorithm: RngAlgorithm::ChaCha,
        rng_seed: RngSeed::Fixed(seed.wrapping_add(more())),
        failure_persistence: None,
        max_shrink_iters: 60,
        ..Config::default()
    };
    let ran = Cell::new(0);
    let outcome = TestRunner::new(config).run(&strategy, |value| {
        ran.set(ran.get() + 1);
        law(value)
    });
    if let Err(broken) = outcome {
        panic!("PLUMBLINE_SEED={}: {broken}", more());
    }
    assert_eq!(ran.get(), cases, "number of draws");
}

/// The analyser's tenths of a stretch of samples, and its glance at the end.
pub(crate) fn measured(rate_hz: u32, channels: &[Vec<f32>]) -> (Vec<Tenth>, Glance) {
    let rate = SampleRate::new(rate_hz).expect("a rate that can be measured");
    let mut analyzer = Analyzer::new(rate, channels.len(), BandEdges::default());
    let mut tenths = Vec::new();
    let all: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
    analyzer.push(Position { grid: Grid::Song, sample: 0 }, &all, &mut tenths);
    let mut view = Glance::default();
    analyzer.fill(&mut view);
    analyzer.flush(&mut tenths);
    (tenths, view)
}

/// Pink stereo noise of a drawn width: common sound plus unrelated sound in each channel.
pub(crate) fn stereo_noise(seed: u64, frames: usize, rate_hz: u32, common: f64) -> [Vec<f32>; 2] {
    let mut noise = Noise::new(seed);
    let [shared, left, right] = [0, 1, 2].map(|_| noise.pink(frames, 0.1, f64::from(rate_hz)));
    [left, right].map(|own| {
        let both = shared.iter().zip(&own).map(|(s, o)| common * s + (1.0 - common) * o);
        single(&both.collect::<Vec<f64>>())
    })
}

/// A sample as a faulty plug-in might send it, or an ordinary one.
pub(crate) fn hostile_sample(noise: &mut Noise) -> f32 {
    #[expect(clippy::cast_possible_truncation, reason = "hosts give single precision")]
    let ordinary = (noise.gauss() * 0.2) as f32;
    match noise.bits() % 400 {
        0 => f32::NAN,
        1 => f32::INFINITY,
        2 => f32::NEG_INFINITY,
        3 => f32::MAX,
        4 => f32::MIN,
        5 => 1e-40,
        6 => -f32::MIN_POSITIVE / 2.0,
        7 => 1e6,
        8 => -0.0,
        9 => 0.0,
        10 => 1.0,
        11 => -1.0,
        _ => ordinary,
    }
}

/// Samples of both channels: stretches of noise, silence, denormals, a constant, and hostile ones.
pub(crate) fn hostile_signal(seed: u64, frames: usize) -> [Vec<f32>; 2] {
    let mut noise = Noise::new(seed);
    let mut channels = [Vec::with_capacity(frames), Vec::with_capacity(frames)];
    while channels[0].len() < frames {
        let length = 1 + usize::try_from(noise.bits() % 6_000).expect("small");
        let kind = noise.bits() % 6;
        for _ in 0..length.min(frames - channels[0].len()) {
            for channel in &mut channels {
                channel.push(match kind {
                    0 => 0.0,
                    1 => 1e-39,
                    2 => 0.25,
                    _ => hostile_sample(&mut noise),
                });
            }
        }
    }
    channels
}
