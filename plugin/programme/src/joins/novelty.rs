//! Which boundary of several is the join, and where exactly it is.

use super::cell::{Cell, window_of};
use super::window::BANDS;
use plumbline_measure::bands::{FIRST_ACCURATE_THIRD, LONG};
use std::collections::VecDeque;

/// Boundaries on either side over which a join must have the highest score.
pub(super) const PEAK: usize = 9;
/// Tenths on either side of the boundaries searched that are told apart, and fewest on a side.
const NEAR: usize = 10;
const LEAST_SIDE: usize = 3;
/// Variance added to that of each third, dB², and what one stereo image is worth in levels, dB.
const VARIANCE: f64 = 1.0;
const IMAGE_DB: f64 = 10.0;
/// Weight of a third from the longest window, which reaches into the tenths on either side.
const LONG_WEIGHT: f64 = 0.05;

/// The scores of the latest boundaries of one run.
#[derive(Clone, Debug, Default)]
pub(super) struct Scores {
    values: VecDeque<f64>,
}

impl Scores {
    pub(super) fn clear(&mut self) {
        self.values.clear();
    }

    /// Takes the score of the next boundary. Returns whether the one [`PEAK`] back is a join: over 0, and the highest
    /// of its neighbours.
    pub(super) fn push(&mut self, score: f64) -> bool {
        if self.values.len() > 2 * PEAK {
            self.values.pop_front();
        }
        self.values.push_back(score);
        let Some(at) = self.values.len().checked_sub(PEAK + 1) else { return false };
        let value = self.values[at];
        value > 0.0
            && self.values.range(..at).all(|other| *other < value)
            && self.values.range(at + 1..).all(|other| *other <= value)
    }
}

/// The boundary among `around` at which the tenths nearby are best told apart in two: the likelihood ratio of two levels
/// in each third instead of one, and two images. Boundary i is before cell i; cells before `first` do not count.
pub(super) fn best_split(
    cells: &VecDeque<Cell>,
    first: usize,
    around: std::ops::RangeInclusive<usize>,
) -> Option<usize> {
    let from = around.start().saturating_sub(NEAR).max(first);
    let to = (around.end() + NEAR).min(cells.len());
    let value = |cell: &Cell, dimension: usize| -> f64 {
        let band = dimension / 2;
        let [both, _, re] = cell.images[band];
        let shared = if both > 0.0 { IMAGE_DB * f64::from(2.0 * re / both) } else { 0.0 };
        if dimension.is_multiple_of(2) { cell.levels[band].into() } else { shared }
    };
    let scatter = |from: usize, to: usize, dimension: usize| {
        let count = (to - from) as f64;
        let (mut sum, mut squares) = (0.0, 0.0);
        for cell in cells.range(from..to) {
            let value = value(cell, dimension);
            sum += value;
            squares += value * value;
        }
        count * ((squares / count - (sum / count).powi(2)).max(0.0) + VARIANCE).ln()
    };
    let cost = |at: usize| -> f64 {
        let of = |dimension: usize| {
            let is_long = window_of(FIRST_ACCURATE_THIRD + dimension / 2) == LONG;
            let weight = if is_long { LONG_WEIGHT } else { 1.0 };
            weight * (scatter(from, at, dimension) + scatter(at, to, dimension))
        };
        (0..2 * BANDS).map(of).sum()
    };
    let inside = around.filter(|at| *at >= from + LEAST_SIDE && at + LEAST_SIDE <= to);
    inside.map(|at| (at, cost(at))).min_by(|a, b| a.1.total_cmp(&b.1)).map(|(at, _)| at)
}
