//! A store of tenths: pages of 64 slots, one slot for each index on each clock.

use plumbline_measure::Grid;
use std::collections::BTreeMap;
use std::ops::{Deref, DerefMut, RangeInclusive};

/// Slots per page: one for each bit of a word.
pub const PAGE: usize = 64;

/// Number of the page that holds an index, and its slot there.
pub(crate) fn place(index: i64) -> (i64, usize) {
    (index.div_euclid(PAGE as i64), usize::try_from(index.rem_euclid(PAGE as i64)).unwrap_or(0))
}

/// Index of a slot.
pub(crate) fn index_of(number: i64, slot: usize) -> i64 {
    number.saturating_mul(PAGE as i64).saturating_add(i64::try_from(slot).unwrap_or(0))
}

/// Bits of the slots of a page that are in a range of indices.
pub(crate) fn mask_of(number: i64, range: &RangeInclusive<i64>) -> u64 {
    let first = index_of(number, 0);
    let low = range.start().saturating_sub(first).max(0);
    let high = range.end().saturating_sub(first).min(PAGE as i64 - 1);
    if low > high {
        return 0;
    }
    let ones = u64::MAX >> (PAGE as i64 - 1 - (high - low));
    ones << low
}

/// The slots whose bits are set, ascending.
pub(crate) fn ones(mut bits: u64) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let at = bits.trailing_zeros() as usize;
        bits &= bits.wrapping_sub(1);
        (at < PAGE).then_some(at)
    })
}

/// A page: 64 consecutive slots and their contents.
#[derive(Clone, Debug, Default)]
pub(crate) struct Page<T> {
    body: T,
    /// Bit k: slot k is used.
    pub(crate) used: u64,
    /// Write count at the last write.
    pub(crate) written: u64,
}

impl<T> Page<T> {
    /// Whether a slot is used.
    pub(crate) fn has(&self, slot: usize) -> bool {
        self.used >> slot & 1 == 1
    }
}

impl<T> Deref for Page<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.body
    }
}

impl<T> DerefMut for Page<T> {
    fn deref_mut(&mut self) -> &mut T {
        &mut self.body
    }
}

/// Pages by clock and number.
#[derive(Clone, Debug)]
pub(crate) struct Paged<T> {
    /// Song and clock.
    pages: [BTreeMap<i64, Box<Page<T>>>; 2],
    /// Used slots on each clock.
    used: [usize; 2],
}

impl<T> Default for Paged<T> {
    fn default() -> Self {
        Self { pages: [BTreeMap::new(), BTreeMap::new()], used: [0; 2] }
    }
}

/// Both clocks, in the order of every array of clocks.
pub(crate) const GRIDS: [Grid; 2] = [Grid::Song, Grid::Clock];

/// Index of a clock in an array of clocks.
pub(crate) fn at(grid: Grid) -> usize {
    match grid {
        Grid::Song => 0,
        Grid::Clock => 1,
    }
}

fn numbers(range: &RangeInclusive<i64>) -> RangeInclusive<i64> {
    let (low, high) = (place(*range.start()).0, place(*range.end()).0);
    low..=high.max(low)
}

impl<T: Default> Paged<T> {
    /// Changes the page and slot of an index; creates the page if necessary.
    pub(crate) fn write<R>(
        &mut self,
        grid: Grid,
        index: i64,
        write: impl FnOnce(&mut Page<T>, usize) -> R,
    ) -> R {
        let (number, slot) = place(index);
        let page = self.pages[at(grid)].entry(number).or_default();
        let before = page.used.count_ones() as usize;
        let result = write(page, slot);
        self.used[at(grid)] = self.used[at(grid)] + page.used.count_ones() as usize - before;
        result
    }
}

impl<T> Paged<T> {
    /// Used slots on a clock.
    pub(crate) fn len(&self, grid: Grid) -> usize {
        self.used[at(grid)]
    }

    /// Pages of a clock.
    pub(crate) fn pages(&self, grid: Grid) -> usize {
        self.pages[at(grid)].len()
    }

    /// Bytes of all pages, without the trees around them (a few words per page).
    pub(crate) fn bytes(&self) -> usize {
        GRIDS.iter().map(|grid| self.pages(*grid)).sum::<usize>() * size_of::<Page<T>>()
    }

    /// A page by its number.
    pub(crate) fn page(&self, grid: Grid, number: i64) -> Option<&Page<T>> {
        self.pages[at(grid)].get(&number).map(|page| &**page)
    }

    /// A page by its number, mutable. Do not change which slots are used.
    pub(crate) fn page_mut(&mut self, grid: Grid, number: i64) -> Option<&mut Page<T>> {
        self.pages[at(grid)].get_mut(&number).map(|page| &mut **page)
    }

    /// The page and slot of an index, if the slot is used.
    pub(crate) fn get(&self, grid: Grid, index: i64) -> Option<(&Page<T>, usize)> {
        let (number, slot) = place(index);
        self.page(grid, number).filter(|page| page.has(slot)).map(|page| (page, slot))
    }

    /// The pages that overlap a range of indices, ascending, each with its number.
    pub(crate) fn range(
        &self,
        grid: Grid,
        range: &RangeInclusive<i64>,
    ) -> impl Iterator<Item = (i64, &Page<T>)> + use<'_, T> {
        self.pages[at(grid)].range(numbers(range)).map(|(number, page)| (*number, &**page))
    }

    /// As [`Self::range`], mutable.
    pub(crate) fn range_mut(
        &mut self,
        grid: Grid,
        range: &RangeInclusive<i64>,
    ) -> impl Iterator<Item = (i64, &mut Page<T>)> + use<'_, T> {
        self.pages[at(grid)].range_mut(numbers(range)).map(|(number, page)| (*number, &mut **page))
    }

    /// Index, page and slot of each used slot in a range of indices, ascending.
    pub(crate) fn slots(
        &self,
        grid: Grid,
        range: RangeInclusive<i64>,
    ) -> impl Iterator<Item = (i64, &Page<T>, usize)> + use<'_, T> {
        self.range(grid, &range).flat_map(move |(number, page)| {
            ones(page.used & mask_of(number, &range)).map(move |slot| (index_of(number, slot), page, slot))
        })
    }

    /// Clock and number of each page.
    pub(crate) fn numbers(&self) -> impl Iterator<Item = (Grid, i64)> + use<'_, T> {
        GRIDS.into_iter().flat_map(|grid| self.pages[at(grid)].keys().map(move |number| (grid, *number)))
    }

    /// All pages, mutable.
    pub(crate) fn all_mut(&mut self) -> impl Iterator<Item = &mut Page<T>> {
        self.pages.iter_mut().flat_map(BTreeMap::values_mut).map(|page| &mut **page)
    }

    /// First and last used index of a clock.
    pub(crate) fn extent(&self, grid: Grid) -> Option<[i64; 2]> {
        let pages = &self.pages[at(grid)];
        let (first, last) = (pages.first_key_value()?, pages.last_key_value()?);
        let start = first.1.used.trailing_zeros() as usize;
        let end = last.1.used.leading_zeros() as usize;
        Some([index_of(*first.0, start.min(PAGE - 1)), index_of(*last.0, PAGE - 1 - end.min(PAGE - 1))])
    }

    /// Drops the earliest page of a clock.
    pub(crate) fn drop_earliest(&mut self, grid: Grid) {
        if let Some((_, page)) = self.pages[at(grid)].pop_first() {
            self.used[at(grid)] -= page.used.count_ones() as usize;
        }
    }

    /// Drops the page that was written longest ago on these clocks. Returns its clock and number.
    pub(crate) fn drop_oldest(&mut self, grids: &[Grid]) -> Option<(Grid, i64)> {
        let pages = grids.iter().flat_map(|grid| {
            self.pages[at(*grid)].iter().map(move |(number, page)| (page.written, *grid, *number))
        });
        let (_, grid, number) = pages.min_by_key(|(written, _, _)| *written)?;
        let page = self.pages[at(grid)].remove(&number)?;
        self.used[at(grid)] -= page.used.count_ones() as usize;
        Some((grid, number))
    }

    /// Drops everything.
    pub(crate) fn clear(&mut self) {
        *self = Self::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_masks_its_slots_up_to_the_ends_of_what_a_number_holds() {
        let mut cases = 0;
        for number in [i64::MIN >> 6, -1, 0, 1, i64::MAX >> 6] {
            for range in [
                i64::MIN..=i64::MAX,
                i64::MIN..=i64::MIN + 5,
                i64::MAX - 5..=i64::MAX,
                -3..=3,
                0..=63,
                60..=70,
                7..=7,
            ] {
                let expected = (0..PAGE)
                    .filter(|slot| range.contains(&index_of(number, *slot)))
                    .fold(0, |bits, slot| bits | 1_u64 << slot);
                assert_eq!(mask_of(number, &range), expected, "{number} {range:?}");
                assert_eq!(ones(expected).count(), expected.count_ones() as usize);
                cases += 1;
            }
        }
        assert_eq!(cases, 35);
        assert_eq!(mask_of(0, &RangeInclusive::new(1, 0)), 0);
    }

    #[test]
    fn an_index_has_one_place() {
        for index in [i64::MIN, i64::MIN + 63, -65, -64, -1, 0, 63, 64, i64::MAX] {
            let (number, slot) = place(index);
            assert_eq!(index_of(number, slot), index);
        }
    }

    #[test]
    fn pages_go_by_age_or_by_time_and_slots_are_counted_once() {
        #[derive(Default)]
        struct Nothing;
        let mut paged = Paged::<Nothing>::default();
        let mut mark = |grid, index: i64, count| {
            paged.write(grid, index, |page, slot| {
                page.used |= 1 << slot;
                page.written = count;
            });
        };
        for (count, index) in (0..).zip([700, -5, 700, 300, 10]) {
            mark(Grid::Song, index, count);
        }
        mark(Grid::Clock, 0, 9);
        assert_eq!((paged.len(Grid::Song), paged.pages(Grid::Song), paged.len(Grid::Clock)), (4, 4, 1));
        assert_eq!(paged.extent(Grid::Song), Some([-5, 700]));
        assert_eq!(paged.extent(Grid::Clock), Some([0, 0]));
        let found: Vec<i64> = paged.slots(Grid::Song, 0..=700).map(|(index, _, _)| index).collect();
        assert_eq!(found, [10, 300, 700]);
        assert_eq!(paged.drop_oldest(&GRIDS), Some((Grid::Song, -1)));
        paged.drop_earliest(Grid::Song);
        assert_eq!((paged.len(Grid::Song), paged.pages(Grid::Song)), (2, 2));
        assert_eq!(paged.extent(Grid::Song), Some([300, 700]));
    }
}
