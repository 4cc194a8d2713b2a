//! The products of all channels with one another over the band: everything else follows from them.

use super::spectra::Spectrum;
use crate::cross::Cross;
use realfft::num_complex::Complex;

/// Bins taken at a time, so that all channels' bins stay in the cache.
const BLOCK: usize = 512;

/// Real parts of the cross powers of the mix's two channels (places 0 and 1) and of the columns (from place 2).
pub(super) struct Gram {
    side: usize,
    values: Vec<f64>,
    homes: Vec<Option<usize>>,
}

impl Gram {
    pub(super) fn new(mix: &[Spectrum; 2], columns: &[Spectrum]) -> Self {
        let all: Vec<&Spectrum> = mix.iter().chain(columns).collect();
        let mut gram = Self {
            side: all.len(),
            values: vec![0.0; all.len() * all.len()],
            homes: columns.iter().map(|c| c.home).collect(),
        };
        gram.fill(&all);
        gram
    }

    /// The products of some columns anew, after those were altered.
    pub(super) fn renew(
        &mut self,
        mix: &[Spectrum; 2],
        columns: &[Spectrum],
        changed: std::ops::Range<usize>,
    ) {
        let all: Vec<&Spectrum> = mix.iter().chain(columns).collect();
        for place in changed.start + 2..changed.end + 2 {
            for other in 0..self.side {
                let product = dot(&all[place].bins, &all[other].bins);
                self.set(place, other, product);
            }
        }
    }

    fn fill(&mut self, all: &[&Spectrum]) {
        let bins = all.iter().map(|s| s.bins.len()).min().unwrap_or(0);
        for start in (0..bins).step_by(BLOCK) {
            let block = start..(start + BLOCK).min(bins);
            for a in 0..self.side {
                for b in 0..=a {
                    self.values[a * self.side + b] +=
                        dot(&all[a].bins[block.clone()], &all[b].bins[block.clone()]);
                }
            }
        }
        for a in 0..self.side {
            for b in 0..a {
                self.values[b * self.side + a] = self.values[a * self.side + b];
            }
        }
    }

    fn set(&mut self, a: usize, b: usize, value: f64) {
        self.values[a * self.side + b] = value;
        self.values[b * self.side + a] = value;
    }

    /// Columns, the mix not counted.
    pub(super) fn columns(&self) -> usize {
        self.side - 2
    }

    /// The side of the mix that a column belongs to, if to one.
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

    /// The matrix of the mix.
    pub(super) fn mix(&self) -> Cross {
        Cross { ll: self.values[0], rr: self.values[self.side + 1], re: self.values[1], im: 0.0 }
    }

    /// The matrix of `mix`·(the mix) + Σ gain·column: one gain a column to either side.
    pub(super) fn of(&self, mix: f64, gains: &[[f64; 2]]) -> Cross {
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
        Cross {
            ll: product(left, left).max(0.0),
            rr: product(right, right).max(0.0),
            re: product(left, right),
            im: 0.0,
        }
    }
}

/// Re Σ a·b* in eight lanes.
fn dot(a: &[Complex<f64>], b: &[Complex<f64>]) -> f64 {
    let mut lanes = [0.0_f64; 8];
    let (pairs_a, pairs_b) = (a.chunks_exact(4), b.chunks_exact(4));
    let rest: f64 =
        pairs_a.remainder().iter().zip(pairs_b.remainder()).map(|(x, y)| x.re * y.re + x.im * y.im).sum();
    for (x, y) in pairs_a.zip(pairs_b) {
        for i in 0..4 {
            lanes[2 * i] += x[i].re * y[i].re;
            lanes[2 * i + 1] += x[i].im * y[i].im;
        }
    }
    lanes.iter().sum::<f64>() + rest
}
