//! How far a passage differs from the previous one.

use super::cell::{BLOCK, Cell, Features};
use std::collections::VecDeque;

/// Tenths compared on either side, in two blocks each.
pub(super) const SIDE: usize = 2 * BLOCK;
/// Boundaries on either side over which a join must have the highest novelty.
pub(super) const PEAK: usize = 5;
/// Boundaries over which the median is taken: 8 s.
const NEIGHBOURS: usize = 80;
/// Change with a novelty of 1: of level, LU.
const UNIT_LU: f64 = 2.5;
/// Change with a novelty of 1: of the octave levels relative to their mean, dB, averaged over the octaves.
const UNIT_SHAPE_DB: f64 = 1.5;
/// Change with a novelty of 1: of the side share.
const UNIT_WIDTH: f64 = 0.15;
/// δ of the adaptive threshold. The three units and δ are our own: steady noise stays under half of it, and a step of
/// 6 dB reaches twice as much.
const LEAST: f64 = 1.0;
/// λ of the adaptive threshold.
const TIMES_MEDIAN: f64 = 2.0;
/// How many times its own unrest a passage must change: hits at irregular times differ from second to second.
const TIMES_UNREST: f64 = 3.0;

/// Gap between the values after and all values before. Hits, however irregular, change one block, but not all blocks
/// of one side against all of the other.
fn gap(before: [f64; 2], after: [f64; 2]) -> f64 {
    let [low_before, high_before] = [before[0].min(before[1]), before[0].max(before[1])];
    let [low_after, high_after] = [after[0].min(after[1]), after[0].max(after[1])];
    (low_after - high_before).max(low_before - high_after).max(0.0)
}

/// Novelty of level, shape and width.
pub(super) type Parts = [f64; 3];

/// How far two blocks differ.
pub(super) fn distance(a: &Features, b: &Features) -> Parts {
    novelty([a; 2], [b; 2])
}

/// How far the two blocks after differ from the two blocks before.
pub(super) fn novelty(before: [&Features; 2], after: [&Features; 2]) -> Parts {
    let of = |value: &dyn Fn(&Features) -> Option<f64>| {
        let pair = |[a, b]: [&Features; 2]| Some([value(a)?, value(b)?]);
        pair(before).zip(pair(after)).map_or(0.0, |(before, after)| gap(before, after))
    };
    let octaves = before[0].shape.len();
    let shape: f64 = (0..octaves).map(|octave| of(&|f| f.shape[octave])).sum();
    [of(&|f| Some(f.level)) / UNIT_LU, shape / octaves as f64 / UNIT_SHAPE_DB, of(&|f| f.width) / UNIT_WIDTH]
}

/// The novelties of the latest boundaries of one run.
#[derive(Clone, Debug, Default)]
pub(super) struct Novelties {
    values: VecDeque<Parts>,
}

impl Novelties {
    pub(super) fn clear(&mut self) {
        self.values.clear();
    }

    /// Takes the novelty of the next boundary, and the unrest of the passages around the boundary decided now,
    /// [`PEAK`] back. Returns whether that one is a join: over the adaptive threshold (Bello et al. 2005 §IV, from
    /// memory) and the highest of its neighbours.
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

/// The boundary with the steepest change among `around`: three tenths before against three after. Boundary i is
/// before cell i.
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
