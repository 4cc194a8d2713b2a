//! The lanes' memory over time: a pyramid over tenths that can be drawn at any zoom, with the previous pass.
//!
//! # Memory
//! A page holds 64 tenths with a `Cell` and a `Former` each, and nine `Node`s over them: [`Timeline::bytes`] returns
//! the size. Six hours are kept on each grid.

mod nodes;
mod overview;

pub use overview::Overview;

use crate::paged::{PAGE, Paged, at, index_of, place};
use crate::role::PARTS;
use crate::time_lanes::{Column, Lanes, MOST_COLUMNS, MinMax, TimeWindow};
use nodes::{Cell, Cells, GROUP, Node};
use plumbline_measure::loudness::{ABSOLUTE_GATE_LUFS, mean_square_of};
use plumbline_measure::reading::Maybe;
use plumbline_measure::{Grid, Tenth};

/// Most pages kept on each grid: six hours.
const MOST_PAGES: usize = 6 * 36_000 / PAGE;

/// The position on one clock.
#[derive(Debug, Default)]
struct Progress {
    newest: i64,
    again: Option<Again>,
    last: Option<i64>,
}

/// A passage being replayed: from where the transport jumped back to, up to where it jumped from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Again {
    from: i64,
    /// The tenth after the last.
    to: i64,
}

/// Largest step back, in tenths, that counts as a lag of the host and not as a replay.
const LEAST_BACK: i64 = 5;
/// Largest distance between the ends of two passes of one loop, tenths: one tenth at either end may be heard in part.
const SAME_PASS: i64 = 2;
/// Shortest stretch shown of a replayed passage, tenths: 5 s, the closest zoom of the screen.
const LEAST_SHOWN: i64 = 50;

impl Progress {
    /// Follows the transport from one tenth to the next.
    fn follow(&mut self, before: Option<i64>, index: i64) {
        let end = before.map(|before| before.saturating_add(1));
        if let Some(to) = end.filter(|to| to.saturating_sub(index) > LEAST_BACK) {
            let same = |a: i64, b: i64| a.saturating_sub(b).abs() <= SAME_PASS;
            self.again = Some(match self.again {
                Some(known) if same(known.from, index) && same(known.to, to) => {
                    Again { from: known.from.min(index), to: known.to.max(to) }
                }
                _ => Again { from: index, to },
            });
        }
        let inside = |again: &Again| {
            let (from, to) = (again.from.saturating_sub(SAME_PASS), again.to.saturating_add(SAME_PASS));
            (from..to).contains(&index)
        };
        self.again = self.again.filter(inside);
    }
}

/// The readings of one layer over time, for the lanes.
#[derive(Debug, Default)]
pub struct Timeline {
    pages: Paged<Cells>,
    progress: [Progress; 2],
    writes: u64,
    pass: u32,
}

impl Timeline {
    /// Takes a tenth. A reading from an earlier pass becomes the former one. A jump, a stop or a loop begins a new
    /// pass.
    pub fn push(&mut self, tenth: &Tenth) {
        let (grid, index) = (tenth.grid, tenth.index);
        let progress = &mut self.progress[at(grid)];
        let last = progress.last.replace(index);
        let goes_on = last.is_some_and(|last| index == last || last.checked_add(1) == Some(index));
        self.pass = self.pass.wrapping_add(u32::from(!goes_on));
        progress.follow(last, index);
        progress.newest = index;
        self.writes += 1;
        let (cell, writes) = (Cell::of(tenth, self.pass), self.writes);
        self.pages.write(grid, index, |page, slot| page.write(slot, cell, writes));
        while self.pages.pages(grid) > MOST_PAGES {
            self.pages.drop_oldest(&[grid]);
        }
    }

    /// Takes the K-weighted mean squares of the roles in a tenth. Nothing is kept without the tenth itself.
    pub fn set_energies(&mut self, grid: Grid, index: i64, energies: [f64; PARTS]) {
        let (number, slot) = place(index);
        if let Some(page) = self.pages.page_mut(grid, number) {
            page.set_energies(slot, energies);
        }
    }

    /// The grid shown: song time as soon as there is any, as with the programme.
    pub fn grid(&self) -> Grid {
        if self.pages.pages(Grid::Song) > 0 { Grid::Song } else { Grid::Clock }
    }

    /// First tenth heard on a grid, and the one after the last. `None` if nothing was heard.
    pub fn extent(&self, grid: Grid) -> Option<[i64; 2]> {
        let [first, last] = self.pages.extent(grid)?;
        Some([first, last.saturating_add(1)])
    }

    /// Fixed edges while a passage is replayed: its end, and the first tenth heard in the stretch before it.
    fn standing(&self, grid: Grid, tenths: i64) -> Option<[i64; 2]> {
        let Progress { newest, again, .. } = self.progress[at(grid)];
        let again = again.filter(|again| again.to.saturating_sub(again.from) <= tenths)?;
        let right = again.to.max(newest.saturating_add(1));
        let left = self.first_from(grid, right.saturating_sub(tenths)).unwrap_or(again.from).min(again.from);
        let spare = LEAST_SHOWN.min(tenths).saturating_sub(right.saturating_sub(left)).max(0);
        Some([left.saturating_sub(spare / 2), right.saturating_add(spare - spare / 2)])
    }

    /// The first tenth heard at or after an index.
    fn first_from(&self, grid: Grid, index: i64) -> Option<i64> {
        self.pages.slots(grid, index..=i64::MAX).next().map(|(index, _, _)| index)
    }

    /// The lanes of a time window.
    pub fn lanes(&mut self, lens: &TimeWindow) -> Lanes {
        let grid = self.grid();
        let Some(extent) = self.extent(grid) else { return Lanes::default() };
        let newest = self.progress[at(grid)].newest;
        let tenths = lens.tenths.map(|tenths| i64::from(tenths.max(1)));
        let again = tenths.filter(|_| lens.end.is_none()).and_then(|tenths| self.standing(grid, tenths));
        let (left, right) = match (again, tenths) {
            (Some([left, right]), _) => (left, right),
            (None, None) => (extent[0], extent[1]),
            (None, Some(tenths)) => {
                let right = lens.end.unwrap_or_else(|| newest.saturating_add(1));
                (right.saturating_sub(tenths), right)
            }
        };
        let columns = i64::from(lens.columns.clamp(1, MOST_COLUMNS));
        let length = right.saturating_sub(left).max(1);
        let per = length.div_euclid(columns) + i64::from(length.rem_euclid(columns) != 0);
        let per_column = u32::try_from(per).unwrap_or(u32::MAX);
        let per = i64::from(per_column);
        let first = left.div_euclid(per).saturating_mul(per);
        let shown = right.saturating_sub(first);
        let count = (shown.div_euclid(per) + i64::from(shown.rem_euclid(per) != 0)).clamp(1, columns + 2);
        let mut nodes = vec![Node::default(); usize::try_from(count).unwrap_or(1)];
        let column_of = |index: i64| usize::try_from(index.saturating_sub(first).div_euclid(per)).ok();
        let last = first.saturating_add(count.saturating_mul(per)).saturating_sub(1).max(first);
        for (number, page) in self.pages.range_mut(grid, &(first..=last)) {
            page.settle();
            let start = index_of(number, 0);
            let mut add = |index: i64, length: usize, node: &Node| -> bool {
                let end = index.saturating_add(length as i64 - 1);
                let (Some(a), Some(b)) = (column_of(index), column_of(end)) else { return false };
                if a == b
                    && let Some(column) = nodes.get_mut(a)
                {
                    column.merge(node);
                }
                a == b
            };
            if index_in(start, first) && add(start, PAGE, page.whole()) {
                continue;
            }
            for group in 0..PAGE / GROUP {
                let index = start.saturating_add((group * GROUP) as i64);
                if index_in(index, first) && add(index, GROUP, page.group(group)) {
                    continue;
                }
                for slot in group * GROUP..(group + 1) * GROUP {
                    let index = start.saturating_add(slot as i64);
                    if index >= first
                        && let Some(node) = page.node(slot)
                    {
                        add(index, 1, &node);
                    }
                }
            }
        }
        Lanes {
            grid,
            first,
            per_column,
            left,
            right,
            columns: nodes.iter().map(Node::column).collect(),
            extent,
            follows: lens.end.is_none(),
            again: again.is_some(),
            newest,
        }
    }

    /// Bytes of the pages, without the trees around them.
    pub fn bytes(&self) -> usize {
        self.pages.bytes()
    }
}

fn index_in(index: i64, first: i64) -> bool {
    index >= first
}

impl Node {
    fn column(&self) -> Column {
        if self.tenths == 0 {
            return Column::default();
        }
        let total: f64 = self.energies.iter().sum();
        let least = mean_square_of(ABSOLUTE_GATE_LUFS) * f64::from(self.tenths);
        let share = |energy: f64| Maybe::new((self.told && total > least).then(|| energy / total));
        let reach = |[low, high]: [f32; 2]| {
            let value = |x: f32| Maybe::new((low <= high).then_some(f64::from(x)));
            MinMax { low: value(low), high: value(high) }
        };
        Column {
            tenths: self.tenths,
            broken: self.broken,
            momentary: reach(self.momentary),
            short_term: reach(self.short_term),
            width: reach(self.width),
            correlation: reach(self.correlation).low,
            shares: self.energies.map(share),
            former_short_term: reach(self.former_short_term),
            former_width: reach(self.former_width),
        }
    }
}

#[cfg(test)]
mod tests;
