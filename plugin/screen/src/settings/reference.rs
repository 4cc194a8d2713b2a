//! A stored spectrum for comparison, on its own grid, so that it survives a change of sample rate.

use crate::mapping::{HIGH_HZ, LOW_HZ, single};
use serde::{Deserialize, Serialize};

/// Points of the grid: about 24 per octave, from 20 Hz to 20 kHz.
pub const REFERENCE_POINTS: usize = 241;
/// The level stored for an empty line, dBFS, because JSON has no −∞.
const FLOOR_DB: f32 = -200.0;

/// A stored spectrum.
///
/// # Shape
/// [`REFERENCE_POINTS`] levels in dBFS at [`reference_hz`]: the highest line within half a step or, where lines are
/// further apart, an interpolation between neighbours.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reference {
    /// Levels in dBFS.
    pub values_db: Vec<f32>,
    /// Whether its lines are power in cells. Up to version 3 they were bins, in which noise read up to 9 dB less or 4
    /// dB more and tones up to 1.4 dB less; such a reference is shown but not compared.
    #[serde(default)]
    pub cells: bool,
}

/// Frequency of a point of the grid in Hz.
pub fn reference_hz(point: usize) -> f64 {
    LOW_HZ * (HIGH_HZ / LOW_HZ).powf(point as f64 / (REFERENCE_POINTS - 1) as f64)
}

impl Reference {
    /// Stores a line spectrum: frequencies in rising order, and their levels in dBFS.
    pub fn of(line_hz: &[f32], lines_dbfs: &[f32]) -> Self {
        let lines: Vec<(f64, f32)> = line_hz
            .iter()
            .zip(lines_dbfs)
            .filter(|(hz, db)| hz.is_finite() && **hz > 0.0 && !db.is_nan())
            .map(|(&hz, &db)| (f64::from(hz), rounded(db)))
            .collect();
        Self { values_db: (0..REFERENCE_POINTS).map(|point| at(&lines, point)).collect(), cells: true }
    }

    /// The reference, if its length is right and every level is finite and possible.
    pub fn sane(self) -> Option<Self> {
        let fine = self.values_db.len() == REFERENCE_POINTS
            && self.values_db.iter().all(|v| (FLOOR_DB..=200.0).contains(v));
        fine.then_some(self)
    }

    /// Frequency and level of every point.
    pub fn lines(&self) -> impl Iterator<Item = (f64, f64)> {
        self.values_db.iter().enumerate().map(|(point, &db)| (reference_hz(point), f64::from(db)))
    }

    /// Level at a frequency of the axis, dBFS: the nearest point. `None` if it was silent.
    pub fn level_dbfs(&self, hz: f64) -> Option<f64> {
        let share = (hz / LOW_HZ).log10() / (HIGH_HZ / LOW_HZ).log10();
        let point = share * (REFERENCE_POINTS - 1) as f64;
        if !(-0.5..REFERENCE_POINTS as f64 - 0.5).contains(&point) {
            return None;
        }
        #[expect(clippy::cast_possible_truncation, reason = "range checked above")]
        let point = point.round().max(0.0) as usize;
        self.values_db.get(point).map(|&db| f64::from(db)).filter(|&db| db > f64::from(FLOOR_DB))
    }

    /// Level of `now` over this reference at a frequency, dB. `None` if either was silent.
    pub fn difference_db(&self, now: &Self, hz: f64) -> Option<f64> {
        Some(now.level_dbfs(hz)? - self.level_dbfs(hz)?)
    }
}

fn at(lines: &[(f64, f32)], point: usize) -> f32 {
    let half = (HIGH_HZ / LOW_HZ).powf(0.5 / (REFERENCE_POINTS - 1) as f64);
    let hz = reference_hz(point);
    let first = lines.partition_point(|line| line.0 < hz / half);
    let last = lines.partition_point(|line| line.0 < hz * half);
    if let Some(highest) = lines.get(first..last).and_then(|s| s.iter().map(|l| l.1).reduce(f32::max)) {
        return highest;
    }
    match (first.checked_sub(1).and_then(|i| lines.get(i)), lines.get(first)) {
        (Some(below), Some(above)) => {
            let share = (hz / below.0).ln() / (above.0 / below.0).ln();
            rounded(below.1 + (above.1 - below.1) * single(share))
        }
        (Some(&(_, db)), None) | (None, Some(&(_, db))) => db,
        (None, None) => FLOOR_DB,
    }
}

/// A level rounded to a tenth of a decibel: finer than a pixel, and short in the saved text.
fn rounded(db: f32) -> f32 {
    ((db.clamp(FLOOR_DB, 200.0) * 10.0).round()) / 10.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_stays_straight() {
        let line_hz: Vec<f32> = (1..4_000).map(|i| single(f64::from(i) * 5.86)).collect();
        let slope = |hz: f64| -20.0 - 3.0 * (hz / 1_000.0).log2();
        let levels: Vec<f32> = line_hz.iter().map(|&hz| single(slope(f64::from(hz)))).collect();
        let reference = Reference::of(&line_hz, &levels);
        for (hz, db) in reference.lines() {
            // Half a step of the grid is 1/48 octave: 0.07 dB on this slope, and 0.05 for rounding; where lines are
            // 5.86 Hz apart at 20 Hz, a straight line between them is off by up to a few tenths of a dB.
            let allowed = if hz < 100.0 { 0.5 } else { 0.13 };
            assert!((db - slope(hz)).abs() < allowed, "{hz} Hz: {db} against {}", slope(hz));
        }
        assert!(reference.level_dbfs(1_000.0).is_some_and(|db| (db + 20.0).abs() < 0.2));
        assert_eq!(reference.level_dbfs(f64::NAN), None);
        assert_eq!(reference.level_dbfs(90_000.0), None);
    }

    #[test]
    fn nothing_and_nonsense_are_silence() {
        for (hz, db) in
            [(vec![], vec![]), (vec![f32::NAN], vec![-3.0]), (vec![100.0], vec![f32::NEG_INFINITY])]
        {
            let reference = Reference::of(&hz, &db);
            assert_eq!(reference.values_db.len(), REFERENCE_POINTS);
            assert_eq!(reference.level_dbfs(100.0), None);
            assert!(reference.sane().is_some());
        }
        let unsorted = Reference::of(&[3_000.0, 20.0, f32::INFINITY], &[f32::INFINITY, 1e38, 0.0]);
        assert!(unsorted.sane().is_some());
    }
}
