//! The short-time spectrum: three Hann windows at once over the same samples, 75 % overlap.
//!
//! The long window (16384 samples at 48 kHz) resolves the lows finely, the short one (1024) follows the highs quickly.
//! Frames follow the song's own grid: frame n of a window with hop H ends at sample n·H, so the same audio at the same
//! song time gives the same frames.

use crate::powers::Powers;
use crate::window::{HANN_COHERENT_GAIN, HANN_NOISE_BANDWIDTH, hann};
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::ops::Range;
use std::sync::Arc;

/// Overlap of neighbouring frames: three quarters, so a hop is a quarter of the window.
const HOPS_PER_WINDOW: usize = 4;

/// The transform of one window length, and its buffers.
pub(crate) struct Transform {
    length: usize,
    window: Vec<f32>,
    fft: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    scratch: Vec<Complex<f32>>,
    spectra: [Vec<Complex<f32>>; 2],
    /// Bins in use; powers of the others are never computed.
    used: Range<usize>,
    /// Matrices of the bins in `used`, mean squares: noise bandwidth divided out, one-sided.
    pub(crate) bins: Powers,
}

impl Transform {
    pub(crate) fn new(planner: &mut RealFftPlanner<f32>, length: usize, used: Range<usize>) -> Self {
        let fft = planner.plan_fft_forward(length);
        let used = used.start..used.end.min(length / 2 + 1);
        Self {
            length,
            window: hann(length).into_iter().map(single).collect(),
            input: fft.make_input_vec(),
            scratch: fft.make_scratch_vec(),
            spectra: [fft.make_output_vec(), fft.make_output_vec()],
            fft,
            bins: Powers::zero(used.len()),
            used,
        }
    }

    pub(crate) fn length(&self) -> usize {
        self.length
    }

    pub(crate) fn hop(&self) -> usize {
        self.length / HOPS_PER_WINDOW
    }

    pub(crate) fn used(&self) -> Range<usize> {
        self.used.clone()
    }

    /// Transforms the newest `length` samples of each channel into `bins`. A single channel counts as both.
    pub(crate) fn run(&mut self, channels: &[&[f32]]) {
        for (samples, spectrum) in channels.iter().zip(&mut self.spectra) {
            debug_assert_eq!(samples.len(), self.length);
            for ((slot, &sample), &weight) in self.input.iter_mut().zip(*samples).zip(&self.window) {
                *slot = sample * weight;
            }
            let done = self.fft.process_with_scratch(&mut self.input, spectrum, &mut self.scratch);
            debug_assert!(done.is_ok(), "buffers come from the transform itself");
        }
        // |X|² to mean square, one-sided: 2/(N·Σw²) with Σw² = N·ENBW·CG² = 3N/8.
        let gain = HANN_COHERENT_GAIN * HANN_COHERENT_GAIN;
        let scale = 2.0 / (self.length as f64 * self.length as f64 * HANN_NOISE_BANDWIDTH * gain);
        let [left, right] = &self.spectra;
        let right = if channels.len() > 1 { right } else { left };
        self.bins.of(&left[self.used.clone()], &right[self.used.clone()], scale);
        // DC and half the sample rate have no mirror image.
        for edge in [0, self.length / 2] {
            if self.used.contains(&edge) {
                self.bins.weigh(edge - self.used.start, 0.5);
            }
        }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "the samples come in single precision too")]
fn single(value: f64) -> f32 {
    value as f32
}

/// The latest samples, contiguous, for windows that look back.
pub(crate) struct Lookback {
    channels: Vec<Vec<f32>>,
    /// The most samples kept.
    keep: usize,
}

impl Lookback {
    pub(crate) fn new(channels: usize, keep: usize) -> Self {
        Self { channels: vec![Vec::with_capacity(2 * keep); channels], keep }
    }

    /// Clears the samples.
    pub(crate) fn clear(&mut self) {
        self.channels.iter_mut().for_each(Vec::clear);
    }

    /// Appends samples; at most `keep` in one call.
    pub(crate) fn extend(&mut self, block: &[&[f32]]) {
        for (kept, new) in self.channels.iter_mut().zip(block) {
            if kept.len() + new.len() > 2 * self.keep {
                kept.drain(..kept.len() - self.keep);
            }
            kept.extend_from_slice(new);
        }
    }

    pub(crate) fn len(&self) -> usize {
        self.channels[0].len()
    }

    /// The latest `count` samples of a channel, or fewer if there are fewer.
    pub(crate) fn newest(&self, channel: usize, count: usize) -> &[f32] {
        let kept = &self.channels[channel];
        &kept[kept.len().saturating_sub(count)..]
    }
}
