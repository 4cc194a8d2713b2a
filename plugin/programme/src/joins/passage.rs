//! The tenths of the current run as passages: their windows, the evidence at a boundary, and how a sound ends.

use super::cell::{BLOCK, Cell};
use super::evidence::Evidence;
use super::window::{Distance, LEAST, MOST, Window};
use std::collections::VecDeque;

/// Tenths of a full window.
pub(super) const FULL: usize = 20;
/// Tenths before a boundary that belong to the passage at most.
pub(super) const REMEMBERED: usize = 100;
/// Tenths after a join from which on its passage is the one that a boundary is compared with.
const SETTLED: usize = 12;
/// Tenths between the windows that are compared.
const STEP: usize = 5;
/// Tenths before and after a boundary in which a pause rules out a join, the tenths of such a pause, and how far it is
/// under the louder side, LU.
const AROUND: usize = 10;
const PAUSE: usize = 3;
const PAUSE_LU: f64 = 35.0;
/// Tenths over which the loudest third sets the floor of the levels.
const FLOOR: usize = 30;
/// Tenths, most of them with sound, before a silence that cuts a passage off: a shorter sound is a note and its end.
const LASTING: usize = 45;
/// A sound dies away before a silence if it falls by more than this within its last second, LU, or is under this level,
/// LUFS.
const DYING_LU: f64 = 6.0;
const CUT_LUFS: f64 = -50.0;

/// Sets the levels and the window of the newest tenth.
pub(super) fn complete(cells: &mut VecDeque<Cell>, run_length: usize) {
    let count = cells.len();
    let lately = cells.range(count - run_length.min(FLOOR)..);
    let loudest = lately.map(Cell::loudest).fold(0.0, f32::max);
    let Some(newest) = cells.back_mut() else { return };
    newest.set_levels(loudest);
    if newest.is_whole() {
        let (images, levels) = (newest.images, newest.levels);
        let earlier = cells.range_mut(count - run_length..count - 1).rev();
        earlier.take_while(|cell| !cell.is_whole()).for_each(|cell| cell.complete_from(&images, &levels));
    }
    if run_length < FULL {
        return;
    }
    let window = Window::of(cells.range(count - FULL..));
    let change = (run_length >= 2 * FULL).then(|| cells[count - 1 - FULL].window.as_ref());
    let change = change.flatten().zip(window.as_ref()).map(|(before, after)| before.distance(after));
    if let Some(newest) = cells.back_mut() {
        (newest.window, newest.change) = (window, change);
    }
}

/// The evidence at the boundary before cell `at` as a score, over 0 for a join; `None` if there is too little to
/// compare.
pub(super) fn score(cells: &VecDeque<Cell>, run_length: usize, at: usize) -> Option<f64> {
    let (first, end) = (cells.len() - run_length, cells.len());
    let begins = (first..(at + 1).saturating_sub(SETTLED)).rev().find(|i| cells[*i].begins);
    let start = begins.unwrap_or(first).max(at.saturating_sub(REMEMBERED));
    let length = at.checked_sub(start).filter(|length| *length >= LEAST)?;
    // The full windows are kept; shorter ones, near an edge, are made here.
    let full = |end: usize| cells.get(end - 1).and_then(|cell| cell.window.as_ref());
    let made = |from: usize, to: usize| Window::of(cells.range(from..to));
    let (short_before, short_after);
    let before = if length >= FULL {
        full(at)?
    } else {
        short_before = made(start, at)?;
        &short_before
    };
    let after = if at + FULL <= end {
        full(at + FULL)?
    } else {
        short_after = made(at, end)?;
        &short_after
    };
    let quiet = before.mean.max(after.mean) - PAUSE_LU;
    let mut pause = 0;
    for cell in cells.range(at.saturating_sub(AROUND).max(start)..(at + AROUND).min(end)) {
        pause = if cell.features.level < quiet { pause + 1 } else { 0 };
        if pause == PAUSE {
            return None;
        }
    }
    let long_before = made(start.max(at.saturating_sub(MOST)), at)?;
    let long_after = made(at, end.min(at + MOST))?;
    let here = before.distance(after);
    let earlier = (1..).map(|n| at.saturating_sub(n * STEP)).take_while(|end| *end >= start + FULL);
    let past = earlier.filter_map(full).map(|window| window.distance(after));
    let past: Vec<Distance> = std::iter::once(here).chain(past).collect();
    let later = (at + FULL + STEP..=end.min(at + MOST)).step_by(STEP);
    let future = later.filter_map(full).map(|window| before.distance(window));
    let future: Vec<Distance> = std::iter::once(here).chain(future).collect();
    let evidence = Evidence {
        before,
        after,
        long_before: &long_before,
        long_after: &long_after,
        past: &past,
        future: &future,
        unrest: unrest(cells, start, at),
        length,
    };
    Some(evidence.score())
}

/// The median of how much the passage changes from 2 s to the next 2 s: spread, image, level, thirds.
fn unrest(cells: &VecDeque<Cell>, start: usize, at: usize) -> Option<[f64; 4]> {
    let ends = (0..).map(|n| at.saturating_sub(n * STEP)).take_while(|end| *end >= start + 2 * FULL);
    let changes: Vec<Distance> = ends.filter_map(|end| cells[end - 1].change).collect();
    let middle = |of: fn(&Distance) -> f64| {
        let mut sorted: Vec<f64> = changes.iter().map(of).collect();
        sorted.sort_unstable_by(f64::total_cmp);
        sorted.get(sorted.len() / 2).copied()
    };
    Some([middle(|d| d.spread)?, middle(|d| d.image)?, middle(|d| d.level)?, middle(|d| d.thirds)?])
}

/// Whether the silence from cell `at` on cuts a passage off, instead of being the end of a sound: that lasted and did
/// not decay. The last tenth may hold little of it.
pub(super) fn is_cut_off(cells: &VecDeque<Cell>, run_length: usize, at: usize) -> bool {
    let before = at - (cells.len() - run_length);
    if before < LASTING {
        return false;
    }
    let level = |from: usize, to: usize| {
        let levels = cells.range(from..to).map(|cell| cell.features.level);
        levels.sum::<f64>() / (to - from) as f64
    };
    let sounding = cells.range(at - LASTING..at).filter(|cell| cell.features.sounds()).count();
    let last = level(at - 3, at - 1);
    2 * sounding > LASTING && last >= CUT_LUFS && level(at - BLOCK, at - BLOCK / 2) - last <= DYING_LU
}

/// Whether the silence before cell `at` began with a join, or with the run.
pub(super) fn silence_is_a_passage(cells: &VecDeque<Cell>, run_length: usize, at: usize) -> bool {
    let first = cells.len() - run_length;
    let start = (first..at).rev().take_while(|i| !cells[*i].features.sounds()).last();
    start.is_none_or(|start| start == first || cells[start].begins)
}
