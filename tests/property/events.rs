//! Hits in any rhythm: unrelated ones never read as a fault, and common ones never read as unrelated.

use crate::strategies::holds_for;
use plumbline_measure::{Analyzer, BandEdges, Glance, Grid, Position, SampleRate};

use plumbline_programme::verdict::{Channels, Phase, Verdicts, Width};
use plumbline_tests::signal::{Noise, single};
use proptest::prelude::*;
use std::f64::consts::PI;

#[derive(Clone, Debug)]
struct Draw {
    rate: u32,
    seed: u64,
    /// Length of a hit and interval between hits in ms; irregularity of rhythm and strength, 0…1.
    ms: f64,
    every: f64,
    loose: f64,
}

fn draws() -> impl Strategy<Value = Draw> {
    let rates = prop::sample::select(vec![32_000_u32, 44_100, 48_000]);
    (rates, any::<u64>(), 5.0..150.0_f64, 200.0..2_500.0_f64, 0.0..1.0_f64)
        .prop_map(|(rate, seed, ms, every, loose)| Draw { rate, seed, ms, every, loose })
}

/// Hits of white noise: unrelated in the channels, or one sound in both with the right one inverted.
fn hits(draw: &Draw, common: bool) -> [Vec<f32>; 2] {
    let mut dice = Noise::new(draw.seed);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few seconds")]
    let frames = |ms: f64| (ms * f64::from(draw.rate) / 1e3) as usize;
    let (length, count) = (frames(draw.ms), frames(12_000.0));
    let mut channels = [vec![0.0; count], vec![0.0; count]];
    let mut at = 100.0;
    while frames(at) + length < count {
        let strength = 0.2 * 10.0_f64.powf(0.4 * draw.loose * dice.gauss());
        for n in 0..length {
            let shape = strength * (PI * (n as f64 + 0.5) / length as f64).sin().powi(2);
            let left = dice.gauss();
            let right = if common { -left } else { dice.gauss() };
            channels[0][frames(at) + n] = shape * left;
            channels[1][frames(at) + n] = shape * right;
        }
        at += draw.every * (1.0 + 0.6 * draw.loose * (dice.uniform() - 0.5));
    }
    channels.map(|channel| single(&channel))
}

/// Checks the glance every tenth of a second, and returns the number of checks.
fn watch(draw: &Draw, channels: &[Vec<f32>; 2], mut look: impl FnMut(&Glance)) -> usize {
    let rate = SampleRate::new(draw.rate).expect("a rate that can be measured");
    let mut analyzer = Analyzer::new(rate, 2, BandEdges::default());
    let (mut view, mut tenths, mut looks) = (Glance::default(), Vec::new(), 0);
    let block = draw.rate as usize / 10;
    for (i, (left, right)) in channels[0].chunks(block).zip(channels[1].chunks(block)).enumerate() {
        let at = Position { grid: Grid::Song, sample: i64::try_from(i * block).expect("short") };
        analyzer.push(at, &[left, right], &mut tenths);
        analyzer.fill(&mut view);
        look(&view);
        looks += 1;
    }
    looks
}

fn out_of_step(view: &Glance) -> bool {
    let verdicts = Verdicts::of(&view.averages[1], &view.band_edges, Channels::of(2));
    matches!(verdicts.width, Width::OutOfStep(_)) || matches!(verdicts.phase, Phase::OutOfStep(_))
}

#[test]
fn unrelated_hits_are_never_a_fault() {
    holds_for(48, 0xF0073, draws(), |draw| {
        let (mut faults, mut highest) = (0, 0.0_f64);
        let looks = watch(&draw, &hits(&draw, false), |view| {
            faults += usize::from(out_of_step(view));
            highest = highest.max(view.averages[1].whole.coherence.unwrap_or(0.0));
        });
        prop_assert_eq!(looks, 120);
        prop_assert_eq!(faults, 0);
        prop_assert!(highest <= 0.3, "whole range {}", highest);
        Ok(())
    });
}

#[test]
fn inverted_hits_read_as_common_or_not_at_all() {
    let found = std::cell::Cell::new(0);
    holds_for(32, 0xF0074, draws(), |draw| {
        let mut lowest = 1.0_f64;
        watch(&draw, &hits(&draw, true), |view| {
            let spectral = &view.averages[1];
            let all = spectral.thirds.iter().chain(&spectral.bands).chain([&spectral.whole]);
            for out_of_step in all.filter_map(|readings| readings.out_of_step) {
                lowest = lowest.min(out_of_step);
                found.set(found.get() + 1);
            }
        });
        prop_assert!(lowest > 0.999, "out of step {}", lowest);
        Ok(())
    });
    assert!(found.get() > 10_000, "{} readings", found.get());
}
