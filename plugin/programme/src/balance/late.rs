//! Whether a layer's level moves later than that of the mix: host delay compensation, or a plug-in in the wrong
//! place.

use super::layer_store::LayerStore;
use crate::paged::{index_of, mask_of, ones};
use plumbline_measure::Grid;
use std::ops::RangeInclusive;

/// Tenths compared: the last 30 s.
const TENTHS: usize = 300;
/// Fewest tenths that each must have reported: 20 s.
const LEAST_TENTHS: usize = 200;
/// Largest delay reported, tenths.
const FURTHEST: i32 = 10;
/// Largest lag searched for rival peaks, tenths.
const FURTHEST_RIVAL: i32 = 20;
/// Least correlation at a clear peak.
const PEAK: f64 = 0.7;
/// Least height of the peak over the value at lag 0.
const OVER_NONE: f64 = 0.2;
/// Least height of the peak over every rival.
const OVER_RIVALS: f64 = 0.1;
/// Least standard deviation of an envelope, as a share of its mean. A steadier level has no timing.
const MOVES: f64 = 0.1;

/// How much later than the mix a layer's level moves, in seconds; negative is early. `None` unless the delay is
/// clear.
///
/// # Definition
/// Correlation of the square roots of the tenths' K-weighted energies of both, means removed, over the tenths up to
/// `end`, for lags of ±2 s. A delay is clear if both envelopes move and there is a peak of at least 0.7 within ±1 s,
/// not at 0, at least 0.2 over the value at lag 0 and 0.1 over every other peak. The lag is refined by a parabola
/// through the peak and its neighbours (common practice, no source).
pub(super) fn late_secs(layer: &LayerStore, mix: &LayerStore, grid: Grid, end: i64) -> Option<f64> {
    let range = end.saturating_sub(TENTHS as i64 - 1)..=end;
    late(&envelope(layer, grid, &range)?, &envelope(mix, grid, &range)?)
}

/// Square roots of the energies; a missing tenth counts as silent. `None` if too many are missing or nothing moves.
fn envelope(store: &LayerStore, grid: Grid, range: &RangeInclusive<i64>) -> Option<Vec<f64>> {
    let (mut values, mut reported) = (vec![0.0; TENTHS], 0);
    for (number, page) in store.pages().range(grid, range) {
        for slot in ones(page.used & mask_of(number, range)) {
            let at = index_of(number, slot).abs_diff(*range.start());
            if let Some(value) = usize::try_from(at).ok().and_then(|at| values.get_mut(at)) {
                *value = f64::from(page.k[slot]).sqrt();
                reported += 1;
            }
        }
    }
    (reported >= LEAST_TENTHS).then_some(values).filter(|values| moves(values))
}

fn moves(values: &[f64]) -> bool {
    let mean = mean(values);
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / values.len() as f64;
    variance.sqrt() > MOVES * mean
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn late(layer: &[f64], mix: &[f64]) -> Option<f64> {
    let all: Vec<f64> = (-FURTHEST_RIVAL..=FURTHEST_RIVAL).map(|lag| correlation(layer, mix, lag)).collect();
    let value = |lag: i32| usize::try_from(lag + FURTHEST_RIVAL).ok().and_then(|at| all.get(at)).copied();
    let is_peak = |lag: i32| {
        let beside = [value(lag - 1), value(lag + 1)];
        value(lag).is_some_and(|v| beside.iter().flatten().all(|b| *b <= v))
    };
    let peaks = || (-FURTHEST_RIVAL..=FURTHEST_RIVAL).filter(|lag| is_peak(*lag));
    let height = |lag: i32| value(lag).unwrap_or(0.0);
    let best = peaks().max_by(|a, b| height(*a).total_cmp(&height(*b)))?;
    let rival = peaks().filter(|lag| (lag - best).abs() > 1).map(height).fold(f64::NEG_INFINITY, f64::max);
    let plain = best != 0
        && best.abs() <= FURTHEST
        && height(best) >= PEAK
        && height(best) - height(0) >= OVER_NONE
        && height(best) - rival >= OVER_RIVALS;
    if !plain {
        return None;
    }
    let (before, after) = (height(best - 1), height(best + 1));
    let bend = before - 2.0 * height(best) + after;
    let off = if bend < 0.0 { (0.5 * (before - after) / bend).clamp(-0.5, 0.5) } else { 0.0 };
    Some((f64::from(best) + off) / 10.0)
}

/// Normalised correlation of the layer, shifted back by `lag` tenths, with the mix, over the tenths where both
/// overlap.
fn correlation(layer: &[f64], mix: &[f64], lag: i32) -> f64 {
    let by = lag.unsigned_abs() as usize;
    let (layer, mix) = if lag >= 0 {
        (&layer[by..], &mix[..mix.len() - by])
    } else {
        (&layer[..layer.len() - by], &mix[by..])
    };
    let (layer_mean, mix_mean) = (mean(layer), mean(mix));
    let (mut both, mut of_layer, mut of_mix) = (0.0, 0.0, 0.0);
    for (l, m) in layer.iter().zip(mix) {
        let (l, m) = (l - layer_mean, m - mix_mean);
        both += l * m;
        of_layer += l * l;
        of_mix += m * m;
    }
    let scale = of_layer.sqrt() * of_mix.sqrt();
    if scale > 0.0 { both / scale } else { 0.0 }
}

#[cfg(test)]
mod tests;
