//! The position of *now*: the latest tenth that all layers have reported.

use super::layer_store::{Last, LayerStore};
use plumbline_measure::Grid;

/// How long a slower layer is waited for, in tenths.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Patience {
    /// Largest distance of *now* behind the latest tenth of the followed layer. Tenths that a slower layer has not
    /// reported by then count as silent.
    behind: i64,
    /// Largest distance of two layers in the same pass. Further apart, one has jumped and the other has not yet.
    same_pass: i64,
}

/// For the display of *now*: a slow layer does not hold it up.
pub(super) const SHOWN: Patience = Patience { behind: 5, same_pass: 30 };

/// For the history: a queue holds 4 s of audio. With a busy worker or a render running ahead, one layer may be that far
/// ahead of another.
pub(super) const KEPT: Patience = Patience { behind: 50, same_pass: 50 };

/// A member, reduced to what its position in time needs.
#[derive(Clone, Copy, Debug)]
pub(super) struct Standing<'a> {
    pub(super) own: bool,
    pub(super) running: bool,
    pub(super) store: &'a LayerStore,
}

/// The grid of the latest tenths: that of the layer that asks, otherwise that of most running layers.
pub(super) fn grid_now(members: &[Standing<'_>]) -> Option<Grid> {
    if let Some(grid) = members.iter().find(|m| m.own).and_then(|m| m.store.latest()) {
        return Some(grid);
    }
    let count = |grid: Grid, running: bool| {
        members.iter().filter(|m| m.store.latest() == Some(grid) && (m.running || !running)).count()
    };
    for running in [true, false] {
        let [song, clock] = [Grid::Song, Grid::Clock].map(|grid| count(grid, running));
        if song + clock > 0 {
            return Some(if song >= clock { Grid::Song } else { Grid::Clock });
        }
    }
    None
}

/// The last tenth of *now* on a grid: the latest that all running layers have reported, but no more than `patience`
/// behind the followed layer. That is the layer that asks or, if it is stopped, the one whose tenth arrived last.
/// *Latest* means last to arrive, so a jump back is followed at once. A layer that is ahead, as in hosts that render
/// ahead, is not followed.
pub(super) fn end(members: &[Standing<'_>], grid: Grid, patience: Patience) -> Option<i64> {
    reach(members, grid, patience).map(|(_, end)| end)
}

/// The followed layer, and where *now* ends: see [`end`].
pub(super) fn reach(members: &[Standing<'_>], grid: Grid, patience: Patience) -> Option<(Last, i64)> {
    let here = |m: &Standing<'_>| m.running && m.store.latest() == Some(grid);
    let mut there: Vec<(bool, Last)> =
        members.iter().filter(|m| here(m)).filter_map(|m| Some((m.own, m.store.last(grid)?))).collect();
    if there.is_empty() {
        there = members.iter().filter_map(|m| Some((m.own, m.store.last(grid)?))).collect();
    }
    let own = there.iter().find(|(own, _)| *own);
    let (_, followed) = own.or_else(|| there.iter().max_by_key(|(_, last)| last.count))?;
    let same_pass = |index: &i64| index.abs_diff(followed.index) <= patience.same_pass.unsigned_abs();
    let all = there.iter().map(|(_, last)| last.index).filter(same_pass).min()?;
    Some((*followed, all.max(followed.index.saturating_sub(patience.behind))))
}

#[cfg(test)]
mod tests;
