//! The boundary at which a passage changes most steeply.

use super::cell::{Cell, Features};
use std::collections::VecDeque;
use std::ops::RangeInclusive;

/// Tenths compared on either side.
const NEAR: usize = 3;
/// Changes of equal weight: of level in LU, of the octave levels relative to their mean in dB, and of the side share.
const UNITS: (f64, f64, f64) = (2.5, 1.5, 0.15);

fn difference(before: &Features, after: &Features) -> f64 {
    let of = |before: Option<f64>, after: Option<f64>| before.zip(after).map_or(0.0, |(b, a)| (a - b).abs());
    let shape: f64 = before.shape.iter().zip(after.shape).map(|(before, after)| of(*before, after)).sum();
    (after.level - before.level).abs() / UNITS.0
        + shape / before.shape.len() as f64 / UNITS.1
        + of(before.width, after.width) / UNITS.2
}

/// The boundary with the steepest change among `around`. Boundary i is before cell i.
pub(super) fn steepest(cells: &VecDeque<Cell>, around: RangeInclusive<usize>) -> Option<usize> {
    let change = |at: usize| {
        let before = Features::over(cells.range(at - NEAR..at));
        let after = Features::over(cells.range(at..at + NEAR));
        difference(&before, &after)
    };
    let inside = around.filter(|at| *at >= NEAR && at + NEAR <= cells.len());
    let changes = inside.map(|at| (at, change(at)));
    changes.reduce(|best, next| if next.1 > best.1 { next } else { best }).map(|(at, _)| at)
}
