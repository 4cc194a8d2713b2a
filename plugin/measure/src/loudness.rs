//! K-weighting for every rate, gating blocks, gates, loudness range (ITU-R BS.1770-5, EBU Tech 3341 v4, Tech 3342 v4).
//!
//! # Example
//! Half a minute at −23 LUFS and as much at −60: the relative gate drops the quiet half.
//! ```
//! use plumbline_measure::loudness::{
//!     Energy, TENTHS_PER_BLOCK, TENTHS_PER_SHORT_TERM, block_mean_squares, integrated_lufs, mean_square_of, range_lu,
//! };
//!
//! let tenth = |index: i64| {
//!     let lufs = if index < 300 { -23.0 } else { -60.0 };
//!     (index, Energy { k: 4_800.0 * mean_square_of(lufs), frames: 4_800, length: 4_800 })
//! };
//! let tenths: Vec<(i64, Energy)> = (0..600).map(tenth).collect();
//! let blocks = block_mean_squares(&tenths, TENTHS_PER_BLOCK);
//! assert_eq!(blocks.len(), 597);
//! // The relative gate is at −36; the three blocks across the step pass it.
//! let integrated = integrated_lufs(blocks.iter().copied()).expect("over −70 LUFS");
//! assert!((integrated + 23.02).abs() < 0.005, "{integrated}");
//!
//! let range = range_lu(block_mean_squares(&tenths, TENTHS_PER_SHORT_TERM).into_iter());
//! assert!(range.is_some_and(|lu| lu < 1.0), "{range:?}");
//! ```

use crate::bands::{THIRDS, third_centre_hz};
use crate::cross::{db_power, power_db};
use crate::rate::SampleRate;
use crate::tenth::Tenth;
use realfft::num_complex::Complex;
use std::array;
use std::f64::consts::PI;
use std::ops::Range;
use std::sync::LazyLock;

/// Constant of BS.1770-5 Annex 1 eq. (2): cancels the K-weighting's gain at 997 Hz.
pub(crate) const LOUDNESS_OFFSET: f64 = -0.691;
/// Absolute gate, BS.1770-5 Annex 1 eq. (5)–(7), LUFS.
pub const ABSOLUTE_GATE_LUFS: f64 = -70.0;
/// Relative gate of integrated loudness under the ungated mean, LU.
pub(crate) const RELATIVE_GATE_LU: f64 = -10.0;
/// Relative gate of loudness range, Tech 3342, LU.
const RANGE_GATE_LU: f64 = -20.0;
/// Tenths in a gating block: 400 ms at 75 % overlap, BS.1770-5 Annex 1 eq. (3).
pub const TENTHS_PER_BLOCK: usize = 4;
/// Tenths in a short-term window: 3 s, Tech 3341.
pub const TENTHS_PER_SHORT_TERM: usize = 30;
/// Loudness under which momentary and short-term are shown as absent, LUFS.
pub(crate) const SILENCE_LUFS: f64 = -90.0;

/// Loudness in LUFS of a K-weighted mean square summed over the channels. −∞ for 0.
pub fn lufs(mean_square: f64) -> f64 {
    LOUDNESS_OFFSET + power_db(mean_square)
}

/// The K-weighted mean square of a loudness: the inverse of [`lufs`].
pub fn mean_square_of(lufs: f64) -> f64 {
    db_power(lufs - LOUDNESS_OFFSET)
}

/// One second-order section, transposed direct form II.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Section {
    b: [f64; 3],
    a: [f64; 2],
}

/// The K-weighting filter: a high shelf, then a high-pass.
///
/// # Definition
/// BS.1770-5 Annex 1 Tables 1 and 2 give the coefficients at 48 kHz. For other rates they are derived from the
/// analogue prototype that reproduces all ten of those to under 1e-15 (general-library practice, not in the
/// Recommendation).
#[derive(Clone, Debug)]
pub(crate) struct KFilter {
    shelf: Section,
    high_pass: Section,
    state: [[f64; 2]; 2],
}

/// The K-weighting's power gain at the centre of each third, with the offset of BS.1770-5 Annex 1 eq. (2) left out.
///
/// # Accuracy
/// That of one filter value for a whole third: 0.2 dB from 80 Hz up, where the high-pass is flat.
pub fn third_weights() -> &'static [f64; THIRDS] {
    static WEIGHTS: LazyLock<[f64; THIRDS]> =
        LazyLock::new(|| array::from_fn(|t| k_weight(third_centre_hz(t))));
    &WEIGHTS
}

/// The K-weighting's power gain at a frequency up to 24 kHz, by the coefficients of BS.1770-5 Annex 1 for 48 kHz.
pub fn k_weight(hz: f64) -> f64 {
    let Ok(rate) = SampleRate::new(48_000) else { return 1.0 };
    let filter = KFilter::new(rate);
    let z = Complex::from_polar(1.0, -2.0 * PI * hz / rate.as_f64());
    let section = |s: &Section| {
        let above = s.b[0] + z * (s.b[1] + z * s.b[2]);
        let below = 1.0 + z * (s.a[0] + z * s.a[1]);
        (above / below).norm_sqr()
    };
    section(&filter.shelf) * section(&filter.high_pass)
}

/// Magnitude under which a filter state is set to 0, so that silence never runs into denormals.
const STATE_FLOOR: f64 = 1e-30;

impl KFilter {
    /// A fresh filter for one channel.
    pub(crate) fn new(rate: SampleRate) -> Self {
        let section = |f0: f64, q: f64| {
            let k = (PI * f0 / rate.as_f64()).tan();
            let a0 = 1.0 + k / q + k * k;
            (k, a0, [2.0 * (k * k - 1.0) / a0, (1.0 - k / q + k * k) / a0])
        };
        // Prototype parameters as in general libraries (libebur128).
        let (q1, q2) = (0.707_175_236_955_419_6, 0.500_327_037_323_877_3);
        let (k, a0, a) = section(1_681.974_450_955_533, q1);
        let vh = 10.0_f64.powf(3.999_843_853_973_347 / 20.0);
        let vb = vh.powf(0.499_666_774_154_541_6);
        let b = [(vh + vb * k / q1 + k * k) / a0, 2.0 * (k * k - vh) / a0, (vh - vb * k / q1 + k * k) / a0];
        let shelf = Section { b, a };
        let (_, _, a) = section(38.135_470_876_024_44, q2);
        let high_pass = Section { b: [1.0, -2.0, 1.0], a };
        Self { shelf, high_pass, state: [[0.0; 2]; 2] }
    }

    /// Coefficients (b0, b1, b2, a1, a2) of the shelf and of the high-pass.
    #[cfg(any(test, feature = "test-support"))]
    pub(crate) fn coefficients(&self) -> [[f64; 5]; 2] {
        [self.shelf, self.high_pass].map(|s| [s.b[0], s.b[1], s.b[2], s.a[0], s.a[1]])
    }

    /// Filters one sample.
    #[inline]
    pub(crate) fn run(&mut self, x: f64) -> f64 {
        let [s1, s2] = &mut self.state;
        let shelved = self.shelf.b[0] * x + s1[0];
        s1[0] = self.shelf.b[1] * x - self.shelf.a[0] * shelved + s1[1];
        s1[1] = self.shelf.b[2] * x - self.shelf.a[1] * shelved;
        let y = shelved + s2[0];
        s2[0] = -2.0 * shelved - self.high_pass.a[0] * y + s2[1];
        s2[1] = shelved - self.high_pass.a[1] * y;
        y
    }

    /// Sets tiny filter states to 0; call between blocks.
    pub(crate) fn settle(&mut self) {
        for value in self.state.as_flattened_mut() {
            if value.abs() < STATE_FLOOR {
                *value = 0.0;
            }
        }
    }
}

/// The K-weighted energy of one tenth.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Energy {
    /// Sum of the K-weighted squares of all channels.
    pub k: f64,
    /// Samples that were heard.
    pub frames: u32,
    /// Length of the tenth in samples.
    pub length: u32,
}

impl From<&Tenth> for Energy {
    fn from(tenth: &Tenth) -> Self {
        Self { k: tenth.sums.k, frames: tenth.sums.frames, length: tenth.length }
    }
}

/// K-weighted mean squares of all runs of `count` neighbouring whole tenths, see [`whole_runs`]. Takes tenths by index,
/// rising.
pub fn block_mean_squares(tenths: &[(i64, Energy)], count: usize) -> Vec<f64> {
    let heard = tenths.iter().map(|(index, energy)| (*index, energy.frames >= energy.length));
    let mean_square = |run: Range<usize>| {
        let block = &tenths[run];
        let k: f64 = block.iter().map(|(_, e)| e.k).sum();
        let frames: f64 = block.iter().map(|(_, e)| f64::from(e.frames)).sum();
        k / frames
    };
    whole_runs(heard, count).map(mean_square).collect()
}

/// All runs of `count` neighbouring tenths that were heard whole: gating blocks for [`TENTHS_PER_BLOCK`], short-term
/// windows for [`TENTHS_PER_SHORT_TERM`]. A tenth heard in part belongs to none, as BS.1770 drops an incomplete block.
///
/// # Shape
/// Takes the index of each tenth, rising, and whether it was heard whole. Gives ranges of places in that order, each a
/// tenth later than the one before (75 % overlap of a gating block).
///
/// ```
/// use plumbline_measure::loudness::{TENTHS_PER_BLOCK, whole_runs};
///
/// // Tenth 14 is missing and tenth 19 was heard in part.
/// let tenths = [10, 11, 12, 13, 15, 16, 17, 18, 19].map(|index| (index, index != 19));
/// let blocks: Vec<_> = whole_runs(tenths, TENTHS_PER_BLOCK).collect();
/// assert_eq!(blocks, [0..4, 4..8]);
/// ```
pub fn whole_runs(
    tenths: impl IntoIterator<Item = (i64, bool)>,
    count: usize,
) -> impl Iterator<Item = Range<usize>> {
    let (mut run, mut before) = (0, None);
    tenths.into_iter().enumerate().filter_map(move |(place, (index, whole))| {
        let follows = before.is_some_and(|before: i64| before.checked_add(1) == Some(index));
        before = Some(index);
        run = match (whole, follows) {
            (false, _) => 0,
            (true, true) => run + 1,
            (true, false) => 1,
        };
        (run >= count).then(|| place + 1 - count..place + 1)
    })
}

/// The K-weighted mean square that a gating block must exceed, BS.1770-5 Annex 1 eq. (5)–(7): the absolute gate, or if
/// higher, the relative one under the mean of the blocks over the absolute gate. `None` if no block is over the
/// absolute gate.
pub fn block_gate(blocks: impl Iterator<Item = f64>) -> Option<f64> {
    let absolute = mean_square_of(ABSOLUTE_GATE_LUFS);
    let relative = mean_over(blocks, absolute)? * db_power(RELATIVE_GATE_LU);
    Some(relative.max(absolute))
}

/// Mean of the blocks over a floor.
fn mean_over(blocks: impl Iterator<Item = f64>, floor: f64) -> Option<f64> {
    let (mut sum, mut count) = (0.0, 0_u64);
    for block in blocks.filter(|b| *b > floor) {
        sum += block;
        count += 1;
    }
    (count > 0).then(|| sum / count as f64)
}

/// Integrated loudness of gating blocks (K-weighted mean squares), BS.1770-5 Annex 1 eq. (5)–(7). `None` when no
/// block passes the gates.
pub fn integrated_lufs(blocks: impl Iterator<Item = f64> + Clone) -> Option<f64> {
    let gate = block_gate(blocks.clone())?;
    mean_over(blocks, gate).map(lufs)
}

/// Loudness range of short-term values (K-weighted mean squares), Tech 3342 v4. `None` when none passes the gate.
///
/// # Definition
/// Keep values at or over −70 LUFS; of these keep those at or over 20 LU under their power mean; sort; the
/// difference of the 95 % and the 10 % value, v[round((n−1)·p + 1)] counted from 1.
pub fn range_lu(short_terms: impl Iterator<Item = f64>) -> Option<f64> {
    let absolute = mean_square_of(ABSOLUTE_GATE_LUFS);
    let mut kept: Vec<f64> = short_terms.filter(|s| *s >= absolute).collect();
    if kept.is_empty() {
        return None;
    }
    let mean = kept.iter().sum::<f64>() / kept.len() as f64;
    let relative = mean * db_power(RANGE_GATE_LU);
    kept.retain(|s| *s >= relative);
    kept.sort_unstable_by(f64::total_cmp);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "an index into `kept`")]
    let at = |share: f64| kept[((kept.len() - 1) as f64 * share).round() as usize];
    if kept.is_empty() { None } else { Some(lufs(at(0.95)) - lufs(at(0.10))) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// BS.1770-5 Annex 1: the constant of −0.691 cancels the gain at 997 Hz; the shelf gains 4 dB.
    #[test]
    fn the_weighting_has_the_published_gain() {
        let db = |hz| power_db(k_weight(hz));
        assert!((db(997.0) - 0.691).abs() < 0.005, "{}", db(997.0));
        assert!((db(20_000.0) - 4.0).abs() < 0.05, "{}", db(20_000.0));
        let thirds = third_weights();
        assert!(thirds[0] < thirds[10] && thirds[10] < thirds[20], "{thirds:?}");
    }
}
