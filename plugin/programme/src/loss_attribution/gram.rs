//! The products of all channels with one another over the band, from which everything else follows.

use super::spectra::Spectrum;
use plumbline_measure::cross::StereoPower;
use std::ops::Range;

/// Bins processed at a time, so that the bins of all channels stay in the cache.
const BLOCK: usize = 512;

/// Real parts of the cross powers of the mix's two channels (indices 0 and 1) and of the columns (from index 2).
pub(super) struct Gram {
    side: usize,
    values: Vec<f64>,
    homes: Vec<Option<usize>>,
}

impl Gram {
    pub(super) fn new(mix: &[Spectrum; 2], columns: &[Spectrum]) -> Self {
        let side = columns.len() + 2;
        let homes = columns.iter().map(|c| c.home).collect();
        let mut gram = Self { side, values: vec![0.0; side * side], homes };
        gram.fill(mix, columns, 0..side);
        gram
    }

    /// Recomputes the products of columns that were changed.
    pub(super) fn renew(&mut self, mix: &[Spectrum; 2], columns: &[Spectrum], changed: Range<usize>) {
        self.fill(mix, columns, changed.start + 2..changed.end + 2);
    }

    /// Computes the products of some rows with all others, each pair once, and mirrors them across the diagonal.
    fn fill(&mut self, mix: &[Spectrum; 2], columns: &[Spectrum], places: Range<usize>) {
        let side = self.side;
        let others = |place: usize| {
            (0..side).filter({
                let places = places.clone();
                move |other| !places.contains(other) || *other <= place
            })
        };
        let bins = mix[0].bins.len();
        let mut sums = vec![0.0; places.len() * side];
        // Real and imaginary parts of the bins of one block, one channel after another.
        let mut flat = vec![0.0; side * 2 * BLOCK];
        for start in (0..bins).step_by(BLOCK) {
            let block = start..(start + BLOCK).min(bins);
            let width = 2 * block.len();
            for (spectrum, row) in mix.iter().chain(columns).zip(flat.chunks_exact_mut(2 * BLOCK)) {
                for (slots, bin) in row.chunks_exact_mut(2).zip(&spectrum.bins[block.clone()]) {
                    slots.copy_from_slice(&[bin.re, bin.im]);
                }
            }
            let row = |place: usize| &flat[place * 2 * BLOCK..][..width];
            for (place, sums) in places.clone().zip(sums.chunks_exact_mut(side)) {
                for other in others(place) {
                    sums[other] += dot(row(place), row(other));
                }
            }
        }
        for (place, sums) in places.clone().zip(sums.chunks_exact(side)) {
            for other in others(place) {
                self.set(place, other, sums[other]);
            }
        }
    }

    fn set(&mut self, a: usize, b: usize, value: f64) {
        self.values[a * self.side + b] = value;
        self.values[b * self.side + a] = value;
    }

    /// Number of columns, without the mix.
    pub(super) fn columns(&self) -> usize {
        self.side - 2
    }

    /// The side of the mix that a column belongs to; `None` for a mono layer.
    pub(super) fn home(&self, column: usize) -> Option<usize> {
        self.homes[column]
    }

    /// Product of two columns.
    pub(super) fn between(&self, a: usize, b: usize) -> f64 {
        self.values[(a + 2) * self.side + b + 2]
    }

    /// Product of a column with a channel of the mix.
    pub(super) fn with_mix(&self, column: usize, channel: usize) -> f64 {
        self.values[(column + 2) * self.side + channel]
    }

    /// The stereo power matrix of the mix.
    pub(super) fn mix(&self) -> StereoPower {
        StereoPower { ll: self.values[0], rr: self.values[self.side + 1], re: self.values[1] }
    }

    /// The stereo power matrix of `mix`·(the mix) + Σ gain·column, with one gain per column and side.
    pub(super) fn of(&self, mix: f64, gains: &[[f64; 2]]) -> StereoPower {
        let mut vectors = [vec![0.0; self.side], vec![0.0; self.side]];
        for (channel, vector) in vectors.iter_mut().enumerate() {
            vector[channel] = mix;
            for (slot, gain) in vector[2..].iter_mut().zip(gains) {
                *slot = gain[channel];
            }
        }
        let [left, right] = &vectors;
        let product = |a: &[f64], b: &[f64]| -> f64 {
            let rows = a.iter().zip(self.values.chunks_exact(self.side)).filter(|(x, _)| **x != 0.0);
            rows.map(|(x, row)| x * row.iter().zip(b).map(|(value, y)| value * y).sum::<f64>()).sum()
        };
        StereoPower {
            ll: product(left, left).max(0.0),
            rr: product(right, right).max(0.0),
            re: product(left, right),
        }
    }
}

/// Σ a·b in eight lanes: fast, and reproducible.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut lanes = [0.0_f64; 8];
    let (eights_a, eights_b) = (a.chunks_exact(8), b.chunks_exact(8));
    let rest: f64 = eights_a.remainder().iter().zip(eights_b.remainder()).map(|(x, y)| x * y).sum();
    for (x, y) in eights_a.zip(eights_b) {
        for ((lane, x), y) in lanes.iter_mut().zip(x).zip(y) {
            *lane += x * y;
        }
    }
    lanes.iter().sum::<f64>() + rest
}
