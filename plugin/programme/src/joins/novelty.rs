//! Which boundary of several is the join, and where exactly it is.

use super::cell::{Cell, Features};
use std::collections::VecDeque;

/// Boundaries on either side over which a join must have the highest score.
pub(super) const PEAK: usize = 9;
/// Change with a contrast of 1: of level, LU; of the octave levels relative to their mean, dB, averaged over the
/// octaves; of the side share. Only the place of a join rests on them.
const UNIT_LU: f64 = 2.5;
const UNIT_SHAPE_DB: f64 = 1.5;
const UNIT_WIDTH: f64 = 0.15;

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

/// How far two short stretches differ.
fn contrast(before: &Features, after: &Features) -> f64 {
    let change = |of: &dyn Fn(&Features) -> Option<f64>| {
        of(before).zip(of(after)).map_or(0.0, |(before, after)| (after - before).abs())
    };
    let octaves = before.shape.len();
    let shape: f64 = (0..octaves).map(|octave| change(&|f| f.shape[octave])).sum();
    change(&|f| Some(f.level)) / UNIT_LU
        + shape / octaves as f64 / UNIT_SHAPE_DB
        + change(&|f| f.width) / UNIT_WIDTH
}

/// The boundary with the steepest change among `around`: four tenths before against four after. Boundary i is
/// before cell i.
pub(super) fn steepest(cells: &VecDeque<Cell>, around: std::ops::RangeInclusive<usize>) -> Option<usize> {
    const NEAR: usize = 4;
    let change = |at: usize| {
        contrast(&Features::over(cells.range(at - NEAR..at)), &Features::over(cells.range(at..at + NEAR)))
    };
    let inside = around.filter(|at| *at >= NEAR && at + NEAR <= cells.len());
    let changes = inside.map(|at| (at, change(at)));
    changes.reduce(|best, next| if next.1 > best.1 { next } else { best }).map(|(at, _)| at)
}
