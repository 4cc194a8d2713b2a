//! Access to private parts for the tests of this workspace. It is not part of the library's interface, and may change.

use crate::loudness::KFilter;
use crate::rate::{CELLS_PER_SECOND, SampleRate};
use crate::{bands, loudness, window};

/// Octave ratio of the thirds.
pub const OCTAVE_RATIO: f64 = bands::OCTAVE_RATIO;
/// Constant of the loudness formula.
pub const LOUDNESS_OFFSET: f64 = loudness::LOUDNESS_OFFSET;
/// Relative gate of integrated loudness, LU.
pub const RELATIVE_GATE_LU: f64 = loudness::RELATIVE_GATE_LU;
/// Coherent gain of the Hann window.
pub const HANN_COHERENT_GAIN: f64 = window::HANN_COHERENT_GAIN;
/// Noise bandwidth of the Hann window in bins.
pub const HANN_NOISE_BANDWIDTH: f64 = window::HANN_NOISE_BANDWIDTH;

/// The Hann window of `length` samples.
pub fn hann(length: usize) -> Vec<f64> {
    window::hann(length)
}

/// The response of the Hann window to a sine `offset` bins away.
pub fn hann_response(offset: f64) -> f64 {
    window::hann_response(offset)
}

/// The thirds that can be measured at a rate.
pub fn thirds_at(rate: SampleRate) -> usize {
    bands::thirds_at(rate)
}

/// Lengths of the analysis windows, longest first.
pub fn window_lengths(rate: SampleRate) -> [usize; bands::WINDOWS] {
    rate.window_lengths()
}

/// The first sample of a 10 ms cell.
pub fn cell_start(rate: SampleRate, cell: i64) -> i64 {
    rate.grid_start(cell, CELLS_PER_SECOND)
}

/// Coefficients (b0, b1, b2, a1, a2) of the shelf and of the high-pass of the K-weighting.
pub fn k_coefficients(rate: SampleRate) -> [[f64; 5]; 2] {
    KFilter::new(rate).coefficients()
}

/// The samples after the K-weighting.
pub fn k_weighted(rate: SampleRate, samples: &[f64]) -> Vec<f64> {
    let mut filter = KFilter::new(rate);
    samples.iter().map(|x| filter.run(*x)).collect()
}

/// A spectral peak between bins: the true frequency and level of a steady sine, from the line at the peak and its
/// two neighbours (powers). Exact for one sine under a Hann window, whatever its place between the bins.
///
/// # Shape
/// Returns the offset from the middle bin in bins (−0.5…+0.5), and the power that the line would read exactly on a bin.
/// `None` unless the middle value is the largest, and positive.
pub fn hann_peak(left: f64, middle: f64, right: f64) -> Option<(f64, f64)> {
    if !(middle > 0.0 && middle >= left && middle >= right && left >= 0.0 && right >= 0.0) {
        return None;
    }
    // For a Hann window the amplitude ratio r of the larger neighbour to the peak is (1+δ)/(2−δ), so
    // δ = (2r−1)/(1+r).
    let (side, sign) = if right >= left { (right, 1.0) } else { (left, -1.0) };
    let ratio = (side / middle).sqrt();
    let offset = ((2.0 * ratio - 1.0) / (1.0 + ratio)).clamp(0.0, 0.5);
    let response = window::hann_response(offset);
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

/// Lines on either side of a frequency among which its peak is looked for: the width of a cell.
const NEAR_LINES: usize = 5;
/// Fall of the lines, in dB, on either side of a peak; its frequency is midway between those points. Enough for a flat
/// top.
const FALL_DB: f64 = 0.5;

/// The steady tone nearest to `hz` in a line spectrum ([`Spectral::lines_dbfs`](crate::Spectral::lines_dbfs) over
/// [`Glance::line_hz`](crate::Glance::line_hz)): the highest line near it.
///
/// # Shape
/// Looks at the line nearest to `hz` and five more on each side. `None` if none of them is a peak, or if the spectrum
/// is empty there. A peak in noise is read like any other.
///
/// # Accuracy
/// For one sine anywhere from 25 Hz to 18 kHz, within 0.2 dB of its level and 0.5 % of its frequency
/// (`reference::lines`).
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

/// The frequency at which lines that begin with a peak have fallen by [`FALL_DB`]; `None` if they never do, or first
/// rise above the peak.
fn fall(lines: impl Iterator<Item = (f64, f64)>, top: f64) -> Option<f64> {
    let floor = top - FALL_DB;
    let mut before: Option<(f64, f64)> = None;
    for (hz, db) in lines {
        if db.is_nan() || db > top {
            return None;
        }
        if db <= floor {
            let (near_hz, near_db) = before?;
            // Clamped to the two lines, one of which may be at −∞.
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
