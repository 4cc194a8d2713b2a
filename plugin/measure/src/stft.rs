//! The short-time spectrum: three Hann windows at once over the same samples, 75 % overlap.
//!
//! Lows are fine (16384 samples at 48 kHz) and highs are quick (1024). Frames lie on the song's own grid: frame n
//! of a window with hop H ends at sample n·H, so the same audio at the same song time gives the same frames.

use crate::cross::Cross;
use crate::window::{HANN_NOISE_BANDWIDTH, hann};
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::ops::Range;
use std::sync::Arc;

/// Overlap of neighbouring frames: three quarters, so a hop is a quarter of the window.
const HOPS_PER_WINDOW: usize = 4;

/// One window length: its transform, and the buffers that it works in.
pub(crate) struct Transform {
    length: usize,
    window: Vec<f64>,
    fft: Arc<dyn RealToComplex<f64>>,
    input: Vec<f64>,
    scratch: Vec<Complex<f64>>,
    spectra: [Vec<Complex<f64>>; 2],
    /// Bins that somebody asks for; powers of the others are never computed.
    used: Range<usize>,
    /// Matrices of the bins in `used`, mean squares: noise bandwidth divided out, one-sided.
    pub(crate) bins: Vec<Cross>,
}

impl Transform {
    pub(crate) fn new(planner: &mut RealFftPlanner<f64>, length: usize, used: Range<usize>) -> Self {
        let fft = planner.plan_fft_forward(length);
        let used = used.start..used.end.min(length / 2 + 1);
        Self {
            length,
            window: hann(length),
            input: fft.make_input_vec(),
            scratch: fft.make_scratch_vec(),
            spectra: [fft.make_output_vec(), fft.make_output_vec()],
            fft,
            bins: vec![Cross::default(); used.len()],
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

    /// Transforms the newest `length` samples of each channel into `bins`. One channel stands for both.
    pub(crate) fn run(&mut self, channels: &[&[f32]]) {
        for (samples, spectrum) in channels.iter().zip(&mut self.spectra) {
            debug_assert_eq!(samples.len(), self.length);
            for ((slot, &sample), &weight) in self.input.iter_mut().zip(*samples).zip(&self.window) {
                *slot = f64::from(sample) * weight;
            }
            let done = self.fft.process_with_scratch(&mut self.input, spectrum, &mut self.scratch);
            debug_assert!(done.is_ok(), "buffers come from the transform itself");
        }
        // |X|² to mean square, one-sided: 2/(N·Σw²) with Σw² = N·ENBW·CG² = 3N/8.
        let scale = 2.0 / (self.length as f64 * self.length as f64 * HANN_NOISE_BANDWIDTH * 0.25);
        let [left, right] = &self.spectra;
        let right = if channels.len() > 1 { right } else { left };
        let pairs = left[self.used.clone()].iter().zip(&right[self.used.clone()]);
        for (bin, (l, r)) in self.bins.iter_mut().zip(pairs) {
            *bin = Cross {
                ll: l.norm_sqr() * scale,
                rr: r.norm_sqr() * scale,
                re: (l.re * r.re + l.im * r.im) * scale,
                im: (l.im * r.re - l.re * r.im) * scale,
            };
        }
        // DC and half the sample rate have no mirror image.
        for edge in [0, self.length / 2] {
            if self.used.contains(&edge) {
                let bin = &mut self.bins[edge - self.used.start];
                *bin = *bin * 0.5;
            }
        }
    }
}

/// Factor from a bin's mean square to a line that reads a sine's level: the noise bandwidth.
pub(crate) const LINE_PER_POWER: f64 = HANN_NOISE_BANDWIDTH;

/// The newest samples, contiguous, for windows that look back.
pub(crate) struct Lookback {
    channels: Vec<Vec<f32>>,
    /// Samples kept at most.
    keep: usize,
}

impl Lookback {
    pub(crate) fn new(channels: usize, keep: usize) -> Self {
        Self { channels: vec![Vec::with_capacity(2 * keep); channels], keep }
    }

    /// Forgets the samples: what follows does not continue them.
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

    /// The newest `count` samples of a channel (fewer when fewer are known).
    pub(crate) fn newest(&self, channel: usize, count: usize) -> &[f32] {
        let kept = &self.channels[channel];
        &kept[kept.len().saturating_sub(count)..]
    }
}
