//! The correlation over lag, its highest peak, and the highest rival.

use super::layout::Layout;
use super::spectrum::Both;
use super::third_weights::Weights;
use super::window_lengths::LONGEST_LAG_SECS;
use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner};
use std::sync::Arc;

/// Longest lag examined, in seconds, for sound that is shared beyond the longest lag searched: the blocks of the search
/// distinguish lags under 200 ms.
const FARTHEST_SECS: f64 = 0.19;

/// Distance of a second delay from the peak: nearer values are the ripple of a narrow band or the echo of a stand.
const APART_SECS: f64 = 1e-3;

/// Lag steps per sample. With one, a peak between two samples of a full-band signal reads 0.64 of its height, and a
/// lower rival on a sample would win; with two it reads 0.9 before the parabola and 0.98 after.
const STEPS: usize = 2;

/// A rival of the same sign counts once the correlation between it and the peak has fallen to this part of it; before
/// that it is a ripple on the shoulder of the peak.
const DIP: f32 = 0.85;

/// The highest peak of the correlation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Peak {
    /// Lag in samples; positive if the second trails.
    pub(crate) lag_samples: f64,
    /// Height, −1…1: negative for inverted polarity, ±1 if every bin agrees.
    pub(crate) height: f64,
    /// Magnitude of the highest rival relative to the peak, 0…1.
    pub(crate) rival: f64,
    /// Lag in samples of the highest value more than 1 ms away, and its magnitude relative to the peak.
    pub(crate) second: (f64, f64),
    /// Magnitude of the peak over the standard deviation of all other lags.
    pub(crate) over_rest: f64,
    /// Magnitude of the highest value beyond the range searched, over the same standard deviation; only if it is
    /// higher than the peak.
    pub(crate) beyond_over_rest: Option<f64>,
}

/// The inverse transform and its latest correlation.
pub(crate) struct Search {
    fft: Arc<dyn ComplexToReal<f32>>,
    spectrum: Vec<Complex<f32>>,
    lags: Vec<f32>,
    scratch: Vec<Complex<f32>>,
    /// Lags −range…range in half samples, lag 0 in the middle.
    correlation: Vec<f32>,
    /// Gain that compensates the loss of each lag of `correlation` from summing over blocks.
    lift: Vec<f32>,
    sorted: Vec<f32>,
    /// Half samples from lag 0 to the farthest lag looked at.
    farthest: usize,
    /// Half samples within which a second value belongs to the peak.
    apart: usize,
}

impl Search {
    pub(crate) fn new(planner: &mut RealFftPlanner<f32>, layout: &Layout) -> Self {
        let length = STEPS * layout.transform / layout.block;
        let fft = planner.plan_fft_inverse(length);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "60 ms in samples")]
        let range = (LONGEST_LAG_SECS * layout.rate.as_f64()).ceil() as usize * STEPS;
        let range = range.min((length / 2).saturating_sub(1));
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "1 ms in samples")]
        let apart = (APART_SECS * layout.rate.as_f64()) as usize * STEPS;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "190 ms in samples")]
        let farthest = (FARTHEST_SECS * layout.rate.as_f64()) as usize * STEPS;
        let farthest = farthest.clamp(range, (length / 2).saturating_sub(1).max(range));
        let lift = (0..=2 * range).map(|i| {
            let lag = (i as f64 - range as f64) / STEPS as f64;
            let x = std::f64::consts::PI * lag * layout.block as f64 / layout.transform as f64;
            // A block of one bin loses nothing.
            #[expect(clippy::cast_possible_truncation, reason = "between 1 and 1.05")]
            if x == 0.0 || layout.block == 1 { 1.0 } else { (x / x.sin()) as f32 }
        });
        Self {
            spectrum: fft.make_input_vec(),
            lags: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            correlation: vec![0.0; 2 * range + 1],
            sorted: Vec::with_capacity(range + 1),
            lift: lift.collect(),
            farthest,
            apart,
            fft,
        }
    }

    /// The latest correlation: lags in half samples, lag 0 in the middle.
    pub(crate) fn correlation(&self) -> &[f32] {
        &self.correlation
    }

    /// Sets the correlation to zero.
    pub(crate) fn clear(&mut self) {
        self.correlation.fill(0.0);
    }

    /// Correlates two windows by their cross spectrum and finds the peak; also sets `weights`. `None` if no bin is
    /// open.
    pub(crate) fn run(
        &mut self,
        layout: &Layout,
        (a, b, cross): Both<'_>,
        weights: &mut Weights,
    ) -> Option<Peak> {
        let zero = Complex::new(0.0, 0.0);
        self.spectrum.fill(zero);
        weights.clear();
        let blocks = &mut self.spectrum[layout.first_block..];
        for (i, (slot, &third)) in blocks.iter_mut().zip(&layout.block_thirds).enumerate() {
            let cell = layout.block_cells[i];
            let energy = a.blocks[i] * b.blocks[i];
            if !(a.open[cell] && b.open[cell] && energy >= f32::MIN_POSITIVE) {
                continue;
            }
            let sum = cross[layout.block_bins(i)].iter().fold(zero, |sum, bin| sum + bin);
            *slot = sum / energy.sqrt();
            weights.count(third, slot.norm_sqr());
        }
        weights.settle(layout.block as f64 / layout.bins_per_average);
        let mut total = 0.0_f32;
        for (slot, &third) in blocks.iter_mut().zip(&layout.block_thirds) {
            if slot.norm_sqr() > 0.0 {
                let weight = weights.search(third);
                *slot *= weight;
                total += weight;
            }
        }
        if total <= 0.0 {
            self.clear();
            return None;
        }
        let done = self.fft.process_with_scratch(&mut self.spectrum, &mut self.lags, &mut self.scratch);
        debug_assert!(done.is_ok(), "buffers come from the transform itself");
        let scale = 0.5 / total;
        let (length, range) = (self.lags.len(), self.correlation.len() / 2);
        for (i, (slot, lift)) in self.correlation.iter_mut().zip(&self.lift).enumerate() {
            *slot = self.lags[(i + length - range) % length] * scale * lift;
        }
        let beyond = (range + 1..=self.farthest).flat_map(|lag| [lag, length - lag]);
        let beyond =
            beyond.filter_map(|at| self.lags.get(at)).fold(0.0, |most: f32, lag| most.max(lag.abs()));
        self.peak(beyond * scale)
    }

    /// The peak of the range searched; `beyond` is the highest magnitude beyond it.
    fn peak(&mut self, beyond: f32) -> Option<Peak> {
        let r = &self.correlation;
        let (top, height) = r
            .iter()
            .enumerate()
            .fold((0, 0.0_f32), |best, (i, v)| if v.abs() > best.1 { (i, v.abs()) } else { best });
        if height <= 0.0 {
            return None;
        }
        let sign = r[top].signum();
        let (offset, lifted) = crest(r, top, sign);
        let mut rival = 0.0_f32;
        for forward in [true, false] {
            let mut lowest = f32::INFINITY;
            let mut at = top;
            loop {
                at = if forward { at + 1 } else { at.wrapping_sub(1) };
                let Some(&value) = r.get(at) else { break };
                let along = value * sign;
                lowest = lowest.min(along);
                if along < 0.0 || lowest <= DIP * along {
                    rival = rival.max(crest(r, at, value.signum()).1);
                }
            }
        }
        self.sorted.clear();
        self.sorted.extend(r.iter().step_by(STEPS).map(|v| v.abs()));
        let middle = self.sorted.len() / 2;
        let (_, median, _) = self.sorted.select_nth_unstable_by(middle, f32::total_cmp);
        // Half of a Gaussian distribution is within 0.6745 standard deviations.
        let rest = f64::from(*median).max(1e-9) / 0.6745;
        let near = top.saturating_sub(self.apart)..=top.saturating_add(self.apart);
        let far = r.iter().enumerate().filter(|(at, _)| !near.contains(at));
        let second =
            far.fold((top, 0.0_f32), |best, (at, v)| if v.abs() > best.1 { (at, v.abs()) } else { best });
        let lag = |steps: f64| (steps - (r.len() / 2) as f64) / STEPS as f64;
        Some(Peak {
            lag_samples: lag(top as f64 + offset),
            height: f64::from(lifted * sign).clamp(-1.0, 1.0),
            rival: f64::from(rival / lifted).min(1.0),
            second: (lag(second.0 as f64), f64::from(second.1 / lifted)),
            over_rest: f64::from(lifted) / rest,
            beyond_over_rest: (beyond > lifted).then(|| f64::from(beyond) / rest),
        })
    }
}

/// Position, in steps from the point, and height of the crest of the parabola through a point and its neighbours. A
/// point that is not a crest is returned as it is.
fn crest(r: &[f32], at: usize, sign: f32) -> (f64, f32) {
    let middle = r[at] * sign;
    let (Some(left), Some(right)) = (at.checked_sub(1).and_then(|i| r.get(i)), r.get(at + 1)) else {
        return (0.0, middle);
    };
    let (left, right) = (left * sign, right * sign);
    let bend = left - 2.0 * middle + right;
    if left > middle || right > middle || bend >= 0.0 {
        return (0.0, middle);
    }
    let offset = 0.5 * (left - right) / bend;
    (f64::from(offset), middle - 0.25 * (left - right) * offset)
}
