//! Aligns layers that are a few samples early or late against the mix.
//!
//! If a host's delay compensation is off by some samples, no real gain fits the high bands.

use super::fit::Fit;
use super::gram::Gram;
use super::passage::{LARGEST_SHIFT, Part};
use super::spectra::Spectrum;
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;
use std::f64::consts::TAU;

/// Unexplained share under which no shift is searched: a shift could not change any loss by a decibel.
const GOOD_ENOUGH: f64 = 0.02;
/// Smallest share of the unexplained power that a shift must win.
const LEAST_SHARE: f64 = 0.05;
/// The same limit in degrees of freedom of the sound: the best of 129 shifts of an unrelated stereo layer wins about
/// ten by chance (four gains' χ² against one in 129).
const LEAST_FREEDOM: f64 = 30.0;
/// Number of passes over all layers: what one explains after its shift may reveal another.
const ROUNDS: usize = 2;
/// Length of the correlation in samples; longer than needed, so that the band can be summed in coarse steps.
const LAGS: usize = 1_024;

/// Shifts the layers whose fit clearly improves, the largest win first, each at most once.
pub(super) fn align(
    mix: &[Spectrum; 2],
    columns: &mut [Spectrum],
    parts: &[Part],
    gram: &mut Gram,
    fit: &mut Fit,
    freedom: f64,
    length: usize,
) {
    if fit.unexplained <= GOOD_ENOUGH {
        return;
    }
    let inverse = RealFftPlanner::<f64>::new().plan_fft_inverse(LAGS);
    let share = LEAST_SHARE.max(LEAST_FREEDOM / freedom);
    let mut open: Vec<usize> = (0..parts.len()).collect();
    for _ in 0..ROUNDS {
        let rest = residual(mix, columns, fit);
        let least = share * rest.iter().flatten().map(Complex::norm_sqr).sum::<f64>();
        let mut found: Vec<(usize, i32, f64)> = open
            .iter()
            .filter_map(|&at| {
                let own = parts[at].columns.clone();
                let (by, win) = best_shift(&rest, columns, &own, gram, fit, length, inverse.as_ref())?;
                (win >= least).then_some((at, by, win))
            })
            .collect();
        found.sort_by(|a, b| b.2.total_cmp(&a.2));
        let mut moved = false;
        for (at, by, _) in found {
            let own = parts[at].columns.clone();
            let before: Vec<Spectrum> = columns[own.clone()].to_vec();
            columns[own.clone()].iter_mut().for_each(|column| shift(column, by, length));
            gram.renew(mix, columns, own.clone());
            match Fit::new(gram, freedom) {
                Some(better) if better.unexplained < (1.0 - share) * fit.unexplained => {
                    *fit = better;
                    open.retain(|other| *other != at);
                    moved = true;
                }
                _ => {
                    columns[own.clone()].clone_from_slice(&before);
                    gram.renew(mix, columns, own);
                }
            }
        }
        if !moved || fit.unexplained <= GOOD_ENOUGH {
            return;
        }
    }
}

/// The part of the mix that the fit leaves, bin by bin.
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

/// The shift at which the columns of one layer explain most of the mix without the other layers: samples later, and
/// power won over no shift.
fn best_shift(
    rest: &[Vec<Complex<f64>>; 2],
    columns: &[Spectrum],
    own: &std::ops::Range<usize>,
    gram: &Gram,
    fit: &Fit,
    length: usize,
    inverse: &dyn realfft::ComplexToReal<f64>,
) -> Option<(i32, f64)> {
    // Correlation, by shift, of each own column with each side of the mix without the other layers.
    let mut coarse = vec![inverse.make_input_vec(); 2 * own.len()];
    for (channel, rest) in rest.iter().enumerate() {
        for (i, left) in rest.iter().enumerate() {
            let without_others: Complex<f64> =
                own.clone().map(|c| columns[c].bins[i] * fit.gains[c][channel]).sum::<Complex<f64>>() + left;
            let place = ((columns[own.start].first + i) * LAGS + length / 2) / length;
            for (at, column) in own.clone().enumerate() {
                if let Some(slot) = coarse[2 * at + channel].get_mut(place) {
                    *slot += columns[column].bins[i].conj() * without_others;
                }
            }
        }
    }
    let mut correlations = Vec::new();
    for mut coarse in coarse {
        // The transform of a real series has no imaginary part at either end.
        for end in [0, LAGS / 2] {
            coarse[end].im = 0.0;
        }
        let mut by_shift = inverse.make_output_vec();
        inverse.process(&mut coarse, &mut by_shift).ok()?;
        correlations.push(by_shift);
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

/// Power that one or two columns explain of a signal, given their products with it.
fn explained_power(own: &std::ops::Range<usize>, gram: &Gram, product: impl Fn(usize) -> f64) -> f64 {
    let first = own.start;
    let a = gram.between(first, first);
    let x = product(0);
    if own.len() < 2 {
        return x * x / a;
    }
    let (b, c, y) = (gram.between(first + 1, first + 1), gram.between(first, first + 1), product(1));
    let det = a * b - c * c;
    // Two channels with the same sound explain no more than one.
    if det < 1e-6 * a * b {
        return (x * x / a).max(y * y / b);
    }
    (x * x * b - 2.0 * x * y * c + y * y * a) / det
}

/// Delays a column by `by` samples.
fn shift(column: &mut Spectrum, by: i32, length: usize) {
    let step = Complex::from_polar(1.0, -TAU * f64::from(by) / length as f64);
    for (block, bins) in column.bins.chunks_mut(256).enumerate() {
        // The rotation of each block is computed directly, so that rounding does not build up.
        let place = (column.first + 256 * block) as f64;
        let mut turn = Complex::from_polar(1.0, -TAU * f64::from(by) * place / length as f64);
        for bin in bins {
            *bin *= turn;
            turn *= step;
        }
    }
}
