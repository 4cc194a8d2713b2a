//! The weight of each third, by its coherence.

use super::significance::{coherence_threshold, without_chance};
use plumbline_measure::bands::{THIRDS, third_centre_hz};

/// Coherence above which weights do not grow. The weight of the best estimator for Gaussian signals, C/(1 − C)
/// (Knapp, Carter 1976), trusts a coherence of 0.999 ten times as much as one of 0.99; rooms and capsules are not
/// known that well. With this limit a loud third cannot pull the others along by its own dispersion.
const MOST_COHERENCE: f64 = 0.9;

/// Weight of a third without visible coherence. Not 0, because thousands of bins with a coherence of a hundredth,
/// each too little to see, add up to a clear peak.
const LEAST_WEIGHT: f64 = 0.05;

/// Frequency from which each octave counts equally, not each hertz. Half of all bins are above 10 kHz, where heads,
/// capsules and stands turn the phase, and one of their crests would outvote the rest. For white noise this takes the
/// error of a delay to 1.1 times the bound.
const OCTAVES_FROM_HZ: f64 = 1_500.0;

/// Confidence at which a third counts as coherent and gets more than the least weight. With 31 thirds per window a
/// chance pass must be rare, because its few bins would outweigh a faint sound in thousands of others.
const SURE: f64 = 0.999;

/// Fewest independent averages for weights by coherence; in shorter windows all open thirds weigh the same.
const FEWEST_AVERAGES: f64 = 4.0;

/// Coherence and weight of each third, from many small sums over consecutive bins.
#[derive(Clone, Debug)]
pub(crate) struct Weights {
    sums: [f64; THIRDS],
    counts: [f64; THIRDS],
    coherence: [f64; THIRDS],
    weights: [f64; THIRDS],
    averages: f64,
}

impl Weights {
    pub(crate) fn new() -> Self {
        let zero = [0.0; THIRDS];
        Self { sums: zero, counts: zero, coherence: zero, weights: zero, averages: 1.0 }
    }

    pub(crate) fn clear(&mut self) {
        *self = Self::new();
    }

    /// Takes the raw coherence of one block or cell.
    pub(crate) fn count(&mut self, third: usize, raw: f32) {
        self.sums[third] += f64::from(raw).min(1.0);
        self.counts[third] += 1.0;
    }

    /// Computes coherence and weights; each raw coherence is over `averages` independent bins.
    pub(crate) fn settle(&mut self, averages: f64) {
        self.averages = averages;
        for third in 0..THIRDS {
            let count = self.counts[third];
            if count == 0.0 {
                continue;
            }
            let by_octaves = (OCTAVES_FROM_HZ / third_centre_hz(third)).min(1.0);
            if averages < FEWEST_AVERAGES {
                self.weights[third] = by_octaves;
                continue;
            }
            let raw = self.sums[third] / count;
            // The mean of several estimates deviates less from 1/N than one of them, by the root of their number.
            let chance = 1.0 / averages;
            let limit = chance + (coherence_threshold(averages, SURE) - chance).max(0.0) / count.sqrt();
            let coherence = without_chance(raw, averages).clamp(0.0, 1.0);
            self.coherence[third] = coherence;
            let held = coherence.min(MOST_COHERENCE);
            let seen = if raw > limit { held.sqrt() / (1.0 - held) } else { 0.0 };
            self.weights[third] = seen.max(LEAST_WEIGHT) * by_octaves;
        }
    }

    /// Weight of a third per coherency, less in the highs: √C/(1 − C), which is C/(1 − C) per unit of phase.
    pub(crate) fn of(&self, third: usize) -> f64 {
        self.weights[third]
    }

    /// As [`Self::of`], in single precision.
    #[expect(clippy::cast_possible_truncation, reason = "between 0.003 and 10")]
    pub(crate) fn search(&self, third: usize) -> f32 {
        self.weights[third] as f32
    }

    /// Part of `cells` cells that are open, 0…1.
    pub(crate) fn open_part(&self, cells: usize) -> f64 {
        self.counts.iter().sum::<f64>() / cells.max(1) as f64
    }

    /// Coherence of all open cells: their mean, with the chance value removed.
    pub(crate) fn mean_coherence(&self) -> f64 {
        let count: f64 = self.counts.iter().sum();
        if count > 0.0 { without_chance(self.sums.iter().sum::<f64>() / count, self.averages) } else { 0.0 }
    }

    /// Coherence of a third: the mean over its cells, with the chance value removed; `None` without an open cell.
    pub(crate) fn coherence(&self, third: usize) -> Option<f64> {
        (self.counts[third] > 0.0).then(|| self.coherence[third])
    }
}
