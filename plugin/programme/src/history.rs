//! An hour of tenths of one layer.
//!
//! # Memory
//! A tenth takes `size_of::<Tenth>()` bytes, a page 64 of them and a few words. A full hour is 36 000 tenths. At most
//! [`MOST_PAGES`] pages exist: 563 for an hour in one piece, one more if it begins inside a page, and one just begun.
//! Memory grows with what was heard: [`History::bytes`] returns the size.

use crate::balance::Mark;
use crate::paged::{GRIDS, PAGE, Page, Paged, index_of, mask_of, ones};
use crate::stats::Summary;
use plumbline_measure::{BandEdges, Grid, Tenth};
use std::ops::{Range, RangeInclusive};

/// Most tenths kept: one hour.
pub const MOST_TENTHS: usize = 36_000;
/// Most pages kept.
pub const MOST_PAGES: usize = MOST_TENTHS.div_ceil(PAGE) + 2;

/// The last hour of tenths; song time and clock time are kept apart.
///
/// A later pass over the same song time replaces the earlier tenth, unless less of it was heard this time. When the
/// hour is full, the page written longest ago is dropped first, so a passage that is worked on repeatedly stays.
#[derive(Debug, Default)]
pub struct History {
    pages: Paged<Tenths>,
    /// Number of writes; the age of a page is the number at its last write.
    writes: u64,
    /// Number of resets so far.
    epoch: u32,
    last: Option<(Grid, i64)>,
}

#[derive(Debug)]
struct Tenths {
    tenths: [Tenth; PAGE],
    epochs: [u32; PAGE],
    /// Sums over its tenths since reset; `None` after a change.
    summary: Option<Box<Summary>>,
}

impl Default for Tenths {
    fn default() -> Self {
        Self { tenths: [Tenth::default(); PAGE], epochs: [0; PAGE], summary: None }
    }
}

impl History {
    /// An empty history. Allocates nothing.
    pub fn new() -> Self {
        Self::default()
    }

    /// Keeps a tenth. Returns whether it was kept: not if more of the same tenth was heard before.
    pub fn push(&mut self, tenth: &Tenth) -> bool {
        let (writes, epoch) = (self.writes + 1, self.epoch);
        let kept = self.pages.write(tenth.grid, tenth.index, |page, slot| {
            if page.has(slot) && share_heard(tenth, &page.tenths[slot]) == std::cmp::Ordering::Less {
                return false;
            }
            page.tenths[slot] = *tenth;
            page.epochs[slot] = epoch;
            page.used |= 1 << slot;
            page.summary = None;
            page.written = writes;
            true
        });
        if kept {
            self.writes = writes;
            self.last = Some((tenth.grid, tenth.index));
            let pages = |pages: &Paged<Tenths>| GRIDS.map(|grid| pages.pages(grid)).iter().sum::<usize>();
            while self.len() > MOST_TENTHS || pages(&self.pages) > MOST_PAGES {
                self.pages.drop_oldest(&GRIDS);
            }
        }
        kept
    }

    /// The tenth with that index, if it was heard.
    pub fn get(&self, grid: Grid, index: i64) -> Option<&Tenth> {
        self.pages.get(grid, index).map(|(page, slot)| &page.tenths[slot])
    }

    /// Whether the tenth with that index was heard since the last reset.
    pub fn is_since_reset(&self, grid: Grid, index: i64) -> bool {
        self.pages.get(grid, index).is_some_and(|(page, slot)| page.epochs[slot] == self.epoch)
    }

    /// The tenths heard in a range of indices, ascending.
    pub fn range(&self, grid: Grid, indices: Range<i64>) -> impl Iterator<Item = &Tenth> {
        // An empty or reversed range becomes `1..=0`, which is empty too.
        let range = indices.start..=indices.end.saturating_sub(1);
        let range = if indices.is_empty() { RangeInclusive::new(1, 0) } else { range };
        self.pages.slots(grid, range).map(|(_, page, slot)| &page.tenths[slot])
    }

    /// The tenths heard among the `n` cells up to the last one written, on its grid, ascending. After a jump back these
    /// are the tenths before the new position.
    pub fn newest(&self, n: usize) -> impl Iterator<Item = &Tenth> {
        let (grid, index) = self.last.unwrap_or_default();
        let end = index.saturating_add(i64::from(self.last.is_some()));
        self.range(grid, end.saturating_sub(i64::try_from(n).unwrap_or(i64::MAX))..end)
    }

    /// Adds to a summary the tenths of a range heard since the last reset. Whole pages are summed once.
    pub fn summarise(
        &mut self,
        grid: Grid,
        range: &RangeInclusive<i64>,
        edges: &BandEdges,
        summary: &mut Summary,
    ) {
        if range.is_empty() {
            return;
        }
        let epoch = self.epoch;
        for (number, page) in self.pages.range_mut(grid, range) {
            let (first, last) = (index_of(number, 0), index_of(number, PAGE - 1));
            let counts = |page: &Page<Tenths>, slot: &usize| page.epochs[*slot] == epoch;
            if !(range.contains(&first) && range.contains(&last)) {
                ones(page.used & mask_of(number, range))
                    .filter(|slot| counts(page, slot))
                    .for_each(|slot| summary.add(&page.tenths[slot], edges));
                continue;
            }
            if page.summary.is_none() {
                let mut sum = Box::<Summary>::default();
                let slots = ones(page.used).filter(|slot| counts(page, slot));
                slots.for_each(|slot| sum.add(&page.tenths[slot], edges));
                page.summary = Some(sum);
            }
            if let Some(sum) = &page.summary {
                summary.merge(sum);
            }
        }
    }

    /// Discards all page sums, for example after the band edges moved.
    pub fn forget_sums(&mut self) {
        self.pages.all_mut().for_each(|page| page.summary = None);
    }

    /// The tenth of a mark, or the nearest heard before it, at most `most` tenths earlier.
    pub fn near(&self, at: Mark, most: i64) -> Option<Mark> {
        let back = |k: i64| Mark { index: at.index.saturating_sub(k), ..at };
        (0..=most).map(back).find(|mark| self.get(mark.grid, mark.index).is_some())
    }

    /// Number of tenths kept.
    pub fn len(&self) -> usize {
        GRIDS.map(|grid| self.pages.len(grid)).iter().sum()
    }

    /// Whether nothing is kept.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Bytes of the pages and of the sums over them.
    pub fn bytes(&self) -> usize {
        let of = |grid| self.pages.range(grid, &(i64::MIN..=i64::MAX));
        let sums = GRIDS.into_iter().flat_map(of).filter(|(_, page)| page.summary.is_some()).count();
        self.pages.bytes() + sums * size_of::<Summary>()
    }

    /// Number of resets so far. Tenths survive a reset; [`Self::is_since_reset`] returns whether one is newer.
    pub fn epoch(&self) -> u32 {
        self.epoch
    }

    /// Notes a reset.
    pub fn mark_reset(&mut self) {
        self.epoch = self.epoch.wrapping_add(1);
        self.forget_sums();
    }
}

/// Compares the shares heard of two tenths. Their lengths differ if the sample rate changed in between.
fn share_heard(a: &Tenth, b: &Tenth) -> std::cmp::Ordering {
    let cross = |x: &Tenth, y: &Tenth| u64::from(x.sums.frames) * u64::from(y.length.max(1));
    cross(a, b).cmp(&cross(b, a))
}

#[cfg(test)]
mod tests;
