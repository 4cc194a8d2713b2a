//! Two microphones on one source: by how much time they differ, in which polarity, and whether the gap drifts.
//!
//! # The way of the data
//! [`Correlator::spectrum`] takes the newest 2 s of one microphone, once for all its pairs. [`Correlator::compare`]
//! takes two such spectra of the same song samples and gives a [`Window`]: delay and polarity, or why they cannot be
//! told. A [`Track`] takes a window every 0.25 s and gives the [`Reading`] of the last 10 s, which a single loud
//! event cannot throw. [`Advice`] says what follows from it, [`Comb`] what the blend does to the spectrum.
//!
//! # Conventions
//! - **A positive delay means that the second trails the first**: the same sound is later in the second signal.
//! - Lags reach to ±60 ms ([`LONGEST_LAG_SECS`]).
//! - Nothing here knows names, hosts, clocks or threads. Mono signals; the caller picks or folds channels.
//!
//! # Definition
//! Generalised cross-correlation with phase transform (C. H. Knapp, G. C. Carter, IEEE Trans. ASSP-24(4), 320–327,
//! 1976): the cross spectrum over sums of a few bins, each divided by the energy of both (so that tone and level of a
//! source do not count), weighted per third by coherence (so that empty and unrelated bins do not count), and
//! transformed back. The window falls off at its ends, so the common sound of a 60 ms lag is 97 % of it. The peak is
//! found in half samples; the delay is then taken out of every bin, and the weighted slope of what phase is left
//! gives the fraction.
//!
//! # Accuracy
//! `reference::pair` holds it to the Cramér–Rao bound and to 0.05 sample over ±60 ms; `docs/measures.md` has the
//! numbers.

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
mod track;
mod weight;
mod window;

pub use advice::{Advice, Fix, Gain, LEAST_GAIN_DB, NoFix, Quantities, ROOM_COHERENCE, Side};
pub use comb::Comb;
pub use downmix::downmix;
pub use significance::{coherence_threshold, expected_coherence};
pub use spectrum::Spectrum;
pub use speed_of_sound::{LEAST_CELSIUS, MOST_CELSIUS, metres, speed_of_sound};
pub use track::{Agreed, DRIFT_SECS, Drift, Reading, ThirdReading, Track, VOTE_SECS};
pub use window::{CannotTell, Found, PairThird, Polarity, Window};

use align::Aligned;
use layout::{Layout, TAPERED};
use plumbline_measure::rate::SampleRate;
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;
use search::Search;
use spectrum::Transform;
use weight::Weights;

/// Longest lag that is looked at, in seconds: 20 m of path.
pub const LONGEST_LAG_SECS: f64 = 0.06;
/// Length of a window in seconds.
pub const WINDOW_SECS: f64 = 2.0;
/// From the middle of a window, which dates a delay found in it, to its end, in seconds.
pub const TRACK_STEP_SECS: f64 = WINDOW_SECS / 2.0;
/// Time from one window to the next in seconds.
pub const HOP_SECS: f64 = 0.25;

/// Compares windows of two microphones. One serves all pairs at one rate: it holds the transforms and their buffers
/// (about 3 MB at 48 kHz), and nothing of the signals but the newest cross spectrum and correlation.
///
/// # Realtime Safety
/// For a worker, not for the audio thread: it allocates when a [`Spectrum`] is used for the first time, and takes
/// about a millisecond a call.
pub struct Correlator {
    layout: Layout,
    transform: Transform,
    search: Search,
    aligned: Aligned,
    weights: Weights,
    /// The cross spectrum of the newest comparison, bin by bin.
    cross: Vec<Complex<f32>>,
}

impl Correlator {
    /// Windows of [`WINDOW_SECS`] at `rate`.
    pub fn new(rate: SampleRate) -> Self {
        Self::over(rate, 2 * rate.hz() as usize, TAPERED)
    }

    /// Windows of `samples` samples, of which the part `tapered` (0…1) rises and falls: 0 is a rectangle, 1 a Hann
    /// window.
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

    /// Transforms the newest window of one microphone into `to`, whose buffers are used again. Of more samples than
    /// a window the newest count; with fewer, every comparison says [`CannotTell::TooShort`]. Samples that are NaN or
    /// infinite count as silence.
    pub fn spectrum(&mut self, samples: &[f32], to: &mut Spectrum) {
        self.transform.run(&self.layout, samples, to);
    }

    /// Compares two windows that cover the same song samples. A positive delay means that `second` trails `first`.
    ///
    /// Spectra of another rate or window length, or none at all, count as too short.
    pub fn compare(&mut self, first: &Spectrum, second: &Spectrum) -> Window {
        window::compare(self, first, second)
    }

    /// The correlation of the newest comparison, 1 where all bins agree in phase: lags from −60 to +60 ms in steps
    /// of half a sample, an odd number of values with lag 0 in the middle. All zero where nothing could be
    /// compared.
    pub fn correlation(&self) -> &[f32] {
        self.search.correlation()
    }

    /// The same for a picture, in `points` steps of equal length from −60 to +60 ms: of each step the value furthest
    /// from 0.
    pub fn correlation_trace(&self, points: usize) -> Vec<f32> {
        let all = self.correlation();
        let of = |i: usize| &all[i * all.len() / points..((i + 1) * all.len()).div_ceil(points)];
        (0..points)
            .map(|i| of(i).iter().fold(0.0, |far: f32, v| if v.abs() > far.abs() { *v } else { far }))
            .collect()
    }
}
