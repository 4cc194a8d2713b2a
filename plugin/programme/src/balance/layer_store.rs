//! The store of one layer: an hour of tenths on each grid, its position, and its latest stereo sums.
//!
//! # Memory
//! A page takes `size_of::<Page>()` bytes; a full hour takes 2.6 MB. Song time and clock time have an hour each.

use super::layer_page::{Cells, Page, add_thirds};
use crate::paged::{PAGE, Paged, at, mask_of, ones, place};
use plumbline_measure::bands::{THIRDS, WINDOWS};
use plumbline_measure::cross::StereoPower;
use plumbline_measure::{Digest, Grid};
use std::collections::VecDeque;
use std::ops::RangeInclusive;

/// Most tenths kept of a layer on each grid: one hour.
pub(super) const MOST_TENTHS: usize = 36_000;
/// Most pages of a layer on each grid: those of an hour, one more if it begins inside a page, and one just begun.
pub(super) const MOST_PAGES: usize = MOST_TENTHS.div_ceil(PAGE) + 2;
/// Latest tenths whose stereo sums are kept: 3 s, and 0.6 s more for layers that lag.
const RECENT: usize = 36;

/// The position of a layer on a grid.
#[derive(Clone, Copy, Debug)]
pub(super) struct Last {
    /// Index of the tenth that arrived last; not always the largest.
    pub(super) index: i64,
    /// When it arrived, by count.
    pub(super) count: u64,
    /// First index of the unbroken run that contains it, and when that arrived, by count.
    pub(super) first: i64,
    pub(super) run: u64,
}

/// The store of one layer.
#[derive(Debug, Default)]
pub(super) struct LayerStore {
    pages: Paged<Cells>,
    last: [Option<Last>; 2],
    latest: Option<Grid>,
    sang: bool,
    recent: VecDeque<(Grid, i64, StereoPower)>,
    touched: u64,
}

/// Stereo power of a tenth, summed over the thirds.
fn stereo(digest: &Digest) -> StereoPower {
    digest.thirds.iter().map(|third| StereoPower::from(*third)).sum()
}

impl LayerStore {
    /// Takes a tenth. Calls `changed` with the grid and number of every page that changed.
    pub(super) fn take(&mut self, digest: &Digest, count: u64, mut changed: impl FnMut(Grid, i64)) {
        let (grid, slot_of) = (digest.grid, at(digest.grid));
        let goes_on = self.last[slot_of].filter(|last| last.index.checked_add(1) == Some(digest.index));
        let (first, run) = goes_on.map_or((digest.index, count), |last| (last.first, last.run));
        self.last[slot_of] = Some(Last { index: digest.index, count, first, run });
        self.latest = Some(grid);
        self.sang |= grid == Grid::Song;
        self.touched = count;
        self.remember(digest);

        if !self.pages.write(grid, digest.index, |page, slot| page.write(slot, digest, count)) {
            return;
        }
        changed(grid, place(digest.index).0);
        while self.pages.len(grid) > MOST_TENTHS || self.pages.pages(grid) > MOST_PAGES {
            let Some((grid, oldest)) = self.pages.drop_oldest(&[grid]) else { break };
            changed(grid, oldest);
        }
    }

    /// Silences the tenths of a range. Calls `changed` with the grid and number of every page that changed.
    pub(super) fn silence(
        &mut self,
        grid: Grid,
        range: &RangeInclusive<i64>,
        mut changed: impl FnMut(Grid, i64),
    ) {
        for (number, page) in self.pages.range_mut(grid, range) {
            if page.silence(mask_of(number, range)) {
                changed(grid, number);
            }
        }
        let inside = self.recent.iter_mut().filter(|(of, index, _)| *of == grid && range.contains(index));
        inside.for_each(|(_, _, sum)| *sum = StereoPower::default());
    }

    /// Restores the sound of a silenced tenth. The position of the layer stays as it is.
    pub(super) fn restore(&mut self, digest: &Digest, count: u64, mut changed: impl FnMut(Grid, i64)) {
        let (number, slot) = place(digest.index);
        let Some(page) = self.pages.page_mut(digest.grid, number) else { return };
        if page.has(slot) && page.write(slot, digest, count) {
            changed(digest.grid, number);
        }
        let sum = stereo(digest);
        let same =
            |(grid, index, _): &&mut (Grid, i64, StereoPower)| (*grid, *index) == (digest.grid, digest.index);
        self.recent.iter_mut().filter(same).for_each(|(_, _, kept)| *kept = sum);
    }

    /// Keeps the stereo sum of a tenth in which every window had a frame.
    fn remember(&mut self, digest: &Digest) {
        let all = (1 << WINDOWS) - 1;
        let sum = stereo(digest);
        if digest.heard & all != all || ![sum.ll, sum.rr, sum.re].iter().all(|x| x.is_finite()) {
            return;
        }
        let key = (digest.grid, digest.index);
        self.recent.retain(|(grid, index, _)| (*grid, *index) != key);
        self.recent.push_back((key.0, key.1, sum));
        if self.recent.len() > RECENT {
            self.recent.pop_front();
        }
    }

    /// Discards all measurements. Still remembers whether the layer ever reported song time.
    pub(super) fn clear(&mut self) {
        *self = Self { sang: self.sang, touched: self.touched, ..Self::default() };
    }

    /// The position of the layer on a grid.
    pub(super) fn last(&self, grid: Grid) -> Option<Last> {
        self.last[at(grid)]
    }

    /// The grid of the tenth that arrived last.
    pub(super) fn latest(&self) -> Option<Grid> {
        self.latest
    }

    /// Whether the layer ever reported song time.
    pub(super) fn sang(&self) -> bool {
        self.sang
    }

    /// When its last tenth arrived, by count.
    pub(super) fn touched(&self) -> u64 {
        self.touched
    }

    /// Whether it has tenths on a grid.
    pub(super) fn has(&self, grid: Grid) -> bool {
        self.pages.len(grid) > 0
    }

    /// Its pages.
    pub(super) fn pages(&self) -> &Paged<Cells> {
        &self.pages
    }

    /// A page, mutable, to update its sums.
    pub(super) fn page_mut(&mut self, grid: Grid, number: i64) -> Option<&mut Page> {
        self.pages.page_mut(grid, number)
    }

    /// Mean stereo power over 20 Hz to 20 kHz, of the latest tenths in a range.
    pub(super) fn stereo(&self, grid: Grid, range: &RangeInclusive<i64>) -> Option<StereoPower> {
        let inside = self.recent.iter().filter(|(g, index, _)| *g == grid && range.contains(index));
        let (sum, count) =
            inside.fold((StereoPower::default(), 0_u32), |(sum, count), (_, _, one)| (sum + *one, count + 1));
        (count > 0).then(|| sum * (1.0 / f64::from(count)))
    }

    /// Sum of each third over the tenths of a range, and for each window the number of tenths without a frame of it.
    pub(super) fn thirds(&self, grid: Grid, range: &RangeInclusive<i64>) -> ([f64; THIRDS], [u32; WINDOWS]) {
        let (mut sums, mut unmeasured) = ([0.0; THIRDS], [0; WINDOWS]);
        for (number, page) in self.pages.range(grid, range) {
            for slot in ones(page.used & mask_of(number, range)) {
                add_thirds(&mut sums, &page.thirds[slot]);
                for (window, count) in unmeasured.iter_mut().enumerate() {
                    *count += u32::from(page.windows[slot] >> window & 1 == 0);
                }
            }
        }
        (sums, unmeasured)
    }

    /// Bytes of the pages and of the latest stereo sums.
    pub(super) fn bytes(&self) -> usize {
        self.pages.bytes() + self.recent.capacity() * size_of::<(Grid, i64, StereoPower)>()
    }
}
