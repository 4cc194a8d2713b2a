//! A delay by a fraction of a sample: a shifted sinc, the ideal delay, under a Kaiser window.
//!
//! Method: T. I. Laakso et al., "Splitting the unit delay", IEEE Signal Processing Magazine 13(1), 1996, section on
//! windowed sincs. Window: J. F. Kaiser and R. W. Schafer, "On the use of the I0-sinh window for spectrum analysis",
//! IEEE Transactions on Acoustics, Speech, and Signal Processing 28(1), 1980.

use std::f64::consts::PI;

/// Half the length of a kernel: the samples that it reaches to either side.
///
/// A longer kernel is flat to a higher frequency, but more short delays are rounded. 32 is flat to 0.9 of half the
/// sample rate, 21.6 kHz at 48 kHz. The model checker explores each weight that crosses threads, so it gets a short one.
pub(crate) const REACH: usize = if cfg!(loom) { 1 } else { 32 };

/// Number of weights of a kernel.
pub(crate) const TAPS: usize = 2 * REACH;

/// Shape of the window, for a stopband 80 dB down (Kaiser's formula for filters, 0.1102·(A − 8.7)).
const BETA: f64 = 7.857;

/// Weights of [`TAPS`] consecutive samples, earliest first.
pub(crate) type Kernel = [f32; TAPS];

/// The kernel of a delay by [`REACH`] − 1 + `fraction` samples, counted from its last sample; `fraction` is 0…1.
///
/// # Accuracy
/// Gain within 0.1 dB and phase delay within 0.01 sample of the ideal, up to 0.8 of half the sample rate; the tests
/// allow a tenth of that. The weights sum to 1.
pub(crate) fn kernel(fraction: f64) -> Kernel {
    let raw: [f64; TAPS] = std::array::from_fn(|k| {
        // Age of sample k minus the delay.
        let off = (TAPS - 1 - k) as f64 - ((REACH - 1) as f64 + fraction);
        sinc(off) * window(off / REACH as f64)
    });
    let sum: f64 = raw.iter().sum();
    #[expect(clippy::cast_possible_truncation, reason = "audio is single precision")]
    raw.map(|weight| (weight / sum) as f32)
}

fn sinc(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { (PI * x).sin() / (PI * x) }
}

/// The Kaiser window on −1…1; 0 outside.
fn window(x: f64) -> f64 {
    let under = 1.0 - x * x;
    if under < 0.0 { 0.0 } else { bessel_i0(BETA * under.sqrt()) / bessel_i0(BETA) }
}

/// The modified Bessel function of the first kind and order 0, by its power series.
fn bessel_i0(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let (mut sum, mut term) = (1.0, 1.0);
    for k in 1..40 {
        term *= quarter / f64::from(k * k);
        sum += term;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Response of a kernel at `w` radians a sample, real and imaginary part.
    fn response(kernel: &Kernel, w: f64) -> (f64, f64) {
        let mut sum = (0.0, 0.0);
        for (k, weight) in kernel.iter().enumerate() {
            let ago = (TAPS - 1 - k) as f64;
            sum.0 += f64::from(*weight) * (w * ago).cos();
            sum.1 -= f64::from(*weight) * (w * ago).sin();
        }
        sum
    }

    #[test]
    fn gain_and_phase_delay_are_those_of_the_ideal_delay_up_to_eight_tenths_of_half_the_rate() {
        let mut cases = 0;
        let (mut worst_db, mut worst_delay) = (0.0_f64, 0.0_f64);
        for fraction in (0..=20).map(|k| f64::from(k) / 20.0) {
            let kernel = kernel(fraction);
            let ideal = (REACH - 1) as f64 + fraction;
            for step in 1..=160 {
                let w = PI * f64::from(step) / 200.0;
                let (re, im) = response(&kernel, w);
                // The response divided by the ideal e^(−jωd): gain and a small angle.
                let (c, s) = ((w * ideal).cos(), (w * ideal).sin());
                let (left_re, left_im) = (re * c - im * s, im * c + re * s);
                worst_db = worst_db.max((20.0 * left_re.hypot(left_im).log10()).abs());
                worst_delay = worst_delay.max((left_im.atan2(left_re) / w).abs());
                cases += 1;
            }
        }
        assert_eq!(cases, 21 * 160);
        assert!(worst_db < 0.01, "{worst_db} dB");
        assert!(worst_delay < 0.001, "{worst_delay} samples");
    }

    #[test]
    fn the_ends_of_the_range_are_whole_samples() {
        for (fraction, at) in [(0.0, TAPS - 1 - (REACH - 1)), (1.0, TAPS - 1 - REACH)] {
            for (k, weight) in kernel(fraction).iter().enumerate() {
                let expected = if k == at { 1.0 } else { 0.0 };
                assert!((weight - expected).abs() < 1e-7, "weight {k} of {fraction} is {weight}");
            }
        }
    }

    #[test]
    fn the_bessel_function_has_its_tabulated_values() {
        // M. Abramowitz, I. Stegun, Handbook of Mathematical Functions, table 9.8: e^−x·I0(x), from memory.
        for (x, scaled) in [(0.0, 1.0), (1.0, 0.465_759_607_6), (5.0, 0.183_540_812_6)] {
            let found = bessel_i0(x) * (-x).exp();
            assert!((found - scaled).abs() < 1e-9, "{x}: {found}");
        }
    }
}
