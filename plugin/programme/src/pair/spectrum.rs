//! The spectrum of the latest window of one microphone: computed once, shared by all its pairs.

use super::layout::Layout;
use super::leakage::Leakage;
use plumbline_measure::LARGEST_SAMPLE;
use plumbline_measure::bands::{THIRDS, in_lanes};
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// The spectrum of one microphone's window, with the energy sums that its pairs need.
///
/// # Shape
/// Bins from 17.8 Hz to 22.4 kHz or 0.48 of the sample rate, single precision, scaled by the RMS of the window so
/// that no level is lost to rounding; about 0.4 MB at 48 kHz.
#[derive(Clone, Debug, Default)]
pub struct Spectrum {
    /// The bins, of the samples divided by their RMS.
    pub(crate) bins: Vec<Complex<f32>>,
    /// |X|² summed over each block.
    pub(crate) blocks: Vec<f32>,
    /// |X|² summed over each cell.
    pub(crate) cells: Vec<f32>,
    /// Whether each cell holds sound of its own, not leakage.
    pub(crate) open: Vec<bool>,
    /// Mean square of the samples for a sum of |X|² of 1.
    pub(crate) scale: f64,
    /// Mean square of each third.
    pub(crate) thirds: [f64; THIRDS],
    /// Sample rate in Hz and window length with which it was made.
    pub(crate) shape: (u32, usize),
    /// Whether there were enough samples for the window.
    pub(crate) whole: bool,
}

/// Two spectra and their cross spectrum, bin by bin.
pub(crate) type Both<'a> = (&'a Spectrum, &'a Spectrum, &'a [Complex<f32>]);

impl Spectrum {
    /// Mean square of the samples between 17.8 Hz and 22.4 kHz.
    pub fn mean_square(&self) -> f64 {
        self.thirds.iter().sum()
    }
}

/// The transform and its buffers.
pub(crate) struct Transform {
    fft: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    output: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    leakage: Leakage,
    before: Vec<f64>,
}

impl Transform {
    pub(crate) fn new(planner: &mut RealFftPlanner<f32>, layout: &Layout) -> Self {
        let fft = planner.plan_fft_forward(layout.transform);
        Self {
            input: fft.make_input_vec(),
            output: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            leakage: Leakage::new(planner, &layout.window, layout.transform),
            before: Vec::new(),
            fft,
        }
    }

    /// Transforms `samples` into `to`, whose buffers are reused. With fewer samples than the window the spectrum is
    /// marked as not whole; of more the last ones count. NaN and infinite samples count as silence.
    pub(crate) fn run(&mut self, layout: &Layout, samples: &[f32], to: &mut Spectrum) {
        let length = layout.window.len();
        to.shape = layout.shape();
        to.whole = samples.len() >= length && length > 0;
        let samples = &samples[samples.len().saturating_sub(length)..];
        for (slot, sample) in self.input.iter_mut().zip(samples) {
            *slot = tame(*sample);
        }
        self.input[samples.len()..].fill(0.0);
        let count = samples.len().max(1) as f64;
        let mean = in_lanes(&self.input, |x| x) / count;
        let power = in_lanes(&self.input, |x| x * x) / count - mean * mean;
        let rms = power.max(0.0).sqrt();
        // Under the smallest normal number there is nothing to scale up.
        let gain = if rms > f64::from(f32::MIN_POSITIVE) { 1.0 / rms } else { 0.0 };
        #[expect(clippy::cast_possible_truncation, reason = "of the order of one")]
        for (slot, weight) in self.input.iter_mut().zip(&layout.window) {
            *slot = ((f64::from(*slot) - mean) * gain) as f32 * weight;
        }
        let done = self.fft.process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch);
        debug_assert!(done.is_ok(), "buffers come from the transform itself");
        to.bins.clear();
        to.bins.extend_from_slice(&self.output[layout.first_bin..layout.end_bin]);
        // Parseval, one-sided: mean square = 2·Σ|X|²/(N·Σw²).
        to.scale = if gain > 0.0 {
            2.0 * rms * rms / (layout.transform as f64 * layout.window_power.max(f64::MIN_POSITIVE))
        } else {
            0.0
        };
        to.add_up(layout);
        self.leakage.open(&to.bins, &layout.cells, &mut self.before, &mut to.open);
    }
}

impl Spectrum {
    fn add_up(&mut self, layout: &Layout) {
        let bins = &self.bins;
        let power = |range: std::ops::Range<usize>| norm_sqr(&bins[range]);
        self.blocks.clear();
        self.blocks.extend((0..layout.block_thirds.len()).map(|i| power(layout.block_bins(i))));
        self.cells.clear();
        self.cells.extend(layout.cells.iter().map(|cell| power(cell.first..cell.end)));
        self.thirds = [0.0; THIRDS];
        for (cell, power) in layout.cells.iter().zip(&self.cells) {
            self.thirds[cell.third] += f64::from(*power) * self.scale;
        }
    }
}

/// Σ|X|² in lanes: fast, and reproducible.
fn norm_sqr(bins: &[Complex<f32>]) -> f32 {
    const LANES: usize = 8;
    let mut lanes = [0.0_f32; LANES];
    let chunks = bins.chunks_exact(LANES);
    let rest: f32 = chunks.remainder().iter().map(Complex::norm_sqr).sum();
    for chunk in chunks {
        for (lane, bin) in lanes.iter_mut().zip(chunk) {
            *lane += bin.norm_sqr();
        }
    }
    lanes.iter().sum::<f32>() + rest
}

/// A sample as measured: 0 if NaN or infinite, limited to ±[`LARGEST_SAMPLE`].
fn tame(sample: f32) -> f32 {
    if sample.is_finite() { sample.clamp(-LARGEST_SAMPLE, LARGEST_SAMPLE) } else { 0.0 }
}
