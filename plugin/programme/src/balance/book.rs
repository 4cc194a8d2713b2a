//! All sheets: brought up to date where a tenth came, summed over any range of song time, gated for the programme.

use super::account::Account;
use super::page::{Page, add_thirds};
use super::sheet::{Member, Sheet, energy};
use super::tally::Tally;
use crate::paged::{PAGE, index_of, mask_of, ones, place};
use crate::session::LayerId;
use plumbline_measure::Grid;
use plumbline_measure::loudness::{TENTHS_PER_BLOCK, block_gate, whole_runs};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::{Range, RangeInclusive};

/// All of song time.
pub(super) const ALWAYS: RangeInclusive<i64> = i64::MIN..=i64::MAX;

/// Pages that wait to be laid side by side; beyond that all are.
const MOST_WAITING: usize = 4_096;

/// The sheets of all layers that count.
#[derive(Debug, Default)]
pub(super) struct Book {
    sheets: BTreeMap<(Grid, i64), Sheet>,
    members: Vec<Member>,
    waiting: BTreeSet<(Grid, i64)>,
    all_wait: bool,
}

/// The account of each member, in their order; a layer that was never heard has none.
pub(super) type Accounts<'a> = [Option<&'a Account>];

impl Book {
    /// Notes that a page is no longer what it was.
    pub(super) fn changed(&mut self, grid: Grid, number: i64) {
        if self.waiting.len() < MOST_WAITING {
            self.waiting.insert((grid, number));
        } else {
            self.all_changed();
        }
    }

    /// Notes that every page may be another.
    pub(super) fn all_changed(&mut self) {
        self.all_wait = true;
        self.waiting.clear();
    }

    /// Brings the sheets up to date.
    pub(super) fn refresh(&mut self, members: &[Member], accounts: &mut BTreeMap<LayerId, Account>) {
        if self.members != members {
            self.members = members.to_vec();
            self.all_wait = true;
        }
        if std::mem::take(&mut self.all_wait) {
            self.sheets.clear();
            let heard = members.iter().filter_map(|member| accounts.get(&member.id));
            self.waiting = heard.flat_map(|account| account.pages().numbers()).collect();
        }
        let mut heard: Vec<Option<&mut Account>> = members.iter().map(|_| None).collect();
        for (id, account) in accounts {
            if let Some(at) = members.iter().position(|member| member.id == *id) {
                heard[at] = Some(account);
            }
        }
        for (grid, number) in std::mem::take(&mut self.waiting) {
            for page in heard.iter_mut().flatten().filter_map(|account| account.page_mut(grid, number)) {
                page.settle();
            }
            let page =
                |at: usize| heard[at].as_deref().and_then(|account| account.pages().page(grid, number));
            let pages: Vec<(usize, Member, &Page)> = members
                .iter()
                .enumerate()
                .filter_map(|(at, member)| Some((at, *member, page(at)?)))
                .collect();
            match Sheet::of(&pages) {
                Some(sheet) => self.sheets.insert((grid, number), sheet),
                None => self.sheets.remove(&(grid, number)),
            };
        }
    }

    /// Sums over a range of indices, ungated.
    pub(super) fn tally(&self, accounts: &Accounts<'_>, grid: Grid, range: &RangeInclusive<i64>) -> Tally {
        let mut tally = Tally::new(self.members.len());
        if range.is_empty() {
            return tally;
        }
        let pages = (grid, place(*range.start()).0)..=(grid, place(*range.end()).0);
        for ((_, number), sheet) in self.sheets.range(pages) {
            let mask = mask_of(*number, range);
            tally.count(sheet, mask);
            let complete = sheet.used & !mask == 0;
            for line in &*sheet.lines {
                if complete {
                    tally.add(line);
                } else if let Some(page) = accounts[line.member].and_then(|a| a.pages().page(grid, *number)) {
                    let slots = line.used & mask;
                    let sums = &mut tally.layers[line.member];
                    sums.energy += energy(page, slots);
                    ones(slots).for_each(|slot| add_thirds(&mut sums.thirds, &page.thirds[slot]));
                    if self.members[line.member].part.is_none() {
                        sums.share(sheet.shared(page, slots));
                    }
                }
            }
        }
        tally.weight = f64::from(tally.tenths);
        tally.sounds = tally.sounding > 0;
        tally
    }

    /// Sums over all song time: energies over the gating blocks that pass, everything else ungated.
    pub(super) fn programme(&mut self, accounts: &Accounts<'_>, grid: Grid) -> Tally {
        self.gate(accounts, grid);
        let mut tally = self.tally(accounts, grid, &ALWAYS);
        tally.begin_gated();
        for sheet in self.of(grid).map(|(_, sheet)| sheet) {
            tally.weight += sheet.weight();
            for line in &*sheet.lines {
                let sums = &mut tally.layers[line.member];
                sums.energy += line.weighted;
                sums.share(line.weighted_shared);
            }
        }
        tally.sounds = tally.weight > 0.0;
        tally
    }

    /// Finds the gating blocks of the layers' sum that pass, and gives each tenth the number of those it is in.
    fn gate(&mut self, accounts: &Accounts<'_>, grid: Grid) {
        let tenths: Vec<(i64, f64, bool)> = self
            .of(grid)
            .flat_map(|(number, sheet)| {
                ones(sheet.layers).map(move |slot| {
                    (index_of(number, slot), sheet.totals[slot], sheet.whole >> slot & 1 == 1)
                })
            })
            .collect();
        let weights = weights(&tenths);
        let members = std::mem::take(&mut self.members);
        let mut next = weights.into_iter();
        for ((_, number), sheet) in self.sheets.range_mut((grid, i64::MIN)..=(grid, i64::MAX)) {
            let mut of_page = [0; PAGE];
            ones(sheet.layers).zip(&mut next).for_each(|(slot, weight)| of_page[slot] = weight);
            sheet.weigh(&of_page, &members, |at| accounts[at]?.pages().page(grid, *number));
        }
        self.members = members;
    }

    fn of(&self, grid: Grid) -> impl Iterator<Item = (i64, &Sheet)> {
        let all = (grid, i64::MIN)..=(grid, i64::MAX);
        self.sheets.range(all).map(|((_, number), sheet)| (*number, sheet))
    }

    /// Bytes of the sheets.
    pub(super) fn bytes(&self) -> usize {
        self.sheets.values().map(Sheet::bytes).sum()
    }
}

/// The number of passing gating blocks that each tenth is in. A tenth is its index, the energy of the layers, and whether
/// it was heard whole.
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
