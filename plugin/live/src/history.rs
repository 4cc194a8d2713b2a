//! An hour of tenths of one layer.
//!
//! # Memory
//! A tenth takes `size_of::<Tenth>()` bytes, a page 64 of them and a word or two; a full hour is 36 000 tenths,
//! and at most [`MOST_PAGES`] pages exist at any time: 563 that an hour takes when it is in one piece, one more
//! where it begins inside a page, and one being begun. A layer that has heard little takes little:
//! [`History::bytes`] tells.

use plumbline_measure::{BandEdges, Grid, Tenth};
use plumbline_programme::{Mark, Summary};
use std::collections::BTreeMap;
use std::ops::{Range, RangeInclusive};

/// Most tenths kept: one hour.
pub const MOST_TENTHS: usize = 36_000;
/// Tenths a page.
const PAGE: usize = 64;
/// Most pages kept.
pub const MOST_PAGES: usize = MOST_TENTHS.div_ceil(PAGE) + 2;

/// The newest hour of tenths, song and clock kept apart.
///
/// A later pass over the same song time replaces the earlier tenth, unless less of it was heard this time. When
/// the hour is full, the page that was written longest ago goes first, so that a passage worked on over and over
/// stays.
#[derive(Debug, Default)]
pub struct History {
    pages: BTreeMap<(Grid, i64), Box<Page>>,
    len: usize,
    /// Counts writes: the age of a page is the count of its last one.
    writes: u64,
    /// Resets so far.
    epoch: u32,
    last: Option<(Grid, i64)>,
}

#[derive(Debug)]
struct Page {
    tenths: [Tenth; PAGE],
    epochs: [u32; PAGE],
    /// Bit k tells that tenth k is there.
    used: u64,
    written: u64,
    /// Sums over its tenths since reset, when they are still true.
    summary: Option<Box<Summary>>,
}

impl Page {
    fn new() -> Box<Self> {
        Box::new(Self {
            tenths: [Tenth::default(); PAGE],
            epochs: [0; PAGE],
            used: 0,
            written: 0,
            summary: None,
        })
    }

    fn get(&self, slot: usize) -> Option<&Tenth> {
        (self.used >> slot & 1 == 1).then(|| &self.tenths[slot])
    }
}

/// Page and slot of an index.
fn place(index: i64) -> (i64, usize) {
    let slot = usize::try_from(index.rem_euclid(PAGE as i64)).unwrap_or(0);
    (index.div_euclid(PAGE as i64), slot)
}

impl History {
    /// An empty history. Allocates nothing yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Keeps a tenth. Returns whether it was kept: not when more of the same tenth had been heard before.
    pub fn push(&mut self, tenth: &Tenth) -> bool {
        let (number, slot) = place(tenth.index);
        let page = self.pages.entry((tenth.grid, number)).or_insert_with(Page::new);
        let known = page.get(slot);
        if known.is_some_and(|k| share_heard(tenth, k) == std::cmp::Ordering::Less) {
            return false;
        }
        self.len += usize::from(known.is_none());
        self.writes += 1;
        page.tenths[slot] = *tenth;
        page.epochs[slot] = self.epoch;
        page.used |= 1 << slot;
        page.summary = None;
        page.written = self.writes;
        self.last = Some((tenth.grid, tenth.index));
        while self.len > MOST_TENTHS || self.pages.len() > MOST_PAGES {
            self.evict();
        }
        true
    }

    /// Lets go of the page written longest ago.
    fn evict(&mut self) {
        let oldest = self.pages.iter().min_by_key(|(_, page)| page.written).map(|(key, _)| *key);
        if let Some(page) = oldest.and_then(|key| self.pages.remove(&key)) {
            self.len -= page.used.count_ones() as usize;
        }
    }

    /// The tenth of that index, if it was heard.
    pub fn get(&self, grid: Grid, index: i64) -> Option<&Tenth> {
        let (number, slot) = place(index);
        self.pages.get(&(grid, number))?.get(slot)
    }

    /// Whether the tenth of that index is there and was heard since the last reset.
    pub fn is_since_reset(&self, grid: Grid, index: i64) -> bool {
        let (number, slot) = place(index);
        let page = self.pages.get(&(grid, number));
        page.is_some_and(|p| p.get(slot).is_some() && p.epochs[slot] == self.epoch)
    }

    /// The tenths that were heard of a range of indices, ascending.
    pub fn range(&self, grid: Grid, indices: Range<i64>) -> impl Iterator<Item = &Tenth> {
        // An empty or reversed range has no last index; the page range of it is empty as well.
        let last = if indices.start < indices.end { indices.end - 1 } else { indices.start };
        let pages = (grid, place(indices.start).0)..=(grid, place(last).0);
        self.pages
            .range(pages)
            .flat_map(|(_, page)| (0..PAGE).filter_map(|slot| page.get(slot)))
            .filter(move |t| indices.contains(&t.index))
    }

    /// The tenths heard of the `n` cells that end with the one written last, on its grid, ascending. After a jump
    /// back these are the tenths that lead up to the new place.
    pub fn newest(&self, n: usize) -> impl Iterator<Item = &Tenth> {
        let (grid, index) = self.last.unwrap_or_default();
        let end = index.saturating_add(i64::from(self.last.is_some()));
        self.range(grid, end.saturating_sub(i64::try_from(n).unwrap_or(i64::MAX))..end)
    }

    /// Adds the tenths of a range that were heard since the last reset to a summary. Whole pages are summed once.
    pub(crate) fn summarise(
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
        let pages = (grid, place(*range.start()).0)..=(grid, place(*range.end()).0);
        for ((_, number), page) in self.pages.range_mut(pages) {
            let first = number.saturating_mul(PAGE as i64);
            let inside = range.contains(&first) && range.contains(&first.saturating_add(PAGE as i64 - 1));
            let counts = |page: &Page, slot: usize| page.used >> slot & 1 == 1 && page.epochs[slot] == epoch;
            if inside {
                if page.summary.is_none() {
                    let mut sum = Box::<Summary>::default();
                    (0..PAGE).filter(|s| counts(page, *s)).for_each(|s| sum.add(&page.tenths[s], edges));
                    page.summary = Some(sum);
                }
                if let Some(sum) = &page.summary {
                    summary.merge(sum);
                }
                continue;
            }
            (0..PAGE)
                .filter(|slot| counts(page, *slot) && range.contains(&page.tenths[*slot].index))
                .for_each(|slot| summary.add(&page.tenths[slot], edges));
        }
    }

    /// Forgets sums, as where the edges of the bands moved.
    pub(crate) fn forget_sums(&mut self) {
        self.pages.values_mut().for_each(|page| page.summary = None);
    }

    /// The tenth of a mark, or the nearest one before it that was heard, at most `most` before.
    pub(crate) fn near(&self, at: Mark, most: i64) -> Option<Mark> {
        let back = |k: i64| Mark { index: at.index.saturating_sub(k), ..at };
        (0..=most).map(back).find(|mark| self.get(mark.grid, mark.index).is_some())
    }

    /// Tenths kept.
    pub fn len(&self) -> usize {
        self.len
    }

    /// Whether nothing is kept.
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// Bytes of the pages: their number times a page's size, and of sums over them. The tree around them is not counted (a few words a
    /// page).
    pub fn bytes(&self) -> usize {
        let sums = self.pages.values().filter(|page| page.summary.is_some()).count();
        self.pages.len() * size_of::<Page>() + sums * size_of::<Summary>()
    }

    /// Resets so far. Tenths stay over a reset; [`Self::is_since_reset`] tells them apart.
    pub fn epoch(&self) -> u32 {
        self.epoch
    }

    /// Marks a reset.
    pub(crate) fn mark_reset(&mut self) {
        self.epoch = self.epoch.wrapping_add(1);
        self.forget_sums();
    }
}

/// Compares the shares heard of two tenths; lengths differ where the sample rate changed in between.
fn share_heard(a: &Tenth, b: &Tenth) -> std::cmp::Ordering {
    let cross = |x: &Tenth, y: &Tenth| u64::from(x.sums.frames) * u64::from(y.length.max(1));
    cross(a, b).cmp(&cross(b, a))
}

#[cfg(test)]
mod tests;
