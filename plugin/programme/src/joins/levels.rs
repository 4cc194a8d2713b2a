//! The levels of the thirds in the tenths of one run, and their statistics over windows.

use super::cell::{Cell, window_of};
use plumbline_measure::bands::LONG;
use std::ops::Range;

/// Thirds compared: 63 Hz to 16 kHz.
const COMPARED: Range<usize> = 5..30;
/// Number of thirds compared.
pub(super) const BANDS: usize = COMPARED.end - COMPARED.start;
/// Tenths by which a third of the long window is late: its frames of 341 ms end 170 ms after their middles.
pub(super) const LATE: usize = 2;
/// Power added to each, so that digital silence has a level. It matters only under −140 dB.
const LEAST_POWER: f64 = 1e-14;
/// Range under the loudest third of the tenths examined, dB. Lower levels count as equal.
const RANGE_DB: f64 = 65.0;
/// Range in power under the loudest third of a window in which a third has an image.
const IMAGE_RANGE: f64 = 1e-4;
/// Least power of a third that has an image.
const IMAGE_LEAST: f64 = 1e-13;

/// Tenths kept beyond those asked for, so that the oldest are dropped together.
const SPARE: usize = 40;

/// Powers of left and right, and Re of their cross spectrum.
type Power = [f32; 3];
/// One value for each third.
pub(super) type Bands = [f64; BANDS];

/// One tenth.
#[derive(Clone, Debug)]
struct Frame {
    powers: [Power; BANDS],
    levels_db: [f32; BANDS],
    loudest_db: f32,
    total_db: f32,
}

impl Frame {
    fn new(powers: [Power; BANDS]) -> Self {
        #[expect(clippy::cast_possible_truncation, reason = "a level is known to a hundredth of a decibel")]
        let db = |power: f64| (10.0 * (power + LEAST_POWER).log10()) as f32;
        let sum = |[left, right, _]: &Power| f64::from(*left) + f64::from(*right);
        let levels_db = powers.each_ref().map(|power| db(sum(power)));
        let loudest_db = levels_db.into_iter().fold(f32::NEG_INFINITY, f32::max);
        let total_db = db(powers.iter().map(sum).sum());
        Self { powers, levels_db, loudest_db, total_db }
    }
}

/// The statistics of one window.
#[derive(Clone, Debug)]
pub(super) struct Window {
    /// The 20 %, 50 % and 80 % quantiles of the levels, dB.
    pub(super) quantiles_db: [Bands; 3],
    /// Shared part and lean, −1…1 each, of the thirds that are loud enough.
    pub(super) images: [Option<[f64; 2]>; BANDS],
}

/// The latest levels of a run.
///
/// Places count tenths from the start of the run. Places that are no longer kept are left out of all windows.
#[derive(Clone, Debug, Default)]
pub(super) struct Levels {
    frames: Vec<Frame>,
    /// Place of the first frame kept.
    first: usize,
    /// Thirds heard so far.
    heard: [bool; BANDS],
}

impl Levels {
    pub(super) fn clear(&mut self) {
        self.frames.clear();
        (self.first, self.heard) = (0, [false; BANDS]);
    }

    /// The number of tenths heard in this run.
    pub(super) fn len(&self) -> usize {
        self.first + self.frames.len()
    }

    /// Takes the next tenth, and keeps at least the latest `kept`. A third that is late, or of which no window ended in
    /// the tenth, stays as it was.
    pub(super) fn push(&mut self, cell: &Cell, kept: usize) {
        if self.frames.len() >= kept + SPARE {
            self.first += SPARE;
            self.frames.drain(..SPARE);
        }
        let before = self.frames.last().map_or([[0.0; 3]; BANDS], |frame| frame.powers);
        self.frames.push(Frame::new(before));
        let newest = self.frames.len() - 1;
        let mut changed = newest;
        for band in 0..BANDS {
            let third = COMPARED.start + band;
            let Some(power) = cell.stereo(third) else { continue };
            let mut from = if window_of(third) == LONG { newest.saturating_sub(LATE) } else { newest };
            // Before a third is first heard, it counts as it is when first heard.
            if !std::mem::replace(&mut self.heard[band], true) {
                from = 0;
            }
            self.frames[from..].iter_mut().for_each(|frame| frame.powers[band] = power);
            changed = changed.min(from);
        }
        for frame in &mut self.frames[changed..] {
            *frame = Frame::new(frame.powers);
        }
    }

    fn kept(&self, places: Range<usize>) -> &[Frame] {
        let at = |place: usize| place.saturating_sub(self.first).min(self.frames.len());
        &self.frames[at(places.start)..at(places.end).max(at(places.start))]
    }

    /// The level to which all levels of these tenths are raised before they are compared, dB.
    pub(super) fn floor_db(&self, places: Range<usize>) -> f64 {
        let loudest = self.kept(places).iter().map(|frame| frame.loudest_db);
        f64::from(loudest.fold(-200.0, f32::max)) - RANGE_DB
    }

    /// Levels of the whole tenths, dB.
    pub(super) fn totals_db(&self, places: Range<usize>) -> impl Iterator<Item = f64> + '_ {
        self.kept(places).iter().map(|frame| f64::from(frame.total_db))
    }

    /// Means and variances of the levels, dB and dB².
    pub(super) fn means(&self, places: Range<usize>, floor_db: f64) -> (Bands, Bands) {
        let frames = self.kept(places);
        let count = frames.len().max(1) as f64;
        let (mut means, mut squares) = ([0.0; BANDS], [0.0; BANDS]);
        for frame in frames {
            for ((mean, square), level) in means.iter_mut().zip(&mut squares).zip(frame.levels_db) {
                let level = f64::from(level).max(floor_db);
                *mean += level;
                *square += level * level;
            }
        }
        let means = means.map(|sum| sum / count);
        let variances = std::array::from_fn(|band| (squares[band] / count - means[band].powi(2)).max(0.0));
        (means, variances)
    }

    /// Shared part and lean of each third that is loud enough.
    pub(super) fn images(&self, places: Range<usize>) -> [Option<[f64; 2]>; BANDS] {
        let frames = self.kept(places);
        let count = frames.len().max(1) as f64;
        let mut sums = [[0.0; 3]; BANDS];
        for power in frames.iter().map(|frame| &frame.powers) {
            for (sum, power) in sums.iter_mut().zip(power) {
                sum.iter_mut().zip(power).for_each(|(sum, part)| *sum += f64::from(*part) / count);
            }
        }
        let loudest = sums.iter().map(|sum| sum[0] + sum[1]).fold(0.0, f64::max);
        sums.map(|[left, right, cross]| {
            let both = left + right;
            (both > (IMAGE_RANGE * loudest).max(IMAGE_LEAST))
                .then(|| [2.0 * cross / both, (left - right) / both].map(|part| part.clamp(-1.0, 1.0)))
        })
    }

    /// The statistics of a window.
    pub(super) fn window(&self, places: Range<usize>, floor_db: f64) -> Window {
        let frames = self.kept(places.clone());
        let count = frames.len();
        let mut quantiles_db = [[floor_db; BANDS]; 3];
        if count > 0 {
            let mut sorted = vec![0.0; count];
            for band in 0..BANDS {
                sorted.iter_mut().zip(frames).for_each(|(level, frame)| *level = frame.levels_db[band]);
                sorted.sort_unstable_by(f32::total_cmp);
                for (quantile, at) in
                    quantiles_db.iter_mut().zip([count / 5, count / 2, count - 1 - count / 5])
                {
                    quantile[band] = f64::from(sorted[at]).max(floor_db);
                }
            }
        }
        Window { quantiles_db, images: self.images(places) }
    }
}
