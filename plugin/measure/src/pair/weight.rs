//! How much each third counts, by how coherent it is, and which bins are open at all.

use super::chance::{coherence_threshold, without_chance};
use super::spectrum::Spectrum;
use crate::bands::THIRDS;
use crate::cross::db_power;

/// How far under its loudest bins, in dB, a microphone's bins still count: further down lies what the window
/// leaks, and the phase transform would lift it to the level of the sound.
const GATE_DB: f64 = 80.0;

/// Coherence above which weights grow no further. The weight of the best estimator for Gaussian signals,
/// C/(1 − C) (Knapp, Carter 1976), trusts a coherence of 0.999 ten times as much as one of 0.99; rooms and capsules
/// are not that well known. Held here a loud third cannot drag the others along by its own dispersion.
const MOST_COHERENCE: f64 = 0.9;

/// Weight of a third without visible coherence. Above nothing, because thousands of bins that are coherent by a part
/// in a hundred, each too little to be seen, add up to a clear peak.
const LEAST_WEIGHT: f64 = 0.05;

/// Chance that unrelated sound passes for coherent in a third.
const SURE: f64 = 0.95;

/// Fewest independent averages by which coherence is weighed; shorter windows weigh all open thirds alike.
const FEWEST_AVERAGES: f64 = 2.0;

/// Which blocks and cells of a pair carry enough on both sides.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Open {
    a: f32,
    b: f32,
}

impl Open {
    #[expect(clippy::cast_possible_truncation, reason = "a ratio of bins")]
    pub(crate) fn of(a: &Spectrum, b: &Spectrum) -> Self {
        let gate = db_power(-GATE_DB) as f32;
        Self { a: (a.loudest * gate).max(f32::MIN_POSITIVE), b: (b.loudest * gate).max(f32::MIN_POSITIVE) }
    }

    /// Whether `bins` bins that sum up to `a` and `b` are open.
    pub(crate) fn is(&self, a: f32, b: f32, bins: usize) -> bool {
        let bins = bins as f32;
        a >= self.a * bins && b >= self.b * bins
    }
}

/// Coherence and weight of each third, from many small sums over neighbouring bins.
#[derive(Clone, Debug)]
pub(crate) struct Weights {
    sums: [f64; THIRDS],
    counts: [f64; THIRDS],
    coherence: [f64; THIRDS],
    weights: [f64; THIRDS],
}

impl Weights {
    pub(crate) fn new() -> Self {
        Self { sums: [0.0; THIRDS], counts: [0.0; THIRDS], coherence: [0.0; THIRDS], weights: [0.0; THIRDS] }
    }

    pub(crate) fn clear(&mut self) {
        *self = Self::new();
    }

    /// Takes the raw coherence of one block or cell.
    pub(crate) fn count(&mut self, third: usize, raw: f32) {
        self.sums[third] += f64::from(raw).min(1.0);
        self.counts[third] += 1.0;
    }

    /// Sets coherence and weights, each raw coherence being over `averages` independent bins.
    pub(crate) fn settle(&mut self, averages: f64) {
        for third in 0..THIRDS {
            let count = self.counts[third];
            if count == 0.0 {
                continue;
            }
            if averages < FEWEST_AVERAGES {
                self.weights[third] = 1.0;
                continue;
            }
            let raw = self.sums[third] / count;
            // A mean of several estimates strays less from 1/N than one of them: by the root of their number.
            let chance = 1.0 / averages;
            let limit = chance + (coherence_threshold(averages, SURE) - chance).max(0.0) / count.sqrt();
            let coherence = without_chance(raw, averages).clamp(0.0, 1.0);
            self.coherence[third] = coherence;
            let held = coherence.min(MOST_COHERENCE);
            let seen = if raw > limit { held.sqrt() / (1.0 - held) } else { 0.0 };
            self.weights[third] = seen.max(LEAST_WEIGHT);
        }
    }

    /// Weight of a third, over coherency: √C/(1 − C), which is C/(1 − C) over the phase alone.
    pub(crate) fn of(&self, third: usize) -> f64 {
        self.weights[third]
    }

    /// The same in single precision.
    #[expect(clippy::cast_possible_truncation, reason = "between 0.05 and 10")]
    pub(crate) fn search(&self, third: usize) -> f32 {
        self.weights[third] as f32
    }

    /// Coherence of a third, mean over its cells, chance taken out; absent without an open cell.
    pub(crate) fn coherence(&self, third: usize) -> Option<f64> {
        (self.counts[third] > 0.0).then(|| self.coherence[third])
    }
}
