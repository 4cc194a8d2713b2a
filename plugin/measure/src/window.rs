//! The analysis window: Hann in its periodic (DFT-even) form, with its published figures.
//!
//! Source: F. J. Harris, Proc. IEEE 66(1), 1978, Table I; G. Heinzel, A. Rüdiger, R. Schilling, 2002. The periodic
//! form is used because the symmetric one changes the noise bandwidth at finite length.

use std::f64::consts::PI;

/// Coherent gain Σw/N of the Hann window.
pub const HANN_COHERENT_GAIN: f64 = 0.5;
/// Equivalent noise bandwidth of the Hann window in bins: N·Σw²/(Σw)² = 3/2 exactly.
pub const HANN_NOISE_BANDWIDTH: f64 = 1.5;

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
}
