//! How two windows of levels differ.

use super::levels::{BANDS, Bands, Window};

/// Largest change of one third that counts, dB, so that none decides alone.
const CAP_DB: f64 = 15.0;
/// Fewest thirds by which images are compared.
const LEAST_IMAGES: usize = 4;

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0), |(sum, count), value| (sum + value, count + 1));
    if count > 0 { sum / f64::from(count) } else { 0.0 }
}

/// The median: the mean of the two middle values if their number is even. `None` without values.
pub(super) fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    percentile(values, 50.0)
}

/// The value below which `percent` of the values are, interpolated between two. `None` without values.
pub(super) fn percentile(values: impl Iterator<Item = f64>, percent: f64) -> Option<f64> {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let place = percent / 100.0 * sorted.len().checked_sub(1)? as f64;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place in the list")]
    let (below, part) = (place.floor() as usize, place.fract());
    let above = sorted.get(below + 1).copied().unwrap_or(sorted[below]);
    Some(sorted[below] + (above - sorted[below]) * part)
}

/// The common change of some thirds, dB: their median, and the median distance from it. 0 without thirds.
pub(super) fn common(changes: &Bands, counts: &[bool; BANDS]) -> (f64, f64) {
    let counted = || changes.iter().zip(counts).filter(|(_, counts)| **counts).map(|(change, _)| *change);
    let Some(middle) = median(counted()) else { return (0.0, 0.0) };
    (middle, median(counted().map(|change| (change - middle).abs())).unwrap_or(0.0))
}

impl Window {
    /// Mean distance of the 20 % and the 80 % quantiles of the levels, dB.
    pub(super) fn distance_db(&self, other: &Self) -> f64 {
        (self.distance_of(0, other) + self.distance_of(2, other)) / 2.0
    }

    /// Mean distance of one quantile, dB.
    pub(super) fn distance_of(&self, quantile: usize, other: &Self) -> f64 {
        let [own, others] = [&self.quantiles_db[quantile], &other.quantiles_db[quantile]];
        mean(own.iter().zip(others).map(|(own, other)| (own - other).abs().min(CAP_DB)))
    }

    /// Mean distance of the images of the thirds that have one in both; 0 if these are too few.
    pub(super) fn image_distance(&self, other: &Self) -> f64 {
        image_distance(&self.images, &other.images)
    }

    /// Mean rise, and mean fall, by which all quantiles of a third change from this window to `after`, dB.
    pub(super) fn moves_db(&self, after: &Self) -> [f64; 2] {
        let least = |sign: f64, band: usize| {
            let changes =
                (0..3).map(|at| sign * (after.quantiles_db[at][band] - self.quantiles_db[at][band]));
            changes.fold(f64::INFINITY, f64::min).clamp(0.0, CAP_DB)
        };
        [1.0, -1.0].map(|sign| mean((0..BANDS).map(|band| least(sign, band))))
    }

    /// The thirds that are loud enough in either window.
    pub(super) fn audible(&self, other: &Self) -> [bool; BANDS] {
        std::array::from_fn(|band| self.images[band].is_some() || other.images[band].is_some())
    }

    /// The common change of the medians from this window to `after`, dB, and its spread.
    pub(super) fn common_db(&self, after: &Self) -> (f64, f64) {
        let changes = std::array::from_fn(|band| after.quantiles_db[1][band] - self.quantiles_db[1][band]);
        common(&changes, &self.audible(after))
    }
}

/// Mean distance of two images over the thirds that have one in both; 0 if these are too few.
pub(super) fn image_distance(one: &[Option<[f64; 2]>; BANDS], other: &[Option<[f64; 2]>; BANDS]) -> f64 {
    let both = one.iter().zip(other).filter_map(|(one, other)| (*one).zip(*other));
    let distances: Vec<f64> = both.map(|(a, b)| (a[0] - b[0]).abs() + (a[1] - b[1]).abs()).collect();
    if distances.len() < LEAST_IMAGES { 0.0 } else { mean(distances.into_iter()) }
}
