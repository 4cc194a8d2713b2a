//! What is compared of up to a few seconds: the levels of the thirds, how they spread, and their stereo image.

use super::cell::Cell;
use plumbline_measure::cross::{db_power, power_db};

/// Thirds compared: 63 Hz to 16 kHz.
pub(super) const BANDS: usize = 25;
/// Fewest and most tenths of a window.
pub(super) const LEAST: usize = 10;
pub(super) const MOST: usize = 35;
/// Fewest tenths heard: a lone hit or two are no passage.
const LEAST_HEARD: usize = 3;
/// A tenth this far under the mean of its window is a pause between sounds, and not compared: the relative gate of
/// BS.1770.
const PAUSE_LU: f64 = 10.0;
/// A window under this mean loudness is silence, LUFS.
const SILENCE_LUFS: f64 = -65.0;
/// A third this far under the loudest, or under this level, has no stereo image.
const IMAGE_DB: f64 = 40.0;
const IMAGE_DBFS: f64 = -85.0;
/// Fewest thirds with an image on both sides.
const LEAST_IMAGES: u32 = 4;
/// Variance added to that of each third, dB²: differences of 1.5 dB are nothing.
const VARIANCE: f64 = 1.5 * 1.5;

/// A window of consecutive tenths.
#[derive(Clone, Debug)]
pub(super) struct Window {
    /// Tenths that are not pauses.
    pub(super) heard: usize,
    /// Mean loudness of these, LUFS, and of all by power.
    pub(super) level: f64,
    pub(super) mean: f64,
    /// By how much its first half is louder than its second, LU.
    pub(super) falls: f64,
    thirds: [Third; BANDS],
}

/// A third in a window.
#[derive(Clone, Copy, Debug, Default)]
struct Third {
    /// Mean level in dB, and variance.
    level: f32,
    variance: f32,
    /// Levels that a fifth of the tenths are under and over.
    low: f32,
    high: f32,
    /// Share of what both channels have in common, and balance, each −1…1; absent if inaudible.
    image: Option<[f32; 2]>,
}

/// How far two windows differ.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Distance {
    /// Mean difference of the low and high levels of the thirds, dB.
    pub(super) spread: f64,
    /// Mean difference of their images.
    pub(super) image: f64,
    /// Difference of loudness, LU.
    pub(super) level: f64,
    /// Mean difference of the levels of the thirds, dB: in all, what is common to all thirds, and what is left.
    pub(super) thirds: f64,
    pub(super) gain: f64,
    pub(super) shape: f64,
}

impl Window {
    /// A window of [`LEAST`] to [`MOST`] tenths; `None` in silence, or if too little is heard.
    pub(super) fn of<'a>(cells: impl Iterator<Item = &'a Cell> + Clone) -> Option<Self> {
        let all = cells.clone().count();
        if !(LEAST..=MOST).contains(&all) {
            return None;
        }
        let levels = || cells.clone().map(|cell| cell.features.level);
        let mean = power_db(levels().map(db_power).sum::<f64>() / all as f64);
        if mean < SILENCE_LUFS {
            return None;
        }
        let kept = || cells.clone().filter(|cell| cell.features.level > mean - PAUSE_LU);
        let heard = kept().count();
        if heard < LEAST_HEARD {
            return None;
        }
        let count = heard as f64;
        let half = all / 2;
        let early = levels().take(half).sum::<f64>() / half as f64;
        let late = levels().skip(half).sum::<f64>() / (all - half) as f64;
        let mut thirds = [Third::default(); BANDS];
        let mut powers = [[0.0; 3]; BANDS];
        for cell in kept() {
            for (sums, power) in powers.iter_mut().zip(&cell.images) {
                sums.iter_mut().zip(power).for_each(|(sum, power)| *sum += f64::from(*power));
            }
        }
        let loudest = powers.iter().map(|sums| sums[0]).fold(0.0, f64::max);
        let floor = (power_db(loudest / count) - IMAGE_DB).max(IMAGE_DBFS);
        for (band, third) in thirds.iter_mut().enumerate() {
            let mut sorted = [0.0_f32; MOST];
            let sorted = &mut sorted[..heard];
            sorted.iter_mut().zip(kept()).for_each(|(level, cell)| *level = cell.levels[band]);
            sorted.sort_unstable_by(f32::total_cmp);
            let level = sorted.iter().map(|level| f64::from(*level)).sum::<f64>() / count;
            let variance = sorted.iter().map(|each| (f64::from(*each) - level).powi(2)).sum::<f64>() / count;
            let [both, right, re] = powers[band];
            let image = (power_db(both / count) > floor).then(|| [2.0 * re / both, 1.0 - 2.0 * right / both]);
            #[expect(clippy::cast_possible_truncation, reason = "levels and shares, kept for a few seconds")]
            let kept = Third {
                level: level as f32,
                variance: variance as f32,
                low: sorted[heard / 5],
                high: sorted[heard - 1 - heard / 5],
                image: image.map(|image| image.map(|share| share.clamp(-1.0, 1.0) as f32)),
            };
            *third = kept;
        }
        let level = kept().map(|cell| cell.features.level).sum::<f64>() / count;
        Some(Self { heard, level, mean, falls: early - late, thirds })
    }

    pub(super) fn distance(&self, other: &Self) -> Distance {
        let count = BANDS as f64;
        let pairs = || self.thirds.iter().zip(&other.thirds);
        let change = |(a, b): (&Third, &Third)| f64::from(b.level) - f64::from(a.level);
        let gain = pairs().map(change).sum::<f64>() / count;
        let (mut images, mut image) = (0, 0.0);
        for (a, b) in pairs() {
            if let Some((a, b)) = a.image.zip(b.image) {
                images += 1;
                image += f64::from((a[0] - b[0]).abs() + (a[1] - b[1]).abs());
            }
        }
        let spread = pairs().map(|(a, b)| f64::from((b.low - a.low).abs() + (b.high - a.high).abs()));
        Distance {
            spread: spread.sum::<f64>() / 2.0 / count,
            image: if images >= LEAST_IMAGES { image / f64::from(images) } else { 0.0 },
            level: (other.level - self.level).abs(),
            thirds: pairs().map(|pair| change(pair).abs()).sum::<f64>() / count,
            gain: gain.abs(),
            shape: pairs().map(|pair| (change(pair) - gain).abs()).sum::<f64>() / count,
        }
    }

    /// How much likelier the thirds are to have two levels than one, over their own scatter: the mean of
    /// ln(1 + change² / variance).
    pub(super) fn likelier_apart(&self, other: &Self) -> f64 {
        let (mine, theirs) = (self.heard as f64, other.heard as f64);
        let of = |(a, b): (&Third, &Third)| {
            let scatter = (f64::from(a.variance) * mine + f64::from(b.variance) * theirs) / (mine + theirs);
            let change = f64::from(b.level) - f64::from(a.level);
            (change * change / (scatter + VARIANCE)).ln_1p()
        };
        self.thirds.iter().zip(&other.thirds).map(of).sum::<f64>() / BANDS as f64
    }
}
