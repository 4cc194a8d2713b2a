//! Layers that come a few samples early or late against the mix.
//!
//! Where a host's delay compensation misses by some samples, no real gain fits the high bands.

use super::fit::Fit;
use super::gram::Gram;
use super::spectra::Spectrum;
use super::{LARGEST_SHIFT, Part};
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;
use std::f64::consts::TAU;

/// Unexplained share under which no shift is looked for: what a shift could still win moves no loss by a decibel.
const GOOD_ENOUGH: f64 = 0.02;
/// What a shift must leave at most of what was unexplained. The best of 129 shifts of an unrelated layer wins a few
/// percent by chance.
const MARKED: f64 = 0.75;
/// Length of the correlation in samples. Longer than needed, so that the band may be summed in coarse steps.
const LAGS: usize = 1_024;

/// Shifts layers, one after another, as long as it makes the fit markedly better; each at most once.
pub(super) fn align(
    mix: &[Spectrum; 2],
    columns: &mut [Spectrum],
    parts: &[Part],
    gram: &mut Gram,
    fit: &mut Fit,
    freedom: f64,
    length: usize,
) {
    let mut open: Vec<usize> = (0..parts.len()).collect();
    let mut planner = RealFftPlanner::<f64>::new();
    let inverse = planner.plan_fft_inverse(LAGS);
    while fit.unexplained > GOOD_ENOUGH && !open.is_empty() {
        let rest = residual(mix, columns, fit);
        let best = open
            .iter()
            .filter_map(|&at| {
                let own = parts[at].columns.clone();
                let (by, win) = best_shift(&rest, columns, &own, gram, fit, length, inverse.as_ref())?;
                Some((at, by, win))
            })
            .max_by(|a, b| a.2.total_cmp(&b.2));
        let Some((at, by, _)) = best else { return };
        open.retain(|other| *other != at);
        let own = parts[at].columns.clone();
        let before: Vec<Spectrum> = columns[own.clone()].to_vec();
        columns[own.clone()].iter_mut().for_each(|column| shift(column, by, length));
        gram.renew(mix, columns, own.clone());
        match Fit::new(gram, freedom) {
            Some(better) if better.unexplained < MARKED * fit.unexplained => *fit = better,
            _ => {
                columns[own.clone()].clone_from_slice(&before);
                gram.renew(mix, columns, own);
            }
        }
    }
}

/// What the fit leaves of the mix, bin by bin.
fn residual(mix: &[Spectrum; 2], columns: &[Spectrum], fit: &Fit) -> [Vec<Complex<f64>>; 2] {
    [0, 1].map(|channel| {
        let mut rest = mix[channel].bins.clone();
        for (column, gains) in columns.iter().zip(&fit.gains) {
            for (slot, bin) in rest.iter_mut().zip(&column.bins) {
                *slot -= bin * gains[channel];
            }
        }
        rest
    })
}

/// The shift at which the columns of one layer explain most of the mix without the others: (samples later, power won
/// against no shift).
fn best_shift(
    rest: &[Vec<Complex<f64>>; 2],
    columns: &[Spectrum],
    own: &std::ops::Range<usize>,
    gram: &Gram,
    fit: &Fit,
    length: usize,
    inverse: &dyn realfft::ComplexToReal<f64>,
) -> Option<(i32, f64)> {
    // Correlation of each own column with each side, by shift.
    let mut correlations = Vec::new();
    for column in own.clone() {
        for (channel, rest) in rest.iter().enumerate() {
            let mut coarse = inverse.make_input_vec();
            for (i, (bin, left)) in columns[column].bins.iter().zip(rest).enumerate() {
                let parts: Complex<f64> =
                    own.clone().map(|c| columns[c].bins[i] * fit.gains[c][channel]).sum();
                let place = ((columns[column].first + i) * LAGS + length / 2) / length;
                if let Some(slot) = coarse.get_mut(place) {
                    *slot += bin.conj() * (left + parts);
                }
            }
            // A real series has no imaginary part at either end.
            for end in [0, LAGS / 2] {
                coarse[end].im = 0.0;
            }
            let mut by_shift = inverse.make_output_vec();
            inverse.process(&mut coarse, &mut by_shift).ok()?;
            correlations.push(by_shift);
        }
    }
    let explained = |shift: i32| -> f64 {
        let size = shift.unsigned_abs() as usize;
        let place = if shift < 0 { LAGS - size } else { size };
        (0..2).map(|channel| explained_power(own, gram, |i| correlations[2 * i + channel][place] / 2.0)).sum()
    };
    let still = explained(0);
    let reach = i32::try_from(LARGEST_SHIFT).ok()?;
    let (by, most) = (-reach..=reach)
        .map(|shift| (shift, explained(shift)))
        .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.abs().cmp(&a.0.abs())))?;
    (by != 0 && most > still).then_some((by, most - still))
}

/// Power that one or two columns explain of a signal with which they have these products.
fn explained_power(own: &std::ops::Range<usize>, gram: &Gram, product: impl Fn(usize) -> f64) -> f64 {
    let first = own.start;
    let a = gram.between(first, first);
    let x = product(0);
    if own.len() < 2 {
        return x * x / a;
    }
    let (b, c, y) = (gram.between(first + 1, first + 1), gram.between(first, first + 1), product(1));
    let det = a * b - c * c;
    // Two channels that hold the same sound explain no more than one.
    if det < 1e-6 * a * b {
        return (x * x / a).max(y * y / b);
    }
    (x * x * b - 2.0 * x * y * c + y * y * a) / det
}

/// Makes a column come `by` samples later.
fn shift(column: &mut Spectrum, by: i32, length: usize) {
    let step = Complex::from_polar(1.0, -TAU * f64::from(by) / length as f64);
    for (block, bins) in column.bins.chunks_mut(256).enumerate() {
        // The turn of each block from its place, so that rounding does not build up.
        let place = (column.first + 256 * block) as f64;
        let mut turn = Complex::from_polar(1.0, -TAU * f64::from(by) * place / length as f64);
        for bin in bins {
            *bin *= turn;
            turn *= step;
        }
    }
}
