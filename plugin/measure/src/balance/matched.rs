//! The difference in tone between two layers, over the tenths in which both sound.

use super::account::Account;
use super::page::{Page, add_thirds, mask_of, ones};
use super::sheet::least_sound;
use crate::bands::{THIRDS, WINDOWS, third_centre_hz, window_for};
use crate::cross::{Cross, db_power, power_db};
use crate::reading::{BAND_GATE_DBFS, Gate, Maybe};
use crate::session::{LayerId, Match};
use crate::tenth::Grid;
use std::ops::RangeInclusive;

/// How far under its loudest tenth of the passage a layer still sounds, dB (common practice, no source).
const SOUNDS_DB: f64 = 20.0;
/// Fewest tenths that make a tone: 1 s.
const LEAST_TENTHS: u32 = 10;

/// Sums over tenths in which both sound.
struct Pairs {
    tenths: u32,
    energy: [[f64; THIRDS]; 2],
    /// Tenths in which both measured a third, by its window.
    measured: [u32; WINDOWS],
    /// Count, sum and sum of squares of the tenths' differences in dB.
    differences: [(f64, f64, f64); THIRDS],
}

/// Matches two layers over a range of song time.
///
/// # Definition
/// A tenth counts in which each is at −70 LUFS or over and within 20 dB of its own loudest tenth of the range. Per
/// third the mean energies of both are compared, where both are over the gate of thirds; the mean of the differences
/// is taken out. The spread is the standard deviation of the tenths' differences, over those tenths in which both
/// are over −105 dBFS in the third.
pub(super) fn matched(
    (change, like): (LayerId, LayerId),
    accounts: [&Account; 2],
    grid: Grid,
    range: &RangeInclusive<i64>,
) -> Option<Match> {
    let pairs = pairs(accounts, grid, range);
    if change == like || pairs.tenths < LEAST_TENTHS {
        return None;
    }
    let means: [[f64; THIRDS]; 2] = pairs.energy.map(|energies| {
        std::array::from_fn(|third| energies[third] / f64::from(pairs.measured[window(third)].max(1)))
    });
    let open: [[bool; THIRDS]; 2] = means.map(|means| {
        let gate = Gate::bands(means.iter().copied().fold(0.0, f64::max));
        means.map(|mean| gate.open(&Cross { ll: mean, ..Cross::default() }))
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
            Maybe::new(raw[third].and_then(|_| deviation(pairs.differences[third])))
        }),
        louder_db,
        tenths: pairs.tenths,
    })
}

fn window(third: usize) -> usize {
    window_for(third_centre_hz(third))
}

fn deviation((count, sum, squares): (f64, f64, f64)) -> Option<f64> {
    (count >= 2.0).then(|| ((squares - sum * sum / count) / (count - 1.0)).max(0.0).sqrt())
}

fn pairs(accounts: [&Account; 2], grid: Grid, range: &RangeInclusive<i64>) -> Pairs {
    let least = accounts.map(|account| {
        let slots = account.pages(grid, range).flat_map(|(number, page)| {
            ones(page.used & mask_of(number, range)).map(move |slot| page.k[slot])
        });
        least_sound().max(f64::from(slots.fold(0.0, f32::max)) * db_power(-SOUNDS_DB))
    });
    let mut pairs = Pairs {
        tenths: 0,
        energy: [[0.0; THIRDS]; 2],
        measured: [0; WINDOWS],
        differences: [(0.0, 0.0, 0.0); THIRDS],
    };
    let windows: [usize; THIRDS] = std::array::from_fn(window);
    for (number, first) in accounts[0].pages(grid, range) {
        let Some(second) = accounts[1].page(grid, number) else { continue };
        let sounds = |page: &Page, least: f64, slot: usize| f64::from(page.k[slot]) >= least;
        let slots = ones(first.used & second.used & mask_of(number, range));
        for slot in slots.filter(|s| sounds(first, least[0], *s) && sounds(second, least[1], *s)) {
            pairs.add(first, second, slot, &windows);
        }
    }
    pairs
}

impl Pairs {
    fn add(&mut self, first: &Page, second: &Page, slot: usize, windows: &[usize; THIRDS]) {
        self.tenths += 1;
        let measured = first.windows[slot] & second.windows[slot];
        if measured == (1 << WINDOWS) - 1 {
            add_thirds(&mut self.energy[0], &first.thirds[slot]);
            add_thirds(&mut self.energy[1], &second.thirds[slot]);
        } else {
            for third in (0..THIRDS).filter(|third| measured >> windows[*third] & 1 == 1) {
                self.energy[0][third] += f64::from(first.thirds[slot][third].get());
                self.energy[1][third] += f64::from(second.thirds[slot][third].get());
            }
        }
        for (window, count) in self.measured.iter_mut().enumerate() {
            *count += u32::from(measured >> window & 1);
        }
        for (third, (count, sum, squares)) in self.differences.iter_mut().enumerate() {
            let [from, to] = [first, second].map(|page| page.thirds[slot][third].db());
            if let (Some(from), Some(to)) = (from, to)
                && from >= BAND_GATE_DBFS
                && to >= BAND_GATE_DBFS
            {
                let difference = to - from;
                *count += 1.0;
                *sum += difference;
                *squares += difference * difference;
            }
        }
    }
}
