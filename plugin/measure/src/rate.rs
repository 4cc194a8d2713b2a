//! The sample rate, and every length that follows from it.

use thiserror::Error;

/// Lowest sample rate Plumbline measures, in Hz.
pub const LOWEST_RATE_HZ: u32 = 22_050;
/// Highest sample rate Plumbline measures, in Hz.
pub const HIGHEST_RATE_HZ: u32 = 384_000;

/// Tenths in one second: a tenth is a 100 ms cell of the song's time grid.
pub const TENTHS_PER_SECOND: i64 = 10;
/// Cells in one second: a cell is the 10 ms step of momentary loudness and correlation.
pub(crate) const CELLS_PER_SECOND: i64 = 100;

/// Window lengths at 48 kHz, longest first; at other rates, the power of two nearest to the same duration.
const WINDOWS_AT_48K: [u32; 3] = [16_384, 4_096, 1_024];

/// A sample rate at which Plumbline can measure: a whole number of Hz from 22 050 to 384 000.
///
/// # Errors
/// [`SampleRate::new`] refuses anything else with [`RateError`], which names the rate and the limits.
///
/// ```
/// use plumbline_measure::SampleRate;
///
/// let rate = SampleRate::new(44_100)?;
/// // Tenth 7 begins at 0.7 s and ends just before tenth 8.
/// assert_eq!(rate.tenth_start(7), 30_870);
/// assert_eq!((rate.tenth_of(30_870), rate.tenth_of(35_280)), (7, 8));
/// assert!(SampleRate::new(8_000).is_err());
/// # Ok::<(), plumbline_measure::RateError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SampleRate(u32);

/// A sample rate outside what Plumbline measures. Nothing was measured.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
#[error("sample rate {got} Hz is outside {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} Hz; nothing was measured")]
pub struct RateError {
    /// The rate asked for.
    pub got: f64,
}

impl SampleRate {
    /// Takes a rate in whole Hz.
    pub fn new(hz: u32) -> Result<Self, RateError> {
        if (LOWEST_RATE_HZ..=HIGHEST_RATE_HZ).contains(&hz) {
            Ok(Self(hz))
        } else {
            Err(RateError { got: f64::from(hz) })
        }
    }

    /// Takes a rate as hosts give it; rounds to whole Hz. NaN and infinities are refused.
    pub fn from_host(hz: f64) -> Result<Self, RateError> {
        let rounded = hz.round();
        if !(f64::from(LOWEST_RATE_HZ)..=f64::from(HIGHEST_RATE_HZ)).contains(&rounded) {
            return Err(RateError { got: hz });
        }
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "range checked above")]
        let whole = rounded as u32;
        Self::new(whole)
    }

    /// The rate in Hz.
    pub fn hz(self) -> u32 {
        self.0
    }

    /// The rate in Hz, as a float.
    pub fn as_f64(self) -> f64 {
        f64::from(self.0)
    }

    /// First sample of step `k` of a grid with `per_second` steps: ⌊k·rate/per_second⌋.
    ///
    /// Exact for every rate, even if a step is not a whole number of samples (22 050 Hz has cells of 220 and 221
    /// samples).
    pub(crate) fn grid_start(self, k: i64, per_second: i64) -> i64 {
        let start = (i128::from(k) * i128::from(self.0)).div_euclid(i128::from(per_second));
        i64::try_from(start).unwrap_or(if start < 0 { i64::MIN } else { i64::MAX })
    }

    /// The step of that grid which holds `sample`.
    pub(crate) fn grid_step(self, sample: i64, per_second: i64) -> i64 {
        // k is the largest with ⌊k·rate/p⌋ ≤ sample, that is k·rate < (sample + 1)·p.
        let rate = i128::from(self.0);
        let k = ((i128::from(sample) + 1) * i128::from(per_second) - 1).div_euclid(rate);
        i64::try_from(k).unwrap_or(if k < 0 { i64::MIN } else { i64::MAX })
    }

    /// First sample of tenth `k`.
    pub fn tenth_start(self, k: i64) -> i64 {
        self.grid_start(k, TENTHS_PER_SECOND)
    }

    /// The tenth that holds `sample`.
    pub fn tenth_of(self, sample: i64) -> i64 {
        self.grid_step(sample, TENTHS_PER_SECOND)
    }

    /// Length of tenth `k` in samples.
    pub(crate) fn tenth_len(self, k: i64) -> u32 {
        u32::try_from(self.tenth_start(k.saturating_add(1)) - self.tenth_start(k)).unwrap_or(0)
    }

    /// Analysis window lengths in samples, longest first: the powers of two nearest, in ratio, to the durations of
    /// 16384, 4096 and 1024 at 48 kHz.
    pub(crate) fn window_lengths(self) -> [usize; 3] {
        WINDOWS_AT_48K.map(|at_48k| {
            let exact = f64::from(at_48k) * self.as_f64() / 48_000.0;
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "exponent is 9 to 17"
            )]
            let exponent = exact.log2().round() as u32;
            1_usize << exponent
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grid_start_and_step_are_inverse_at_every_rate() {
        let mut cases = 0;
        for hz in [22_050, 32_000, 44_100, 47_952, 48_000, 88_200, 96_000, 176_400, 192_000, 384_000] {
            let rate = SampleRate::new(hz).unwrap();
            for per_second in [TENTHS_PER_SECOND, CELLS_PER_SECOND] {
                for k in [-36_001, -11, -1, 0, 1, 2, 7, 599, 36_000, 863_999] {
                    let first = rate.grid_start(k, per_second);
                    assert_eq!(rate.grid_step(first, per_second), k);
                    assert_eq!(rate.grid_step(first - 1, per_second), k - 1);
                    cases += 1;
                }
            }
        }
        assert_eq!(cases, 200);
    }

    #[test]
    fn windows_keep_their_seconds() {
        let lengths = |hz| SampleRate::new(hz).unwrap().window_lengths();
        assert_eq!(lengths(48_000), [16_384, 4_096, 1_024]);
        assert_eq!(lengths(44_100), [16_384, 4_096, 1_024]);
        assert_eq!(lengths(22_050), [8_192, 2_048, 512]);
        assert_eq!(lengths(96_000), [32_768, 8_192, 2_048]);
        assert_eq!(lengths(384_000), [131_072, 32_768, 8_192]);
    }

    #[test]
    fn refuses_rates_it_cannot_measure() {
        assert!(SampleRate::new(22_049).is_err());
        assert!(SampleRate::new(384_001).is_err());
        for bad in [f64::NAN, f64::INFINITY, -48_000.0, 0.0, 1e12] {
            assert!(SampleRate::from_host(bad).is_err(), "{bad}");
        }
        assert_eq!(SampleRate::from_host(44_100.02).unwrap().hz(), 44_100);
    }
}
