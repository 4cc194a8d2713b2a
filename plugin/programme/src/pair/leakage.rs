//! Which cells hold sound of their own, as opposed to leakage of the window from louder ones.
//!
//! Leakage has the phase of the tone that it comes from, at a frequency where that phase means another delay. The
//! phase transform would lift it to the level of sound, so that a lone tone would appear to have a delay.

use super::layout::Cell;
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;

/// How far over the mean leakage a cell must be, as a power ratio (8 dB): a tone midway between two bins leaks twice
/// the mean, and at the near edge of an octave of distance another 2 to 3 times.
const OVER_LEAK: f64 = 6.3;

/// Range under the loudest cell, in power per bin (80 dB), in which a microphone's cells count, whatever the leakage.
const UNDER_LOUDEST: f64 = 1e-8;

/// Smallest distance in bins that counts as another cell.
const NEAREST: usize = 4;

/// Bins of the padded transform per bin.
const PADDING: usize = 4;

/// Mean share of a tone's energy in one bin, at distances of [`NEAREST`]·2^i to [`NEAREST`]·2^(i+1) bins.
#[derive(Clone, Debug)]
pub(crate) struct Leakage {
    shares: Vec<f64>,
}

impl Leakage {
    /// The leakage of `window` in a transform of `length` samples.
    pub(crate) fn new(planner: &mut RealFftPlanner<f32>, window: &[f32], length: usize) -> Self {
        let fft = planner.plan_fft_forward(PADDING * length);
        let mut input = fft.make_input_vec();
        for (slot, weight) in input.iter_mut().zip(window) {
            *slot = *weight;
        }
        let mut output = fft.make_output_vec();
        let done = fft.process(&mut input, &mut output);
        debug_assert!(done.is_ok(), "buffers come from the transform itself");
        let power: f64 = window.iter().map(|w| f64::from(*w).powi(2)).sum();
        let whole = (power * length as f64).max(f64::MIN_POSITIVE);
        let mut shares = Vec::new();
        let mut near = NEAREST;
        while near < length / 2 {
            let far = (2 * near).min(length / 2);
            let ring = &output[PADDING * near..PADDING * far];
            let mean = ring.iter().map(|x| f64::from(x.norm_sqr())).sum::<f64>() / ring.len() as f64;
            shares.push(mean / whole);
            near *= 2;
        }
        Self { shares }
    }

    /// Marks the cells that hold sound of their own. `before` is a work buffer.
    pub(crate) fn open(
        &self,
        bins: &[Complex<f32>],
        cells: &[Cell],
        before: &mut Vec<f64>,
        open: &mut Vec<bool>,
    ) {
        before.clear();
        before.push(0.0);
        let mut sum = 0.0;
        before.extend(bins.iter().map(|x| {
            sum += f64::from(x.norm_sqr());
            sum
        }));
        let count = bins.len();
        let between = |from: usize, to: usize| before[to.min(count)] - before[from.min(count)];
        let own = |cell: &Cell| between(cell.first, cell.end) / (cell.end - cell.first) as f64;
        let loudest = cells.iter().map(own).fold(0.0, f64::max);
        let least = (loudest * UNDER_LOUDEST).max(f64::from(f32::MIN_POSITIVE));
        open.clear();
        open.extend(cells.iter().map(|cell| {
            if own(cell) < least {
                return false;
            }
            let middle = (cell.first + cell.end) / 2;
            let mut leak = 0.0;
            let mut near = NEAREST;
            for share in &self.shares {
                let far = 2 * near;
                let above = between(middle + near, middle + far);
                let below = between(middle.saturating_sub(far), middle.saturating_sub(near));
                leak += share * (above + below);
                near = far;
            }
            own(cell) >= OVER_LEAK * leak
        }));
    }
}
