//! The difference in tone between two layers, over the tenths in which both sound.

use super::layer_page::Page;
use super::layer_store::LayerStore;
use super::page_sums::least_sound;
use crate::paged::{mask_of, ones};
use crate::session::{LayerId, Match};
use plumbline_measure::Grid;
use plumbline_measure::bands::{THIRDS, WINDOWS, third_centre_hz, window_for};
use plumbline_measure::cross::{StereoPower, db_power, power_db};
use plumbline_measure::reading::{BAND_GATE_DBFS, Gate, Maybe};
use std::collections::BTreeMap;
use std::ops::RangeInclusive;

/// Range under its loudest tenth in which a layer still sounds, dB (common practice, no source).
const SOUNDS_DB: f64 = 20.0;
/// Fewest tenths for a match, and for the spread of a third: 1 s.
const LEAST_TENTHS: u32 = 10;
/// Least part of the tenths of a match in which both are heard in a third, for a spread there (common practice, no
/// source).
const LEAST_PART: f64 = 0.25;

/// Sums over tenths in which both layers sound.
#[derive(Clone, Debug)]
pub(super) struct Pairs {
    tenths: u32,
    energy: [[f64; THIRDS]; 2],
    /// For each window, the tenths in which both layers had a frame.
    measured: [u32; WINDOWS],
    /// For each third: count, sum and sum of squares of the tenths' differences in dB.
    differences: [[f64; 3]; THIRDS],
}

/// The sums of a page, with the tenths summed and the write counts of both pages.
#[derive(Clone, Debug)]
struct Known {
    slots: u64,
    written: [u64; 2],
    pairs: Pairs,
}

/// Matches layers, and keeps the sums of each page of the last pair matched. Write counts never repeat, so sums of
/// other pages are never mistaken for those of this pair.
#[derive(Debug, Default)]
pub(super) struct ToneMatcher {
    pages: BTreeMap<i64, Known>,
}

impl ToneMatcher {
    /// Matches two layers over a range of tenths. `None` if fewer than [`LEAST_TENTHS`] count.
    ///
    /// # Definition
    /// A tenth counts if each layer is at −70 LUFS or over and within 20 dB of its own loudest tenth of the range.
    /// The mean energies of both are compared per third, where both are over the gate of thirds, and the mean of the
    /// differences is removed. The spread is the standard deviation of the tenths' differences, over the tenths in
    /// which both are at −105 dBFS or over in the third; absent if these are fewer than [`LEAST_TENTHS`], or under
    /// [`LEAST_PART`] of all.
    pub(super) fn matched(
        &mut self,
        (change, like): (LayerId, LayerId),
        stores: [&LayerStore; 2],
        grid: Grid,
        range: &RangeInclusive<i64>,
    ) -> Option<Match> {
        self.pairs(stores, grid, range).matched((change, like))
    }

    /// Sums over a range. The sums of an unchanged page are reused.
    fn pairs(&mut self, stores: [&LayerStore; 2], grid: Grid, range: &RangeInclusive<i64>) -> Pairs {
        let least = stores.map(|store| {
            let slots = store.pages().range(grid, range).flat_map(|(number, page)| {
                ones(page.used & mask_of(number, range)).map(move |slot| page.k[slot])
            });
            least_of(slots.fold(0.0, f32::max))
        });
        let mut pairs = Pairs::default();
        let mut before = std::mem::take(&mut self.pages);
        for (number, first) in stores[0].pages().range(grid, range) {
            let Some(second) = stores[1].pages().page(grid, number) else { continue };
            let slots = both_sound([first, second], least) & mask_of(number, range);
            let written = [first.written, second.written];
            let known = before
                .remove(&number)
                .filter(|known| known.slots == slots && known.written == written)
                .unwrap_or_else(|| Known { slots, written, pairs: Pairs::of(first, second, slots) });
            pairs.join(&known.pairs);
            self.pages.insert(number, known);
        }
        pairs
    }

    /// Bytes taken.
    pub(super) fn bytes(&self) -> usize {
        self.pages.len() * size_of::<Known>()
    }
}

/// Smallest mean square at which a layer sounds, given that of its loudest tenth.
pub(super) fn least_of(loudest: f32) -> f64 {
    least_sound().max(f64::from(loudest) * db_power(-SOUNDS_DB))
}

/// The slots in which both layers sound.
pub(super) fn both_sound(pages: [&Page; 2], least: [f64; 2]) -> u64 {
    ones(pages[0].used & pages[1].used)
        .filter(|slot| pages.iter().zip(least).all(|(page, least)| f64::from(page.k[*slot]) >= least))
        .fold(0, |slots, slot| slots | 1_u64 << slot)
}

fn window(third: usize) -> usize {
    window_for(third_centre_hz(third))
}

fn deviation([count, sum, squares]: [f64; 3]) -> Option<f64> {
    (count >= 2.0).then(|| ((squares - sum * sum / count) / (count - 1.0)).max(0.0).sqrt())
}

impl Default for Pairs {
    fn default() -> Self {
        Self {
            tenths: 0,
            energy: [[0.0; THIRDS]; 2],
            measured: [0; WINDOWS],
            differences: [[0.0; 3]; THIRDS],
        }
    }
}

impl Pairs {
    /// The match of two layers; `None` if too few tenths or no third count.
    pub(super) fn matched(&self, (change, like): (LayerId, LayerId)) -> Option<Match> {
        if change == like || self.tenths < LEAST_TENTHS {
            return None;
        }
        let means: [[f64; THIRDS]; 2] = self.energy.map(|energies| {
            std::array::from_fn(|third| energies[third] / f64::from(self.measured[window(third)].max(1)))
        });
        let open: [[bool; THIRDS]; 2] = means.map(|means| {
            let gate = Gate::bands(means.iter().copied().fold(0.0, f64::max));
            means.map(|mean| gate.open(&StereoPower { ll: mean, ..StereoPower::default() }))
        });
        let raw: [Option<f64>; THIRDS] = std::array::from_fn(|third| {
            (open[0][third] && open[1][third]).then(|| power_db(means[1][third] / means[0][third]))
        });
        let carried = raw.iter().flatten().count();
        let louder_db = (carried > 0).then(|| raw.iter().flatten().sum::<f64>() / carried as f64)?;
        Some(Match {
            change,
            like,
            change_db: raw.map(|db| Maybe::new(db.map(|db| db - louder_db))),
            spread_db: std::array::from_fn(|third| {
                let [count, ..] = self.differences[third];
                let least = f64::from(LEAST_TENTHS).max(LEAST_PART * f64::from(self.measured[window(third)]));
                Maybe::new(
                    raw[third].filter(|_| count >= least).and_then(|_| deviation(self.differences[third])),
                )
            }),
            louder_db,
            tenths: self.tenths,
        })
    }

    /// Sums over some tenths of a page.
    pub(super) fn of(first: &Page, second: &Page, slots: u64) -> Self {
        let windows: [usize; THIRDS] = std::array::from_fn(window);
        let mut pairs = Self::default();
        ones(slots).for_each(|slot| pairs.add(first, second, slot, &windows));
        pairs
    }

    fn add(&mut self, first: &Page, second: &Page, slot: usize, windows: &[usize; THIRDS]) {
        self.tenths += 1;
        let measured = first.windows[slot] & second.windows[slot];
        for (window, count) in self.measured.iter_mut().enumerate() {
            *count += u32::from(measured >> window & 1);
        }
        for third in (0..THIRDS).filter(|third| measured >> windows[*third] & 1 == 1) {
            let [from, to] = [first, second].map(|page| page.thirds[slot][third]);
            self.energy[0][third] += f64::from(from.get());
            self.energy[1][third] += f64::from(to.get());
            if let (Some(from), Some(to)) = (from.db(), to.db())
                && from >= BAND_GATE_DBFS
                && to >= BAND_GATE_DBFS
            {
                let [count, sum, squares] = &mut self.differences[third];
                *count += 1.0;
                *sum += to - from;
                *squares += (to - from).powi(2);
            }
        }
    }

    /// Adds the sums of other tenths.
    pub(super) fn join(&mut self, other: &Self) {
        self.tenths += other.tenths;
        let sums = self.energy.as_flattened_mut().iter_mut().zip(other.energy.as_flattened());
        sums.for_each(|(sum, more)| *sum += more);
        self.measured.iter_mut().zip(other.measured).for_each(|(sum, more)| *sum += more);
        let sums = self.differences.as_flattened_mut().iter_mut().zip(other.differences.as_flattened());
        sums.for_each(|(sum, more)| *sum += more);
    }
}
