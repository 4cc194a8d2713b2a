//! Whether the sound of a layer, as it is where its plug-in sits, is present in the mix.
//!
//! Some hosts place all inserts before mute and pan, so a muted track still reaches its plug-in and keeps a share of
//! sound that nobody hears.
//!
//! # Usage
//! One [`Presence`] per rate; one [`Passage`] of about 2 s per question, with the same song samples of mix and layer.
//! The [`Evidence`] goes into the layer's own [`Standing`], which gives the result. Only on song time: on clock time
//! the positions of two layers depend on when their audio arrived. For a worker thread: it allocates.
//!
//! # Definition
//! Hann windows of about 0.17 s with 50 % overlap. For every channel of the layer (x) with a tenth of its power or
//! more, every channel of the mix (m), and every bin from 60 Hz to 16 kHz:
//! - γ² = |Σ X*M|² / (Σ|X|²·Σ|M|²) over the windows;
//! - b is the value of γ² by chance, for sounds of these magnitudes with unrelated phases: b = c·Σ |X|²|M|² /
//!   (Σ|X|²·Σ|M|²), with c = 1.06 for the overlap (Welch 1967). Coinciding bursts are therefore no evidence;
//! - e = γ² − b, with a standard deviation by chance of b.
//!
//! γ²·Σ|M|² is the power of the mix that the layer explains. This gives two estimates of how much of the layer is
//! present:
//! - **of its energy**: Σ e·Σ|M|² over Σ Σ|X|², where lows count by their energy;
//! - **of its bins**: Σ w·e over Σ w·r, with r = Σ|X|²/Σ|M|² and w = min(r, 1), where every bin in which the layer
//!   could be found counts, most of them high.
//!
//! The standard deviation of each follows from b. Neighbouring bins are correlated, and that is measured: over 1.5
//! bins of a Hann window at least, and many more if a window holds one short burst. Gain, pan, polarity, equalisers
//! and reverb keep γ², as does a delay that is short compared with the window; nothing else is assumed about the path
//! to the mix. A layer that shares its sound with another layer in the mix, like two microphones on one source, is
//! found through that other layer and never reported as missing.
//!
//! - **found**: either estimate of the latest passage is over [`FOUND_SIGMAS`] standard deviations.
//! - **not in the mix**: nothing was found in passages of [`LEAST_SECS`] or more together, and over all of them both
//!   estimates are under [`LEAST_PART`] by [`SURE_SIGMAS`] standard deviations, for every pair of channels. A layer
//!   that is quiet against the mix never gets there: its deviation stays large, and the result stays unknown.
//!
//! # Limits
//! A layer that is more than about 0.1 s away from its place in the mix, or whose pitch or speed is changed on the
//! way, is not recognised. One whose fader passes less than a hundredth of its energy counts as not in the mix.

use plumbline_measure::LARGEST_SAMPLE;
use plumbline_measure::rate::SampleRate;
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::f64::consts::PI;
use std::sync::Arc;

mod standing;
#[cfg(test)]
mod tests;

pub use standing::{Standing, Told};

/// Length of a window in seconds: longer ones tolerate a longer delay, shorter ones give a result sooner.
const WINDOW_SECS: f64 = 0.171;
/// Range of bins used, Hz: below, a few windows hold few events; above, many sounds have no energy.
const LOW_HZ: f64 = 60.0;
const HIGH_HZ: f64 = 16_000.0;
/// Variance factor of half-overlapping Hann windows for unrelated noise: 1 + 2·(1/6)² (Welch, IEEE Trans. Audio 15,
/// 1967).
const OVERLAP: f64 = 1.06;
/// Fewest correlated bins, from the Hann window.
const LEAST_ALIKE: f64 = 1.5;
/// Largest distance at which bins are checked for correlation: a burst of 10 ms in a window of 170 ms makes 17 alike.
const FAR_APART: usize = 24;
/// Lowest level of layer and mix, dBFS: the noise floor of a fader is not sound (common practice, no source).
const LEAST_DBFS: f64 = -70.0;
/// Smallest share of a layer's power for a channel to be used.
const LEAST_CHANNEL: f64 = 0.1;
/// Part of a layer that a passage must be able to find, −5 dB; otherwise the passage is ignored.
const SURELY_FOUND: f64 = 0.3;
/// Fewest windows in a passage.
const LEAST_WINDOWS: usize = 8;

/// Standard deviations from which a layer is found (common practice, no source).
pub const FOUND_SIGMAS: f64 = 4.0;
/// Standard deviations by which an estimate must be under [`LEAST_PART`] (common practice, no source).
pub const SURE_SIGMAS: f64 = 3.0;
/// Part of a layer's energy that the mix must contain for the layer to be in it: −20 dB (common practice, no source).
pub const LEAST_PART: f64 = 0.01;
/// Seconds without a find before a layer is reported as not in the mix.
pub const LEAST_SECS: f64 = 3.0;

/// A question: the same song samples of mix and layer, one or two channels each.
#[derive(Clone, Copy, Debug)]
pub struct Passage<'a> {
    /// The mix.
    pub mix: &'a [&'a [f32]],
    /// The layer.
    pub layer: &'a [&'a [f32]],
    /// Song sample of the first frame. A repeat of the same samples, as in a loop, counts once.
    pub start: i64,
}

/// The part of a layer that is found, and its possible error by chance.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Estimate {
    /// Part of the layer, 0…1; chance may take it under 0.
    pub part: f64,
    /// Its standard deviation by chance.
    pub sigma: f64,
}

impl Estimate {
    fn is_found(&self) -> bool {
        self.part > FOUND_SIGMAS * self.sigma
    }

    /// Whether it is under [`LEAST_PART`] with certainty.
    fn is_out(&self) -> bool {
        self.part + SURE_SIGMAS * self.sigma < LEAST_PART
    }
}

/// Sums over windows, bin by bin, of one channel of the layer and one of the mix.
#[derive(Clone, Debug)]
struct Pair {
    cross: Vec<Complex<f64>>,
    /// Σ |X|²|M|².
    chance: Vec<f64>,
    layer: Vec<f64>,
    mix: Vec<f64>,
}

impl Pair {
    fn new(bins: usize) -> Self {
        let zero = || vec![0.0; bins];
        Self { cross: vec![Complex::new(0.0, 0.0); bins], chance: zero(), layer: zero(), mix: zero() }
    }

    fn push(&mut self, layer: &[Complex<f64>], mix: &[Complex<f64>]) {
        for (bin, (x, m)) in layer.iter().zip(mix).enumerate() {
            let (xx, mm) = (x.norm_sqr(), m.norm_sqr());
            self.cross[bin] += x.conj() * m;
            self.chance[bin] += xx * mm;
            self.layer[bin] += xx;
            self.mix[bin] += mm;
        }
    }

    fn add(&mut self, other: &Self) {
        let add = |to: &mut [f64], from: &[f64]| to.iter_mut().zip(from).for_each(|(to, from)| *to += from);
        self.cross.iter_mut().zip(&other.cross).for_each(|(to, from)| *to += from);
        add(&mut self.chance, &other.chance);
        add(&mut self.layer, &other.layer);
        add(&mut self.mix, &other.mix);
    }

    /// The part of the layer that is found: of its energy, and of its bins. `None` if there is nothing to compare.
    fn estimates(&self) -> Option<[Estimate; 2]> {
        let (mut energy, mut bins) = (Sum::default(), Sum::default());
        let mut strays = Vec::with_capacity(self.cross.len());
        for (bin, cross) in self.cross.iter().enumerate() {
            let (layer, mix) = (self.layer[bin], self.mix[bin]);
            let both = layer * mix;
            // Written so that NaN is skipped as well.
            if !(both > f64::MIN_POSITIVE && both.is_finite()) {
                continue;
            }
            let chance = OVERLAP * self.chance[bin] / both;
            let found = cross.norm_sqr() / both - chance;
            if chance > 0.0 {
                strays.push(found / chance);
            }
            energy.add(mix, found, chance, layer);
            let ratio = layer / mix;
            let weight = ratio.min(1.0);
            bins.add(weight, found, chance, weight * ratio.min(1.0));
        }
        let alike = alike(&strays);
        Some([energy.estimate(alike)?, bins.estimate(alike)?])
    }
}

/// A weighted sum over bins.
#[derive(Clone, Copy, Debug, Default)]
struct Sum {
    found: f64,
    variance: f64,
    whole: f64,
}

impl Sum {
    fn add(&mut self, weight: f64, found: f64, chance: f64, whole: f64) {
        self.found += weight * found;
        self.variance += (weight * chance).powi(2);
        self.whole += whole;
    }

    fn estimate(&self, alike: f64) -> Option<Estimate> {
        let sigma = (alike * self.variance).sqrt() / self.whole;
        let part = self.found / self.whole;
        (self.whole > 0.0 && part.is_finite() && sigma.is_finite()).then_some(Estimate { part, sigma })
    }
}

/// Number of neighbouring bins that are correlated: one, plus twice the correlation of each bin with those after it.
fn alike(strays: &[f64]) -> f64 {
    let mean = strays.iter().sum::<f64>() / strays.len().max(1) as f64;
    let product = |apart: usize| -> f64 {
        strays.iter().zip(strays.iter().skip(apart)).map(|(a, b)| (a - mean) * (b - mean)).sum()
    };
    let power = product(0);
    if power.is_nan() || power <= 0.0 {
        return LEAST_ALIKE;
    }
    let more: f64 = (1..=FAR_APART).map(|apart| (product(apart) / power).max(0.0)).sum();
    (1.0 + 2.0 * more).max(LEAST_ALIKE)
}

/// The result of one passage, or of several together.
#[derive(Clone, Debug)]
pub struct Evidence {
    /// Each used channel of the layer with each used channel of the mix, by their indices.
    pairs: Vec<([usize; 2], Pair)>,
    /// Song samples of the passages.
    spans: Vec<std::ops::Range<i64>>,
    secs: f64,
}

impl Evidence {
    /// The two estimates of each pair of channels: of the layer's energy, and of its bins.
    pub fn estimates(&self) -> impl Iterator<Item = [Estimate; 2]> {
        self.pairs.iter().filter_map(|(_, pair)| pair.estimates())
    }

    /// Seconds heard.
    pub fn secs(&self) -> f64 {
        self.secs
    }

    /// Whether the layer is found.
    pub fn is_found(&self) -> bool {
        self.estimates().flatten().any(|estimate| estimate.is_found())
    }

    /// Whether the layer would have been found if it were in the mix unchanged or several dB softer.
    fn could_find(&self) -> bool {
        let least = |both: [Estimate; 2]| both[0].sigma.min(both[1].sigma);
        self.estimates().map(least).any(|sigma| FOUND_SIGMAS * sigma <= SURELY_FOUND)
    }

    fn is_out(&self) -> bool {
        let all = self.pairs.len();
        all > 0 && self.estimates().filter(|both| both.iter().all(Estimate::is_out)).count() == all
    }

    /// Adds another passage. A passage with other channels replaces this evidence; a passage that overlaps it in time
    /// is ignored.
    fn add(&mut self, other: Self) {
        let places = |evidence: &Self| evidence.pairs.iter().map(|(place, _)| *place).collect::<Vec<_>>();
        if places(self) != places(&other) {
            *self = other;
            return;
        }
        let again = |span: &std::ops::Range<i64>| {
            self.spans.iter().any(|known| known.start < span.end && span.start < known.end)
        };
        if other.spans.iter().any(again) {
            return;
        }
        self.spans.extend(other.spans);
        self.secs += other.secs;
        for ((_, to), (_, from)) in self.pairs.iter_mut().zip(&other.pairs) {
            to.add(from);
        }
    }
}

/// The transform for one rate.
pub struct Presence {
    rate: SampleRate,
    fft: Arc<dyn RealToComplex<f64>>,
    window: Vec<f64>,
    input: Vec<f64>,
    output: Vec<Complex<f64>>,
    scratch: Vec<Complex<f64>>,
    /// Range of bins used.
    bins: std::ops::Range<usize>,
}

impl Presence {
    /// Plans the transform for a rate.
    pub fn new(rate: SampleRate) -> Self {
        let length = nearest_power_of_two(WINDOW_SECS * rate.as_f64());
        let fft = RealFftPlanner::<f64>::new().plan_fft_forward(length);
        let bin_hz = rate.as_f64() / length as f64;
        let bin = |hz: f64| bin_of(hz / bin_hz, length / 2);
        let bins = bin(LOW_HZ)..bin(HIGH_HZ.min(0.45 * rate.as_f64()));
        let window = (0..length).map(|n| 0.5 - 0.5 * (2.0 * PI * n as f64 / length as f64).cos()).collect();
        let (input, output, scratch) = (fft.make_input_vec(), fft.make_output_vec(), fft.make_scratch_vec());
        Self { rate, fft, window, input, output, scratch, bins }
    }

    /// The evidence of a passage. `None` if it is too short, or if layer or mix are not above the noise floor.
    pub fn ask(&mut self, passage: &Passage<'_>) -> Option<Evidence> {
        let all = passage.mix.iter().chain(passage.layer);
        let frames = all.map(|channel| channel.len()).min().filter(|_| !passage.mix.is_empty())?;
        let (length, hop) = (self.window.len(), self.window.len() / 2);
        let windows = (frames + hop).checked_sub(length)? / hop;
        if windows < LEAST_WINDOWS {
            return None;
        }
        let power = |channel: &&[f32]| mean_square(&channel[..frames]);
        let of_layer: Vec<f64> = passage.layer.iter().take(2).map(power).collect();
        let of_mix: Vec<f64> = passage.mix.iter().take(2).map(power).collect();
        // The mean square of a full-scale sine is 0.5.
        let least = 0.5 * plumbline_measure::cross::db_power(LEAST_DBFS);
        let whole: f64 = of_layer.iter().sum();
        if whole < least || of_mix.iter().sum::<f64>() < least {
            return None;
        }
        let chosen = |powers: &[f64], least: f64| -> Vec<usize> {
            (0..powers.len()).filter(|at| powers[*at] > 0.0 && powers[*at] >= least).collect()
        };
        let layer = chosen(&of_layer, LEAST_CHANNEL * whole);
        let mix = chosen(&of_mix, 0.0);
        let mut pairs: Vec<([usize; 2], Pair)> = layer
            .iter()
            .flat_map(|x| mix.iter().map(move |m| [*x, *m]))
            .map(|place| (place, Pair::new(self.bins.len())))
            .collect();
        for start in (0..windows).map(|k| k * hop) {
            let mut spectra = |channels: &[usize], of: &[&[f32]]| -> Vec<Vec<Complex<f64>>> {
                channels.iter().map(|at| self.spectrum(&of[*at][start..start + length])).collect()
            };
            let (xs, ms) = (spectra(&layer, passage.layer), spectra(&mix, passage.mix));
            let each = xs.iter().flat_map(|x| ms.iter().map(move |m| (x, m)));
            pairs.iter_mut().zip(each).for_each(|((_, pair), (x, m))| pair.push(x, m));
        }
        let end = passage.start.saturating_add(i64::try_from(frames).unwrap_or(i64::MAX));
        Some(Evidence {
            pairs,
            spans: std::iter::once(passage.start..end).collect(),
            secs: frames as f64 / self.rate.as_f64(),
        })
    }

    fn spectrum(&mut self, samples: &[f32]) -> Vec<Complex<f64>> {
        for ((slot, sample), weight) in self.input.iter_mut().zip(samples).zip(&self.window) {
            *slot = f64::from(sane(*sample)) * weight;
        }
        let done = self.fft.process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch);
        debug_assert!(done.is_ok(), "buffers come from the transform itself");
        self.output[self.bins.clone()].to_vec()
    }
}

impl std::fmt::Debug for Presence {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Presence").field("rate", &self.rate).finish_non_exhaustive()
    }
}

fn sane(sample: f32) -> f32 {
    if sample.is_finite() { sample.clamp(-LARGEST_SAMPLE, LARGEST_SAMPLE) } else { 0.0 }
}

fn mean_square(samples: &[f32]) -> f64 {
    samples.iter().map(|sample| f64::from(sane(*sample)).powi(2)).sum::<f64>() / samples.len().max(1) as f64
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a place in a spectrum, held to it"
)]
fn bin_of(place: f64, last: usize) -> usize {
    (place.round().max(1.0) as usize).min(last)
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a length of thousands")]
fn nearest_power_of_two(length: f64) -> usize {
    2_usize.pow(length.log2().round() as u32)
}
