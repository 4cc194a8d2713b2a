//! One spectrum per channel over the whole passage, limited to the bins of the band.

use super::passage::Passage;
use plumbline_measure::LARGEST_SAMPLE;
use plumbline_measure::bands::BinSpan;
use plumbline_measure::rate::SampleRate;
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::f64::consts::PI;
use std::sync::Arc;

/// Most seconds used.
const SECS: u32 = 2;
/// Fewest seconds that allow an answer.
const LEAST_SECS: f64 = 0.5;
/// Length of the fade at either end in seconds, half the longest analysis window: the skirts at the edges of the band
/// are then as steep as those of the readings.
const FADE_SECS: f64 = 0.17;

/// The bins of the band, scaled so that the sum of their squares is the mean square in the band.
#[derive(Clone)]
pub(super) struct Spectrum {
    /// The side of the mix that the channel of a stereo layer belongs to; `None` for a mono layer.
    pub(super) home: Option<usize>,
    pub(super) first: usize,
    pub(super) bins: Vec<Complex<f64>>,
}

impl Spectrum {
    /// Mean square in the band.
    pub(super) fn power(&self) -> f64 {
        self.bins.iter().map(Complex::norm_sqr).sum()
    }
}

/// The transform of whole passages.
pub(super) struct Spectra {
    rate: SampleRate,
    fft: Arc<dyn RealToComplex<f64>>,
    input: Vec<f64>,
    scratch: Vec<Complex<f64>>,
    output: Vec<Complex<f64>>,
    /// The window over the samples of the current passage.
    window: Vec<f64>,
    /// First sample used.
    start: usize,
    /// Square root of the share of each bin in the band, including the scale.
    weights: Vec<f64>,
    first: usize,
    freedom: f64,
}

impl Spectra {
    pub(super) fn new(rate: SampleRate) -> Self {
        let fft = RealFftPlanner::<f64>::new().plan_fft_forward(smooth_length(SECS * rate.hz()));
        Self {
            rate,
            input: fft.make_input_vec(),
            scratch: fft.make_scratch_vec(),
            output: fft.make_output_vec(),
            fft,
            window: Vec::new(),
            start: 0,
            weights: Vec::new(),
            first: 0,
            freedom: 0.0,
        }
    }

    /// Length of the transform in samples.
    pub(super) fn length(&self) -> usize {
        self.input.len()
    }

    /// Real degrees of freedom of a channel in the band: twice bandwidth times time.
    pub(super) fn freedom(&self) -> f64 {
        self.freedom
    }

    /// Prepares for the length and the band of a passage. `None` if either is unusable.
    pub(super) fn prepare(&mut self, passage: &Passage<'_>) -> Option<()> {
        let given = passage.mix[0].len().min(passage.mix[1].len());
        let length = given.min((SECS * self.rate.hz()) as usize);
        if (length as f64) < LEAST_SECS * self.rate.as_f64() {
            return None;
        }
        self.start = given - length;
        if self.window.len() != length {
            self.window = faded(length, FADE_SECS * self.rate.as_f64());
        }
        let span = passage.span;
        if !(span.low_hz.is_finite() && span.high_hz.is_finite() && span.low_hz >= 0.0) {
            return None;
        }
        let bins = BinSpan::new(0, self.input.len(), self.rate, span);
        let squares: f64 = self.window.iter().map(|w| w * w).sum();
        let fourths: f64 = self.window.iter().map(|w| w.powi(4)).sum();
        // One-sided, by Parseval: mean square = 2·Σ|X|²/(N·Σw²).
        let scale = 2.0 / (self.input.len() as f64 * squares);
        let edges = [0, self.input.len() / 2];
        let weight_of = |(i, share): (usize, &f64)| {
            // DC and half the sample rate have no mirror image.
            let sides = if edges.contains(&(bins.first + i)) { 0.5 } else { 1.0 };
            (share * scale * sides).sqrt()
        };
        self.weights = bins.weights.iter().enumerate().map(weight_of).collect();
        self.first = bins.first;
        let hz: f64 = bins.weights.iter().sum::<f64>() * self.rate.as_f64() / self.input.len() as f64;
        // Effective time under the fades, for estimates from squares.
        let secs = squares * squares / fourths / self.rate.as_f64();
        self.freedom = 2.0 * hz * secs;
        Some(())
    }

    /// The spectrum of a channel of the passage. Missing, NaN and infinite samples count as silence.
    pub(super) fn of(&mut self, channel: &[f32]) -> Spectrum {
        let samples = channel.get(self.start..).unwrap_or_default();
        let samples = &samples[..samples.len().min(self.window.len())];
        self.input.fill(0.0);
        for ((slot, &sample), &weight) in self.input.iter_mut().zip(samples).zip(&self.window) {
            let sample = if sample.is_finite() { sample.clamp(-LARGEST_SAMPLE, LARGEST_SAMPLE) } else { 0.0 };
            *slot = f64::from(sample) * weight;
        }
        let done = self.fft.process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch);
        debug_assert!(done.is_ok(), "buffers come from the transform itself");
        let values = self.output.get(self.first..).unwrap_or_default();
        let bins = values.iter().zip(&self.weights).map(|(value, weight)| value * weight).collect();
        Spectrum { home: None, first: self.first, bins }
    }
}

/// A window of ones with a raised-cosine fade at either end, each at most a quarter of the length.
fn faded(length: usize, fade: f64) -> Vec<f64> {
    let fade = fade.min(length as f64 / 4.0).max(1.0);
    (0..length)
        .map(|n| {
            let to_end = (n.min(length - 1 - n) as f64 + 0.5) / fade;
            if to_end < 1.0 { 0.5 - 0.5 * (PI * to_end).cos() } else { 1.0 }
        })
        .collect()
}

/// The smallest even length from `least` up without a prime factor over 5: quick to transform.
fn smooth_length(least: u32) -> usize {
    let smooth = |mut n: usize| {
        for factor in [2, 3, 5] {
            while n.is_multiple_of(factor) {
                n /= factor;
            }
        }
        n == 1
    };
    let least = least as usize + least as usize % 2;
    (least..).step_by(2).find(|n| smooth(*n)).unwrap_or(least)
}
