//! Where a passage differs from the one before it.

use super::cell::{BLOCK, Cell, Features};
use std::collections::VecDeque;

/// Tenths on either side that are compared, in two blocks each.
pub(super) const SIDE: usize = 2 * BLOCK;
/// Boundaries on either side among which a join has the greatest novelty.
pub(super) const PEAK: usize = 5;
/// Boundaries over which the median is taken: 8 s.
const NEIGHBOURS: usize = 80;
/// Change that counts as novelty 1: of level, LU.
const UNIT_LU: f64 = 2.5;
/// Of the octaves' levels against their mean, dB, mean of all octaves.
const UNIT_SHAPE_DB: f64 = 1.5;
/// Of the side share.
const UNIT_WIDTH: f64 = 0.15;
/// δ of the adaptive threshold. The three units and δ are ours: the novelty of steady noise stays under half of it,
/// and a step of 6 dB has twice as much.
const LEAST: f64 = 1.0;
/// λ of the adaptive threshold.
const TIMES_MEDIAN: f64 = 2.0;
/// How much more than its own unrest a passage must change: hits at odd times differ from second to second.
const TIMES_UNREST: f64 = 3.0;

/// How far the values after lie beyond all values before. Hits, however irregular, change a block, but not all
/// blocks of one side against all of the other.
fn gap(before: [f64; 2], after: [f64; 2]) -> f64 {
    let [low_before, high_before] = [before[0].min(before[1]), before[0].max(before[1])];
    let [low_after, high_after] = [after[0].min(after[1]), after[0].max(after[1])];
    (low_after - high_before).max(low_before - high_after).max(0.0)
}

/// Level, shape and width, each in units of what counts.
pub(super) type Parts = [f64; 3];

/// How much two blocks differ.
pub(super) fn distance(a: &Features, b: &Features) -> Parts {
    novelty([a; 2], [b; 2])
}

/// How much the two blocks after differ from the two before.
pub(super) fn novelty(before: [&Features; 2], after: [&Features; 2]) -> Parts {
    let of = |value: &dyn Fn(&Features) -> Option<f64>| {
        let pair = |[a, b]: [&Features; 2]| Some([value(a)?, value(b)?]);
        pair(before).zip(pair(after)).map_or(0.0, |(before, after)| gap(before, after))
    };
    let octaves = before[0].shape.len();
    let shape: f64 = (0..octaves).map(|octave| of(&|f| f.shape[octave])).sum();
    [of(&|f| Some(f.level)) / UNIT_LU, shape / octaves as f64 / UNIT_SHAPE_DB, of(&|f| f.width) / UNIT_WIDTH]
}

/// The novelty of the newest boundaries of one run.
#[derive(Clone, Debug, Default)]
pub(super) struct Novelties {
    values: VecDeque<Parts>,
}

impl Novelties {
    pub(super) fn clear(&mut self) {
        self.values.clear();
    }

    /// Takes the novelty of the next boundary, and how much the passages on both sides of the one that is decided change
    /// from second to second by themselves. Tells whether the one [`PEAK`] before is a join: over the adaptive
    /// threshold (Bello et al. 2005 §IV, from memory) and the highest of its neighbours.
    pub(super) fn push(&mut self, novelty: Parts, unrest: Parts) -> bool {
        if self.values.len() == NEIGHBOURS {
            self.values.pop_front();
        }
        self.values.push_back(novelty);
        let Some(at) = self.values.len().checked_sub(PEAK + 1).filter(|at| *at >= PEAK) else { return false };
        let sum = |parts: &Parts| parts.iter().sum::<f64>();
        let value = sum(&self.values[at]);
        let highest = self.values.range(at - PEAK..at).all(|v| sum(v) < value)
            && self.values.range(at + 1..).all(|v| sum(v) <= value);
        let beyond: f64 = self.values[at]
            .iter()
            .zip(unrest)
            .map(|(part, unrest)| (part - TIMES_UNREST * unrest).max(0.0))
            .sum();
        highest && beyond > LEAST && {
            let mut sorted: Vec<f64> = self.values.iter().map(sum).collect();
            sorted.sort_unstable_by(f64::total_cmp);
            beyond > LEAST + TIMES_MEDIAN * sorted[sorted.len() / 2]
        }
    }
}

/// The boundary of the steepest change among those near `around`: three tenths before against three after. Boundary
/// i lies before cell i.
pub(super) fn steepest(cells: &VecDeque<Cell>, around: std::ops::RangeInclusive<usize>) -> Option<usize> {
    const NEAR: usize = 3;
    let change = |at: usize| {
        let before = Features::over(cells.range(at - NEAR..at));
        let after = Features::over(cells.range(at..at + NEAR));
        novelty([&before; 2], [&after; 2]).iter().sum::<f64>()
    };
    let inside = around.filter(|at| *at >= NEAR && at + NEAR <= cells.len());
    let changes = inside.map(|at| (at, change(at)));
    changes.reduce(|best, next| if next.1 > best.1 { next } else { best }).map(|(at, _)| at)
}
