//! The analysis window: Hann in its periodic (DFT-even) form, with its published figures.
//!
//! Source: F. J. Harris, Proc. IEEE 66(1), 1978, Table I; G. Heinzel, A. Rüdiger, R. Schilling, 2002. The periodic
//! form is used because the symmetric one changes the noise bandwidth at finite length.

use std::f64::consts::PI;

/// Coherent gain Σw/N of the Hann window.
pub const HANN_COHERENT_GAIN: f64 = 0.5;
/// Equivalent noise bandwidth of the Hann window in bins: N·Σw²/(Σw)² = 3/2 exactly.
pub const HANN_NOISE_BANDWIDTH: f64 = 1.5;
/// Independent averages that one window is worth at 75 % overlap (Welch, IEEE Trans. AU-15(2), 1967; Harris 1978 eq. 17:
/// 0.522 for many windows).
pub(crate) const INDEPENDENT_PER_WINDOW: f64 = 0.52;

/// The periodic Hann window of `length` samples: ½ − ½·cos(2πn/length).
pub fn hann(length: usize) -> Vec<f64> {
    (0..length).map(|n| 0.5 - 0.5 * (2.0 * PI * n as f64 / length as f64).cos()).collect()
}

/// Response of the Hann window to a sine `offset` bins away, relative to its peak, linear amplitude:
/// sinc(x)/(1 − x²).
pub fn hann_response(offset: f64) -> f64 {
    let x = offset.abs();
    if x < 1e-9 {
        return 1.0;
    }
    if (x - 1.0).abs() < 1e-9 {
        return 0.5;
    }
    ((PI * x).sin() / (PI * x) / (1.0 - x * x)).abs()
}

/// A spectral peak between bins: the true frequency and level of a steady sine, from the line at the peak and its
/// two neighbours (powers). Exact for one sine under a Hann window, whatever its place between the bins.
///
/// # Shape
/// Gives the offset from the middle bin in bins (−0.5…+0.5) and the power the line would read on a bin. `None`
/// unless the middle value is the largest and positive.
pub fn hann_peak(left: f64, middle: f64, right: f64) -> Option<(f64, f64)> {
    if !(middle > 0.0 && middle >= left && middle >= right && left >= 0.0 && right >= 0.0) {
        return None;
    }
    // For a Hann window the amplitude ratio r of the larger neighbour to the peak is (1+δ)/(2−δ), so
    // δ = (2r−1)/(1+r).
    let (side, sign) = if right >= left { (right, 1.0) } else { (left, -1.0) };
    let ratio = (side / middle).sqrt();
    let offset = ((2.0 * ratio - 1.0) / (1.0 + ratio)).clamp(0.0, 0.5);
    let response = hann_response(offset);
    Some((sign * offset, middle / (response * response)))
}

/// A tone read from the lines of a spectrum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone {
    /// Frequency in Hz.
    pub hz: f64,
    /// Level in dBFS.
    pub dbfs: f64,
}

/// Lines on either side of a frequency among which its peak is looked for: a cell's width.
const NEAR_LINES: usize = 5;
/// A peak's frequency lies midway between where its line has fallen by this much, in dB: enough for a flat top.
const FALL_DB: f64 = 0.5;

/// The steady tone nearest to `hz` in a line spectrum ([`Spectral::lines_dbfs`](crate::Spectral::lines_dbfs) over
/// [`Glance::line_hz`](crate::Glance::line_hz)): the highest line thereabouts.
///
/// # Shape
/// Looks at the line nearest to `hz` and five more on each side. `None` when none of them is a peak, or the spectrum is
/// empty there. Of noise it reads a peak like any other.
///
/// # Accuracy
/// One sine within 0.2 dB and 0.5 % of its frequency anywhere from 25 Hz to 18 kHz (`reference::lines`).
pub fn tone_near(line_hz: &[f32], lines_dbfs: &[f32], hz: f64) -> Option<Tone> {
    let count = line_hz.len().min(lines_dbfs.len());
    let (line_hz, lines_dbfs) = (&line_hz[..count], &lines_dbfs[..count]);
    let nearest = {
        let above = line_hz.partition_point(|line| f64::from(*line) < hz);
        let below = above.checked_sub(1)?;
        let off = |i: usize| line_hz.get(i).map_or(f64::INFINITY, |line| (f64::from(*line) - hz).abs());
        if off(below) < off(above) { below } else { above }
    };
    let around = nearest.saturating_sub(NEAR_LINES)..(nearest + NEAR_LINES + 1).min(count);
    let peak = around.max_by(|a, b| lines_dbfs[*a].total_cmp(&lines_dbfs[*b]))?;
    let top = f64::from(lines_dbfs[peak]);
    if !top.is_finite() {
        return None;
    }
    let at = |line: usize| (f64::from(line_hz[line]), f64::from(lines_dbfs[line]));
    let below = fall((0..=peak).rev().map(at), top)?;
    let above = fall((peak..count).map(at), top)?;
    Some(Tone { hz: (below * above).sqrt(), dbfs: top })
}

/// Where lines that begin with a peak have fallen by [`FALL_DB`]. `None` where they never do, or rise over it before.
fn fall(lines: impl Iterator<Item = (f64, f64)>, top: f64) -> Option<f64> {
    let floor = top - FALL_DB;
    let mut before: Option<(f64, f64)> = None;
    for (hz, db) in lines {
        if db.is_nan() || db > top {
            return None;
        }
        if db <= floor {
            let (near_hz, near_db) = before?;
            // Never beyond: a line of −∞ lies where it lies.
            let share = ((near_db - floor) / (near_db - db)).clamp(0.0, 1.0);
            return Some(near_hz * (hz / near_hz).powf(share));
        }
        before = Some((hz, db));
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_give_the_published_gain_and_bandwidth() {
        for length in [64, 512, 1_024, 4_096, 16_384, 131_072] {
            let w = hann(length);
            let sum: f64 = w.iter().sum();
            let squares: f64 = w.iter().map(|v| v * v).sum();
            assert!((sum / length as f64 - HANN_COHERENT_GAIN).abs() < 1e-12);
            assert!((length as f64 * squares / (sum * sum) - HANN_NOISE_BANDWIDTH).abs() < 1e-11);
        }
    }

    #[test]
    fn a_peak_between_bins_is_read_exactly() {
        for step in -10..=10 {
            let offset = f64::from(step) / 20.0;
            let power = |bin: f64| hann_response(bin - offset).powi(2) * 0.25;
            let (found, level) = hann_peak(power(-1.0), power(0.0), power(1.0)).unwrap();
            assert!((found - offset).abs() < 1e-9, "{offset}: {found}");
            assert!((level - 0.25).abs() < 1e-9);
        }
        assert_eq!(hann_peak(1.0, 0.5, 0.1), None);
        assert_eq!(hann_peak(f64::NAN, f64::NAN, 0.1), None);
    }

    #[test]
    fn no_tone_is_read_where_there_is_no_peak() {
        let hz: Vec<f32> = (1_u8..20).map(|i| f32::from(i) * 10.0).collect();
        let rising: Vec<f32> = (1_u8..20).map(f32::from).collect();
        let lines = [&[][..], &rising, &[f32::NAN; 19], &[f32::NEG_INFINITY; 19], &[f32::INFINITY; 19]];
        for lines in lines {
            for at in [f64::NEG_INFINITY, 0.0, 50.0, 95.0, 1e9, f64::INFINITY, f64::NAN] {
                assert_eq!(tone_near(&hz, lines, at), None, "{at} in {lines:?}");
            }
        }
    }
}
