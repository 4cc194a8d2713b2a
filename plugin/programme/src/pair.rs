//! Two microphones on one source: the delay between them, their polarity, and its drift.
//!
//! # Signal path
//! [`Correlator::spectrum`] takes the last 2 s of one microphone, once for all its pairs. [`Correlator::compare`] takes
//! two such spectra of the same song samples and gives a [`Window`]: delay and polarity, or why they are unknown. A
//! [`Track`] takes a window every 0.25 to 1 s and gives the [`Reading`] of the last 10 s, which a single loud event
//! cannot upset. [`Advice`] says what to do, [`Comb`] what the blend does to the spectrum.
//!
//! # Conventions
//! - **A positive delay means that the second trails the first**: the same sound is later in the second signal.
//! - Lags reach to ±60 ms ([`LONGEST_LAG_SECS`]).
//! - Mono signals; the caller chooses or mixes channels. No names, hosts, clocks or threads here.
//!
//! # Definition
//! Generalised cross-correlation with phase transform (C. H. Knapp, G. C. Carter, IEEE Trans. ASSP-24(4), 320–327,
//! 1976). The cross spectrum is summed over a few bins at a time, each sum is divided by the energy of both signals
//! (so that tone and level of a source do not count) and weighted per third by coherence (so that empty and unrelated
//! bins do not count), and the result is transformed back. The window is tapered at its ends, so 97 % of it is common
//! sound at a lag of 60 ms. The peak is found in steps of half a sample. The delay is then removed from every bin, and
//! the weighted slope of the remaining phase gives the fraction.
//!
//! # Accuracy
//! `reference::pair` checks it against the Cramér–Rao bound, and to 0.05 sample over ±60 ms; `docs/measures.md` has
//! the numbers.

mod advice;
mod align;
mod comb;
mod downmix;
mod layout;
mod leakage;
mod search;
mod significance;
mod spectrum;
mod speed_of_sound;
mod third_weights;
mod track;
mod window;
mod window_lengths;

pub use advice::{Advice, Fix, Gain, Judged, LEAST_GAIN_DB, NoFix, Quantities, ROOM_COHERENCE, Side};
pub use align::Blend;
pub use comb::Comb;
pub use downmix::downmix;
pub use significance::{coherence_threshold, expected_coherence};
pub use spectrum::Spectrum;
pub use speed_of_sound::{LEAST_CELSIUS, MOST_CELSIUS, metres, speed_of_sound};
pub use track::{Agreed, DRIFT_SECS, Drift, Reading, ThirdReading, Track, VOTE_SECS};
pub use window::{CannotTell, Found, PairThird, Polarity, Window};
pub use window_lengths::{HOP_SECS, LONGEST_LAG_SECS, TRACK_STEP_SECS, WINDOW_SECS};

use align::Aligned;
use layout::{Layout, TAPERED};
use plumbline_measure::rate::SampleRate;
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;
use search::Search;
use spectrum::Transform;
use third_weights::Weights;

/// Compares windows of two microphones. One correlator serves all pairs at one rate. It holds the transforms and
/// their buffers (about 3 MB at 48 kHz), and of the signals only the latest cross spectrum and correlation.
///
/// # Realtime Safety
/// For a worker, not the audio thread: it allocates when a [`Spectrum`] is used for the first time, and takes about a
/// millisecond per call.
pub struct Correlator {
    layout: Layout,
    transform: Transform,
    search: Search,
    aligned: Aligned,
    weights: Weights,
    /// The cross spectrum of the latest comparison, bin by bin.
    cross: Vec<Complex<f32>>,
}

impl Correlator {
    /// A correlator for windows of [`WINDOW_SECS`] at `rate`.
    pub fn new(rate: SampleRate) -> Self {
        Self::over(rate, 2 * rate.hz() as usize, TAPERED)
    }

    /// A correlator for windows of `samples` samples, of which the part `tapered` (0…1) rises and falls: 0 is a
    /// rectangle, 1 a Hann window.
    pub fn over(rate: SampleRate, samples: usize, tapered: f64) -> Self {
        let layout = Layout::new(rate, samples, tapered);
        let mut planner = RealFftPlanner::new();
        Self {
            transform: Transform::new(&mut planner, &layout),
            search: Search::new(&mut planner, &layout),
            aligned: Aligned::new(),
            weights: Weights::new(),
            cross: Vec::with_capacity(layout.bins()),
            layout,
        }
    }

    /// The sample rate.
    pub fn rate(&self) -> SampleRate {
        self.layout.rate
    }

    /// Samples in a window.
    pub fn window_samples(&self) -> usize {
        self.layout.window.len()
    }

    /// Transforms the latest window of one microphone into `to`, whose buffers are reused. Of more samples than a
    /// window the last ones count; with fewer, every comparison gives [`CannotTell::TooShort`]. Samples that are NaN
    /// or infinite count as silence.
    pub fn spectrum(&mut self, samples: &[f32], to: &mut Spectrum) {
        self.transform.run(&self.layout, samples, to);
    }

    /// The correlation of the latest comparison, 1 where all bins agree in phase: lags from −60 to +60 ms in steps of
    /// half a sample, an odd number of values with lag 0 in the middle. All zero if nothing could be compared.
    pub fn correlation(&self) -> &[f32] {
        self.search.correlation()
    }

    /// The same for a picture, in `points` equal steps from −60 to +60 ms; each has the value of its step furthest
    /// from 0.
    pub fn correlation_trace(&self, points: usize) -> Vec<f32> {
        let all = self.correlation();
        let of = |i: usize| &all[i * all.len() / points..((i + 1) * all.len()).div_ceil(points)];
        (0..points)
            .map(|i| of(i).iter().fold(0.0, |far: f32, v| if v.abs() > far.abs() { *v } else { far }))
            .collect()
    }
}
