//! All pages: updated where tenths arrived, summed over any range, gated for the programme.

use super::layer_page::{Page, add_thirds};
use super::layer_store::LayerStore;
use super::page_sums::{Member, PageSums, energy};
use super::totals::Totals;
use crate::paged::{PAGE, index_of, mask_of, ones, place};
use crate::session::LayerId;
use plumbline_measure::Grid;
use plumbline_measure::loudness::{TENTHS_PER_BLOCK, block_gate, whole_runs};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::{Range, RangeInclusive};

/// All of a grid.
pub(super) const ALWAYS: RangeInclusive<i64> = i64::MIN..=i64::MAX;

/// Most pages that may wait for an update; with more, all pages are updated.
const MOST_WAITING: usize = 4_096;

/// The summed pages of all layers that count.
#[derive(Debug, Default)]
pub(super) struct GatedSums {
    pages: BTreeMap<(Grid, i64), PageSums>,
    members: Vec<Member>,
    waiting: BTreeSet<(Grid, i64)>,
    all_wait: bool,
}

/// The store of each member, in their order; `None` for a layer never heard.
pub(super) type LayerStores<'a> = [Option<&'a LayerStore>];

impl GatedSums {
    /// Notes that a page changed.
    pub(super) fn changed(&mut self, grid: Grid, number: i64) {
        if self.waiting.len() < MOST_WAITING {
            self.waiting.insert((grid, number));
        } else {
            self.all_changed();
        }
    }

    /// Notes that any page may have changed.
    pub(super) fn all_changed(&mut self) {
        self.all_wait = true;
        self.waiting.clear();
    }

    /// Updates the pages.
    pub(super) fn refresh(&mut self, members: &[Member], stores: &mut BTreeMap<LayerId, LayerStore>) {
        if self.members != members {
            self.members = members.to_vec();
            self.all_wait = true;
        }
        if std::mem::take(&mut self.all_wait) {
            self.pages.clear();
            let heard = members.iter().filter_map(|member| stores.get(&member.id));
            self.waiting = heard.flat_map(|store| store.pages().numbers()).collect();
        }
        let mut heard: Vec<Option<&mut LayerStore>> = members.iter().map(|_| None).collect();
        for (id, store) in stores {
            if let Some(at) = members.iter().position(|member| member.id == *id) {
                heard[at] = Some(store);
            }
        }
        for (grid, number) in std::mem::take(&mut self.waiting) {
            for page in heard.iter_mut().flatten().filter_map(|store| store.page_mut(grid, number)) {
                page.settle();
            }
            let page = |at: usize| heard[at].as_deref().and_then(|store| store.pages().page(grid, number));
            let pages: Vec<(usize, Member, &Page)> = members
                .iter()
                .enumerate()
                .filter_map(|(at, member)| Some((at, *member, page(at)?)))
                .collect();
            match PageSums::of(&pages) {
                Some(page_sums) => self.pages.insert((grid, number), page_sums),
                None => self.pages.remove(&(grid, number)),
            };
        }
    }

    /// Sums over a range of indices, ungated.
    pub(super) fn totals(&self, stores: &LayerStores<'_>, grid: Grid, range: &RangeInclusive<i64>) -> Totals {
        let mut totals = Totals::new(self.members.len());
        if range.is_empty() {
            return totals;
        }
        let pages = (grid, place(*range.start()).0)..=(grid, place(*range.end()).0);
        for ((_, number), page_sums) in self.pages.range(pages) {
            let mask = mask_of(*number, range);
            totals.count(page_sums, mask);
            let complete = page_sums.used & !mask == 0;
            for line in &*page_sums.lines {
                if complete {
                    totals.add(line);
                } else if let Some(page) = stores[line.member].and_then(|a| a.pages().page(grid, *number)) {
                    let slots = line.used & mask;
                    let sums = &mut totals.layers[line.member];
                    sums.energy += energy(page, slots);
                    ones(slots).for_each(|slot| add_thirds(&mut sums.thirds, &page.thirds[slot]));
                    if self.members[line.member].part.is_none() {
                        sums.share(page_sums.shared(page, slots));
                    }
                }
            }
        }
        totals.weight = f64::from(totals.tenths);
        totals.sounds = totals.sounding > 0;
        totals
    }

    /// Sums over the whole grid: energies over the passing gating blocks, everything else ungated.
    pub(super) fn programme(&mut self, stores: &LayerStores<'_>, grid: Grid) -> Totals {
        self.gate(stores, grid);
        let mut totals = self.totals(stores, grid, &ALWAYS);
        totals.begin_gated();
        for page_sums in self.of(grid).map(|(_, page_sums)| page_sums) {
            totals.weight += page_sums.weight();
            for line in &*page_sums.lines {
                let sums = &mut totals.layers[line.member];
                sums.energy += line.weighted;
                sums.share(line.weighted_shared);
            }
        }
        totals.sounds = totals.weight > 0.0;
        totals
    }

    /// Finds the passing gating blocks of the layers' sum, and gives each tenth the number of those that contain it.
    fn gate(&mut self, stores: &LayerStores<'_>, grid: Grid) {
        let tenths: Vec<(i64, f64, bool)> = self
            .of(grid)
            .flat_map(|(number, page_sums)| {
                ones(page_sums.layers).map(move |slot| {
                    (index_of(number, slot), page_sums.totals[slot], page_sums.whole >> slot & 1 == 1)
                })
            })
            .collect();
        let weights = weights(&tenths);
        let members = std::mem::take(&mut self.members);
        let mut next = weights.into_iter();
        for ((_, number), page_sums) in self.pages.range_mut((grid, i64::MIN)..=(grid, i64::MAX)) {
            let mut of_page = [0; PAGE];
            ones(page_sums.layers).zip(&mut next).for_each(|(slot, weight)| of_page[slot] = weight);
            page_sums.weigh(&of_page, &members, |at| stores[at]?.pages().page(grid, *number));
        }
        self.members = members;
    }

    fn of(&self, grid: Grid) -> impl Iterator<Item = (i64, &PageSums)> {
        let all = (grid, i64::MIN)..=(grid, i64::MAX);
        self.pages.range(all).map(|((_, number), page_sums)| (*number, page_sums))
    }

    /// Bytes of the pages.
    pub(super) fn bytes(&self) -> usize {
        self.pages.values().map(PageSums::bytes).sum()
    }
}

/// The number of passing gating blocks that contain each tenth. A tenth is its index, the energy of the layers, and
/// whether it was heard whole.
pub(super) fn weights(tenths: &[(i64, f64, bool)]) -> Vec<u8> {
    let runs = whole_runs(tenths.iter().map(|(index, _, whole)| (*index, *whole)), TENTHS_PER_BLOCK);
    let mean = |run: Range<usize>| {
        let sum: f64 = tenths[run].iter().map(|(_, total, _)| total).sum();
        sum / TENTHS_PER_BLOCK as f64
    };
    let blocks: Vec<(usize, f64)> = runs.map(|run| (run.start, mean(run))).collect();
    let mut weights = vec![0_u8; tenths.len()];
    if let Some(gate) = block_gate(blocks.iter().map(|(_, mean)| *mean)) {
        for (first, _) in blocks.iter().filter(|(_, mean)| *mean > gate) {
            weights[*first..first + TENTHS_PER_BLOCK].iter_mut().for_each(|weight| *weight += 1);
        }
    }
    weights
}
