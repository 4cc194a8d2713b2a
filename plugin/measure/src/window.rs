//! The analysis window: Hann in its periodic (DFT-even) form, with its published figures.
//!
//! Source: F. J. Harris, Proc. IEEE 66(1), 1978, Table I; G. Heinzel, A. Rüdiger, R. Schilling, 2002. The symmetric
//! form would have another noise bandwidth at finite length.

use std::f64::consts::PI;

/// Coherent gain Σw/N of the Hann window.
pub(crate) const HANN_COHERENT_GAIN: f64 = 0.5;
/// Equivalent noise bandwidth of the Hann window in bins: N·Σw²/(Σw)² = 3/2 exactly.
pub(crate) const HANN_NOISE_BANDWIDTH: f64 = 1.5;
/// Independent averages that one window is worth at 75 % overlap (Welch, IEEE Trans. AU-15(2), 1967; Harris 1978 eq.
/// 17: 0.522 for many windows).
pub(crate) const INDEPENDENT_PER_WINDOW: f64 = 0.52;

/// The periodic Hann window of `length` samples: ½ − ½·cos(2πn/length).
pub(crate) fn hann(length: usize) -> Vec<f64> {
    (0..length).map(|n| 0.5 - 0.5 * (2.0 * PI * n as f64 / length as f64).cos()).collect()
}

/// Response of the Hann window to a sine `offset` bins away, relative to its peak, linear amplitude:
/// sinc(x)/(1 − x²).
pub(crate) fn hann_response(offset: f64) -> f64 {
    let x = offset.abs();
    if x < 1e-9 {
        return 1.0;
    }
    if (x - 1.0).abs() < 1e-9 {
        return 0.5;
    }
    ((PI * x).sin() / (PI * x) / (1.0 - x * x)).abs()
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
}
