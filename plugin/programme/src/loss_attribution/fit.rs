//! The gains from all layers to the mix: least squares, held back where the sound does not determine them.

use super::gram::Gram;
use super::passage::CROSSING;

/// Smallest ridge constant, for columns of power 1: identical layers share equally, and nothing else is biased.
const LEAST_RIDGE: f64 = 1e-10;
/// Smallest ridge constant for crossing gains: a thousand times larger, so that crossing takes a thousandth of a
/// sound that stays.
const LEAST_CROSSING_RIDGE: f64 = 1e-7;
/// Number of times the ridge constant is updated from the previous fit.
const ROUNDS: usize = 4;
/// Fewest degrees of freedom of the sound per fitted gain.
const FREEDOM_PER_GAIN: f64 = 4.0;

/// The mix, fitted by its layers.
pub(super) struct Fit {
    /// Gain of every column to left and right.
    pub(super) gains: Vec<[f64; 2]>,
    /// Power not explained over the power of the mix, each divided by its degrees of freedom; 0…1.
    pub(super) unexplained: f64,
}

impl Fit {
    /// Fits the mix. `None` if the sound has too few degrees of freedom for the columns, or the matrix is not
    /// positive.
    pub(super) fn new(gram: &Gram, freedom: f64) -> Option<Self> {
        let count = gram.columns();
        let mix = gram.mix().total();
        if count == 0 {
            return Some(Self { gains: Vec::new(), unexplained: 1.0 });
        }
        let scales: Vec<f64> = (0..count).map(|i| 1.0 / gram.between(i, i).sqrt()).collect();
        let matrix: Vec<f64> = (0..count)
            .flat_map(|i| (0..count).map(move |j| (i, j)))
            .map(|(i, j)| gram.between(i, j) * scales[i] * scales[j])
            .collect();
        let right = [0, 1].map(|channel| -> Vec<f64> {
            (0..count).map(|i| gram.with_mix(i, channel) * scales[i]).collect()
        });
        let mut ridge = LEAST_RIDGE;
        let mut fit = Self { gains: Vec::new(), unexplained: 1.0 };
        for _ in 0..ROUNDS {
            let mut used = 0.0;
            let mut solved = right.clone();
            for (channel, side) in solved.iter_mut().enumerate() {
                let ridges: Vec<f64> = (0..count)
                    .map(|i| match gram.home(i) {
                        Some(home) if home != channel => (CROSSING * ridge).max(LEAST_CROSSING_RIDGE),
                        _ => ridge,
                    })
                    .collect();
                let factor = Factor::new(&matrix, &ridges)?;
                factor.solve(side);
                used += 0.5 * (count as f64 - factor.trace_of_inverse(&ridges));
            }
            if freedom < FREEDOM_PER_GAIN * used {
                return None;
            }
            let [left, right] = &solved;
            fit.gains = scales.iter().zip(left.iter().zip(right)).map(|(s, (l, r))| [l * s, r * s]).collect();
            let taken: Vec<[f64; 2]> = fit.gains.iter().map(|pair| pair.map(|v| -v)).collect();
            let residual = gram.of(1.0, &taken).total();
            fit.unexplained = (residual / (freedom - used) / (mix / freedom)).clamp(0.0, 1.0);
            // Hoerl, Kennard and Baldwin: p·σ²/β², here for both sides together.
            let size: f64 = solved.iter().flatten().map(|v| v * v).sum();
            let next = used * residual / (freedom - used) / size;
            if !next.is_finite() {
                break;
            }
            ridge = next.clamp(LEAST_RIDGE, 1.0);
        }
        Some(fit)
    }
}

/// Cholesky factor of a matrix with ridges added to its diagonal.
struct Factor {
    side: usize,
    lower: Vec<f64>,
}

impl Factor {
    /// `None` if the matrix is not positive or not finite.
    fn new(matrix: &[f64], ridges: &[f64]) -> Option<Self> {
        let side = ridges.len();
        let mut lower = vec![0.0; side * side];
        for i in 0..side {
            for j in 0..=i {
                let known: f64 = (0..j).map(|k| lower[i * side + k] * lower[j * side + k]).sum();
                let value = matrix[i * side + j] - known;
                lower[i * side + j] = if i == j {
                    let pivot = value + ridges[i];
                    if pivot.is_nan() || pivot <= 0.0 || pivot.is_infinite() {
                        return None;
                    }
                    pivot.sqrt()
                } else {
                    value / lower[j * side + j]
                };
            }
        }
        Some(Self { side, lower })
    }

    fn solve(&self, right: &mut [f64]) {
        let side = self.side;
        for i in 0..side {
            let known: f64 = (0..i).map(|k| self.lower[i * side + k] * right[k]).sum();
            right[i] = (right[i] - known) / self.lower[i * side + i];
        }
        for i in (0..side).rev() {
            let known: f64 = (i + 1..side).map(|k| self.lower[k * side + i] * right[k]).sum();
            right[i] = (right[i] - known) / self.lower[i * side + i];
        }
    }

    /// Trace of the inverse, each diagonal element times its weight.
    fn trace_of_inverse(&self, weights: &[f64]) -> f64 {
        let at = |(i, weight): (usize, &f64)| {
            let mut unit = vec![0.0; self.side];
            unit[i] = 1.0;
            self.solve(&mut unit);
            unit[i] * weight
        };
        weights.iter().enumerate().map(at).sum()
    }
}
