//! Loudness of the programme: everything since reset, each song tenth counted once.

use crate::paged::{PAGE, Paged};
use plumbline_measure::loudness::{
    Energy, TENTHS_PER_BLOCK, TENTHS_PER_SHORT_TERM, block_mean_squares, integrated_lufs, range_lu,
};
use plumbline_measure::{Grid, Loudness, Tenth};
use std::ops::RangeInclusive;

/// The K-weighted energies of one page of tenths.
#[derive(Clone, Debug)]
struct Energies([Energy; PAGE]);

impl Default for Energies {
    fn default() -> Self {
        Self([Energy::default(); PAGE])
    }
}

/// Integrated loudness and loudness range over tenths.
///
/// # Definition
/// A gating block is four consecutive tenths, a short-term window thirty; every tenth in them must have been heard
/// whole. A tenth heard in part (where a passage starts or ends) belongs to no block, as BS.1770 drops an incomplete
/// one. A looped passage counts once: a later pass replaces the earlier, unless less of the tenth was heard this
/// time. Song time and clock time are kept apart: clock time is reported only while there is no song time, so sound
/// heard while the transport is stopped never enters the programme.
#[derive(Clone, Debug, Default)]
pub struct Programme {
    pages: Paged<Energies>,
    /// Integrated loudness in LUFS, range in LU and seconds of all tenths; `None` after a change.
    known: Option<(Option<f64>, Option<f64>, f64)>,
    /// Whether tenths are kept without limit.
    endless: bool,
}

/// Most pages kept: six hours in one piece. The earliest page of the grid being written is dropped first.
const MOST_PAGES: usize = 6 * 36_000 / PAGE;

impl Programme {
    /// A programme of any length: keeps every tenth, 17 bytes each.
    pub fn endless() -> Self {
        Self { endless: true, ..Self::default() }
    }

    /// Takes a tenth. It replaces an earlier reading of the same tenth, unless less of it was heard this time.
    pub fn push(&mut self, tenth: &Tenth) {
        self.known = None;
        let energy = Energy::from(tenth);
        // Compared by share: the length of a tenth depends on the sample rate.
        let share = |of: &Energy, other: &Energy| u64::from(of.frames) * u64::from(other.length.max(1));
        self.pages.write(tenth.grid, tenth.index, |page, slot| {
            let kept = page.0[slot];
            if !page.has(slot) || share(&energy, &kept) >= share(&kept, &energy) {
                page.0[slot] = energy;
            }
            page.used |= 1 << slot;
        });
        if !self.endless && self.pages.pages(Grid::Song) + self.pages.pages(Grid::Clock) > MOST_PAGES {
            self.pages.drop_earliest(tenth.grid);
        }
    }

    /// Forgets everything.
    pub fn clear(&mut self) {
        self.pages.clear();
        self.known = None;
    }

    /// Writes integrated loudness, range and measured seconds, exact for all tenths taken so far. Walks over the
    /// programme if a tenth has come since the last call; otherwise costs nothing.
    pub fn fill(&mut self, loudness: &mut Loudness) {
        let (integrated, range, secs) = match self.known {
            Some(known) => known,
            None => *self.known.insert(self.measure()),
        };
        loudness.integrated_lufs = integrated;
        loudness.range_lu = range;
        loudness.measured_secs = secs;
    }

    /// The grid that is reported: song time as soon as there is any.
    pub fn grid(&self) -> Grid {
        if self.pages.pages(Grid::Song) > 0 { Grid::Song } else { Grid::Clock }
    }

    /// Integrated loudness in LUFS and range in LU over some tenths, on the reported grid.
    pub fn part(&self, tenths: RangeInclusive<i64>) -> (Option<f64>, Option<f64>) {
        let (integrated, range, _) = self.measure_part(&tenths);
        (integrated, range)
    }

    fn measure(&self) -> (Option<f64>, Option<f64>, f64) {
        self.measure_part(&(i64::MIN..=i64::MAX))
    }

    fn measure_part(&self, tenths: &RangeInclusive<i64>) -> (Option<f64>, Option<f64>, f64) {
        if tenths.is_empty() {
            return (None, None, 0.0);
        }
        let slots = self.pages.slots(self.grid(), tenths.clone());
        let energies: Vec<(i64, Energy)> = slots.map(|(index, page, slot)| (index, page.0[slot])).collect();
        let blocks = block_mean_squares(&energies, TENTHS_PER_BLOCK);
        let integrated = integrated_lufs(blocks.iter().copied());
        let range = range_lu(block_mean_squares(&energies, TENTHS_PER_SHORT_TERM).into_iter());
        (integrated, range, energies.len() as f64 / 10.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_measure::TimeSums;

    fn tenth(index: i64, frames: u32, length: u32, mean_square: f64) -> Tenth {
        let sums = TimeSums { k: mean_square * f64::from(frames), frames, ..TimeSums::default() };
        Tenth { grid: Grid::Song, index, sums, length, ..Tenth::default() }
    }

    #[test]
    fn a_later_pass_replaces_the_earlier_also_at_another_rate() {
        let mut programme = Programme::default();
        let integrated = |programme: &mut Programme| {
            let mut loudness = Loudness::default();
            programme.fill(&mut loudness);
            loudness.integrated_lufs
        };
        (0..20).for_each(|i| programme.push(&tenth(i, 4_800, 4_800, 1e-2)));
        let first = integrated(&mut programme);
        (0..20).for_each(|i| programme.push(&tenth(i, 4_410, 4_410, 1e-3)));
        let second = integrated(&mut programme);
        assert!((first.unwrap() - second.unwrap() - 10.0).abs() < 1e-9);
        // Less of it heard this time: the tenths heard whole stay.
        (0..20).for_each(|i| programme.push(&tenth(i, 4_000, 4_410, 1.0)));
        assert_eq!(integrated(&mut programme), second);
    }

    #[test]
    fn parts_begin_and_end_inside_pages_and_six_hours_are_kept() {
        let mut programme = Programme::default();
        let hours = (MOST_PAGES * PAGE) as i64;
        for index in -100..hours + 100 {
            let level = if index < 0 || (530..570).contains(&index) { 1e-1 } else { 1e-3 };
            programme.push(&tenth(index, 4_800, 4_800, level));
        }
        let (inside, _) = programme.part(530..=569);
        let (around, _) = programme.part(520..=529);
        assert!((inside.unwrap() - around.unwrap() - 20.0).abs() < 1e-9, "{inside:?} {around:?}");
        assert_eq!(programme.part(-100..=-1), (None, None), "the earliest went");
        let (_, _, secs) = programme.measure();
        let gone = hours as f64 - secs * 10.0;
        assert!((0.0..=64.0).contains(&gone), "{gone} tenths went");
    }
}
