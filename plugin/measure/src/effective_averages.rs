//! The effective number of independent averages in the 2 s of coherence, per third.
//!
//! One event in 2 s is one average, and one average is always coherent. So the energies of the 2 s are kept: those of
//! the long frames give the number of averages, those of shorter frames give the length of the sound, and so the number
//! of independent cells of frequency in a third.

use crate::bands::{BinSpan, LONG, THIRDS};
use crate::cross::StereoPower;
use crate::filter_bank::FilterBank;
use crate::window::{HANN_NOISE_BANDWIDTH, INDEPENDENT_PER_WINDOW};
use std::array;
use std::collections::VecDeque;

/// Share of the windows from which sound counts as steady, so that all of them count.
const EVEN: f64 = 0.8;
/// Fewer independent averages than this are one event, whatever the width of the band.
const LEAST_AVERAGES: f64 = 1.8;
/// Most scatter that rounding adds to evenly spread sound.
const ROUNDING: f64 = 1e-6;
/// Bins of the long window from which a third is judged alone; a narrower one takes in its neighbours, since a few bins
/// rise and fall even in steady noise.
const BINS_ENOUGH: f64 = 8.0;

/// Energies of one third in one long frame, and in the shorter frames since the long one before.
#[derive(Clone, Copy, Default)]
struct Energies {
    /// Left and right in the long frame.
    long: [f64; 2],
    /// Left and right, and their products, summed over the shorter frames.
    short: [f64; 2],
    product: f64,
    count: f64,
}

/// Bias and variance of one third's coherence over the 2 s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Worth {
    /// Coherence that unrelated sound would read: 1 over the number of averages.
    pub(crate) bias: f64,
    /// Variance about the bias: (N−1)/(N²(N+1)) for each independent cell of frequency.
    variance: f64,
}

/// The energies of the thirds over the 2 s, and the averages they are worth.
pub(crate) struct EffectiveAverages {
    windows: usize,
    frames: VecDeque<[Energies; THIRDS]>,
    running: [Energies; THIRDS],
    shape: [Shape; THIRDS],
    /// First and last third of the group that each third is judged with.
    pool: [(usize, usize); THIRDS],
    /// Share of each third inside each band, and inside the whole range.
    inside: Vec<[f64; THIRDS]>,
    worth: [Worth; THIRDS],
}

/// How wide a third is.
#[derive(Clone, Copy, Default)]
struct Shape {
    width_hz: f64,
    /// Bins in the long window.
    bins: f64,
    /// Seconds from one shorter frame to the next.
    step_secs: f64,
}

impl EffectiveAverages {
    pub(crate) fn new(bank: &FilterBank, windows: usize) -> Self {
        let shape: [Shape; THIRDS] = array::from_fn(|third| {
            let bins: f64 = bank.long_spans[third].weights.iter().sum();
            let step = bank.lengths[bank.short_spans[third].window] as f64 / 4.0;
            let bin_hz = bank.rate_hz / bank.lengths[LONG] as f64;
            Shape { width_hz: bins * bin_hz, bins, step_secs: step / bank.rate_hz }
        });
        let pool = array::from_fn(|third| {
            let (mut low, mut high) = (third, third);
            while shape[low..=high].iter().map(|s| s.bins).sum::<f64>() < BINS_ENOUGH {
                if low == 0 && high == THIRDS - 1 {
                    break;
                }
                (low, high) = (low.saturating_sub(1), (high + 1).min(THIRDS - 1));
            }
            (low, high)
        });
        let inside = bank.long_spans[THIRDS..]
            .iter()
            .map(|span| array::from_fn(|third| overlap(&bank.long_spans[third], span)))
            .collect();
        let nothing = [Energies::default(); THIRDS];
        Self {
            windows,
            frames: VecDeque::with_capacity(windows + 1),
            running: nothing,
            shape,
            pool,
            inside,
            worth: [Worth::default(); THIRDS],
        }
    }

    /// Forgets all frames.
    pub(crate) fn clear(&mut self) {
        self.frames.clear();
        self.running = [Energies::default(); THIRDS];
    }

    /// Takes the energies of one shorter frame in one third.
    pub(crate) fn push_short(&mut self, third: usize, power: &StereoPower) {
        let running = &mut self.running[third];
        running.short = [running.short[0] + power.ll, running.short[1] + power.rr];
        running.product += power.ll * power.rr;
        running.count += 1.0;
    }

    /// Takes the energies of one long frame, left and right per third.
    pub(crate) fn push_long(&mut self, energies: impl Fn(usize) -> [f64; 2]) {
        let mut frame = std::mem::replace(&mut self.running, [Energies::default(); THIRDS]);
        for (third, slot) in frame.iter_mut().enumerate() {
            slot.long = energies(third);
        }
        self.frames.push_back(frame);
        if self.frames.len() > self.windows {
            self.frames.pop_front();
        }
    }

    /// Judges all thirds anew. `cells` gives the number of bins of a third that carry its energy.
    pub(crate) fn judge(&mut self, cells: impl Fn(usize) -> f64) {
        let total: [[f64; 2]; THIRDS] = array::from_fn(|third| {
            array::from_fn(|side| self.frames.iter().map(|f| f[third].long[side]).sum())
        });
        for third in 0..THIRDS {
            let averages = INDEPENDENT_PER_WINDOW * self.filled(third, &total);
            let looks = self.shape[third].width_hz * self.sounding_secs(third);
            let cells = (looks / averages).min(cells(third) / HANN_NOISE_BANDWIDTH).max(1.0);
            let n = averages.max(1.0);
            let variance = (n - 1.0) / (n * n * (n + 1.0) * cells);
            self.worth[third] = Worth { bias: 1.0 / n, variance };
        }
    }

    /// The number of windows that the energy of a third fills: Σl·Σr/Σ(l·r), 1 for a single event and all of them for
    /// steady noise. Compensates for a few bins of steady noise, which vary by one part in their number.
    fn filled(&self, third: usize, total: &[[f64; 2]; THIRDS]) -> f64 {
        let windows = self.frames.len() as f64;
        let (low, high) = self.pool[third];
        let strength = |t: usize| (total[t][0] * total[t][1]).sqrt();
        let own = strength(third);
        let mut scale = [[0.0; 2]; THIRDS];
        let (mut weights, mut cells) = (0.0, 0.0);
        for t in (low..=high).filter(|t| strength(*t) > 0.0) {
            // A louder neighbour counts as much as the third itself, a quieter one by its energy.
            let weight = (strength(t) / own).min(1.0);
            scale[t] = total[t].map(|total| weight / total);
            weights += weight;
            cells += weight * self.shape[t].bins / HANN_NOISE_BANDWIDTH;
        }
        let mut product = 0.0;
        for frame in &self.frames {
            let (mut left, mut right) = (0.0, 0.0);
            for (energies, scale) in frame[low..=high].iter().zip(&scale[low..=high]) {
                left += energies.long[0] * scale[0];
                right += energies.long[1] * scale[1];
            }
            product += left * right;
        }
        let filled = weights * weights / product * (1.0 + 1.0 / cells);
        // NaN where the third is silent: nothing is known then.
        if filled >= EVEN * windows { windows } else { filled.max(1.0) }
    }

    /// Seconds of the 2 s in which a third sounds, by its shorter frames.
    fn sounding_secs(&self, third: usize) -> f64 {
        let mut sum = Energies::default();
        for frame in &self.frames {
            let new = &frame[third];
            sum.short = [sum.short[0] + new.short[0], sum.short[1] + new.short[1]];
            sum.product += new.product;
            sum.count += new.count;
        }
        let frames = sum.short[0] * sum.short[1] / sum.product;
        self.shape[third].step_secs * if frames < sum.count { frames } else { sum.count }
    }

    /// The bias of coherence in one third, 0…1; 1 if its sound is a single event.
    pub(crate) fn bias_of_third(&self, third: usize) -> f64 {
        self.worth[third].bias
    }

    /// The bias of coherence over span `span`: a third's own, or the mean over a band's thirds, weighted by `weight`.
    /// `None` with too few averages to mean anything: fewer than two events, or more scatter than steady sound has in a
    /// single cell.
    pub(crate) fn bias(&self, span: usize, weight: impl Fn(usize) -> f64) -> Option<f64> {
        let worth = match self.inside.get(span.wrapping_sub(THIRDS)) {
            None => self.worth[span],
            Some(inside) => {
                let parts = || (0..THIRDS).map(|t| (weight(t) * inside[t], self.worth[t]));
                let all: f64 = parts().map(|(w, _)| w).sum();
                let bias = parts().map(|(w, worth)| w * worth.bias).sum::<f64>() / all;
                let variance = parts().map(|(w, worth)| w * w * worth.variance).sum::<f64>();
                Worth { bias, variance: variance / (all * all) }
            }
        };
        // With the bias taken out, the variance of N averages in one cell is 1/(N²−1).
        let even = INDEPENDENT_PER_WINDOW * self.windows as f64;
        let scatter = worth.variance / (1.0 - worth.bias).powi(2) * (even * even - 1.0);
        let enough = worth.bias <= 1.0 / LEAST_AVERAGES && scatter <= 1.0 + ROUNDING;
        enough.then_some(worth.bias)
    }
}

/// The share of the bins of one span inside another one of the same window.
fn overlap(span: &BinSpan, inside: &BinSpan) -> f64 {
    let weight = |of: &BinSpan, bin: usize| {
        bin.checked_sub(of.first).and_then(|i| of.weights.get(i)).copied().unwrap_or(0.0)
    };
    let both: f64 = (span.first..span.end()).map(|bin| weight(span, bin).min(weight(inside, bin))).sum();
    let all: f64 = span.weights.iter().sum();
    if all > 0.0 { both / all } else { 0.0 }
}
