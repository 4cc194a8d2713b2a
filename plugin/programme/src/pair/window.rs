//! The result of one window of a pair: delay and polarity, or why they are unknown.

use super::Correlator;
use super::align::Blend;
use super::search::Peak;
use super::spectrum::Spectrum;
use super::third_weights::Weights;
use plumbline_measure::bands::THIRDS;
use plumbline_measure::cross::db_power;
use plumbline_measure::reading::{RELATIVE_GATE_DB, SIGNAL_GATE_DBFS};
use serde::{Deserialize, Serialize};

/// The polarity of two signals relative to each other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Polarity {
    /// The same.
    #[default]
    Same,
    /// Inverted.
    Inverted,
}

impl Polarity {
    /// The factor +1 or −1.
    pub fn sign(self) -> f64 {
        match self {
            Self::Same => 1.0,
            Self::Inverted => -1.0,
        }
    }
}

/// Why a delay is unknown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum CannotTell {
    /// Fewer samples than a window were given.
    TooShort,
    /// Both signals are under the gate of −90 dBFS.
    TooQuiet,
    /// One signal is under the gate, or more than 80 dB under the other.
    OneSilent,
    /// No peak stands out of the correlation: the signals have too little in common.
    Unrelated,
    /// They share much sound, but over many paths: no delay stands out, as far from a source in a room.
    Reverberant,
    /// The common sound is a few steady frequencies (a hum, a held chord), which fit many delays equally.
    Tonal,
    /// The sound is shared at a delay beyond the range searched.
    BeyondRange,
    /// The windows agree on a delay, but so faintly that it may be chance.
    Unsure,
    /// A rival fits as well as the highest peak: echoes, or the two halves of a comb.
    Ambiguous,
    /// Windows have delays, but not the same one: the source or a microphone is moving.
    Moving,
}

/// Least height of the peak over the standard deviation of the other lags. Among the 5 760 lags of ±60 ms at 48 kHz,
/// unrelated noise passes 6 by chance in one window of 10⁵.
const LEAST_OVER_REST: f64 = 6.0;

/// Coherence of all open cells from which the signals clearly share something although no peak stands out: the common
/// sound is then a few steady frequencies.
const TONAL_COHERENCE: f64 = 0.5;

/// Part of the cells that must hold sound for it to be more than a set of tones.
const BROAD: f64 = 0.3;

/// Height up to which a peak may be a fold: a sound 340 ms away or more keeps at most 0.17 in the blocks of the search.
const MOST_FOLDED: f64 = 0.3;

/// Height of a rival, as a part of the peak, from which the two cannot be told apart.
const MOST_RIVAL: f64 = 0.85;

/// Height of the peak over the rest from which it no longer lowers the confidence.
const PLENTY_OVER_REST: f64 = 20.0;

/// A delay found in one window.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Found {
    /// Delay in seconds; positive if the second trails.
    pub delay_secs: f64,
    /// Polarity, by the energy of the sum; by the sign of the peak where that is undecided.
    pub polarity: Polarity,
    /// Confidence, 0…1: one minus the highest rival as a part of the peak, times how far the peak stands out of the
    /// rest.
    pub confidence: f64,
    /// Standard deviation in seconds: the Cramér–Rao bound at the coherence found. Effects of a room or a moving
    /// source are not included.
    pub sigma_secs: f64,
    /// Delay in seconds of the highest value more than 1 ms away, and its magnitude as a part of the peak.
    pub second: [f64; 2],
}

/// One third of one window: powers as mean squares (a full-scale sine has 0.5).
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PairThird {
    /// Power of first and second.
    pub power: [f64; 2],
    /// Real part of the cross power as recorded: the sum of both has the power a + b + 2·before.
    pub before: f64,
    /// The same with the delay removed and the polarity corrected; `before` if no delay was found.
    pub after: f64,
    /// Coherence, 0…1, at the delay found, with the chance value removed; absent if either signal is empty.
    pub coherence: Option<f64>,
}

/// The result of one window.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Window {
    /// Delay and polarity, or why they are unknown.
    pub outcome: Result<Found, CannotTell>,
    /// The highest peak, however reliable: delay in seconds and height −1…1. For pictures and tests, not for advice.
    pub peak: Option<(f64, f64)>,
    /// Magnitude of the highest rival as a part of the peak, 0…1.
    pub rival: Option<f64>,
    /// The thirds, 20 Hz to 20 kHz.
    pub thirds: [PairThird; THIRDS],
}

impl Window {
    fn refused(reason: CannotTell, thirds: [PairThird; THIRDS]) -> Self {
        Self { outcome: Err(reason), peak: None, rival: None, thirds }
    }
}

/// Whether the two signals can be compared at all.
fn gate(a: &Spectrum, b: &Spectrum) -> Result<(), CannotTell> {
    let (a, b) = (a.mean_square(), b.mean_square());
    // The mean square of a full-scale sine is one half.
    let least = db_power(SIGNAL_GATE_DBFS) / 2.0;
    match (a >= least, b >= least) {
        (false, false) => Err(CannotTell::TooQuiet),
        (true, true) if a.min(b) >= a.max(b) * db_power(-RELATIVE_GATE_DB) => Ok(()),
        _ => Err(CannotTell::OneSilent),
    }
}

/// The confidence in a peak, from the coherence after alignment and the part of the cells that hold sound.
fn judge(peak: &Peak, coherence: f64, open: f64) -> Result<f64, CannotTell> {
    if peak.beyond_over_rest.is_some_and(|height| height >= LEAST_OVER_REST) {
        return Err(CannotTell::BeyondRange);
    }
    if peak.over_rest < LEAST_OVER_REST {
        return Err(match coherence {
            c if c < TONAL_COHERENCE => CannotTell::Unrelated,
            _ if open >= BROAD => CannotTell::Reverberant,
            _ => CannotTell::Tonal,
        });
    }
    if peak.rival >= MOST_RIVAL {
        return Err(CannotTell::Ambiguous);
    }
    Ok((1.0 - peak.rival) * (peak.over_rest / PLENTY_OVER_REST).min(1.0))
}

impl Correlator {
    /// Compares two windows that cover the same song samples. A positive delay means that `second` trails `first`.
    ///
    /// Spectra of another rate or window length, and empty ones, count as too short.
    pub fn compare(&mut self, first: &Spectrum, second: &Spectrum) -> Window {
        let (a, b) = (first, second);
        let Correlator { layout, search, aligned, weights, cross, .. } = self;
        search.clear();
        let fits = |s: &Spectrum| s.whole && s.shape == layout.shape();
        if !fits(a) || !fits(b) {
            return Window::refused(CannotTell::TooShort, [PairThird::default(); THIRDS]);
        }
        if let Err(reason) = gate(a, b) {
            let mut thirds = [PairThird::default(); THIRDS];
            powers(&mut thirds, a, b);
            return Window::refused(reason, thirds);
        }
        cross.clear();
        cross.extend(a.bins.iter().zip(&b.bins).map(|(a, b)| a.conj() * b));
        let both = (a, b, &cross[..]);
        let Some(peak) = search.run(layout, both, weights) else {
            return Window::refused(CannotTell::Unrelated, thirds(a, b, weights));
        };
        let sign = peak.height.signum();
        let refined = aligned.refine(layout, both, (peak.lag_samples, sign), weights);
        let rate = layout.rate.as_f64();
        let delay_secs = refined.lag_samples / rate;
        let open = weights.open_part(layout.cells.len());
        let confidence = judge(&peak, weights.mean_coherence(), open).and_then(|confidence| {
            let folded =
                peak.height.abs() <= MOST_FOLDED && aligned.folds(layout, both, refined.lag_samples, weights);
            if folded { Err(CannotTell::BeyondRange) } else { Ok(confidence) }
        });
        // The peak counts all thirds alike, the ear counts energy: a low-pass inverts the thirds that it removes.
        let sign = if aligned.inverts().unwrap_or(sign < 0.0) { -1.0 } else { 1.0 };
        let outcome = confidence.map(|confidence| Found {
            delay_secs,
            polarity: if sign < 0.0 { Polarity::Inverted } else { Polarity::Same },
            confidence,
            sigma_secs: refined.sigma_samples / rate,
            second: [peak.second.0 / rate, peak.second.1],
        });
        let found = outcome.is_ok().then_some(sign);
        let mut thirds = thirds(a, b, weights);
        for (third, (before, after)) in thirds.iter_mut().zip(aligned.before.iter().zip(&aligned.after)) {
            third.before = before.re;
            third.after = found.map_or(before.re, |sign| after.re * sign);
        }
        Window { outcome, peak: Some((delay_secs, peak.height)), rival: Some(peak.rival), thirds }
    }

    /// K-weighted energies of the sum of the two signals compared last, and after a move: the second is moved earlier
    /// by `samples` and takes this polarity. `None` unless these are the two spectra of the latest comparison.
    pub fn rehearse(
        &mut self,
        first: &Spectrum,
        second: &Spectrum,
        samples: f64,
        polarity: Polarity,
    ) -> Option<Blend> {
        let Self { layout, aligned, cross, .. } = self;
        let fits = |s: &Spectrum| s.whole && s.shape == layout.shape();
        let compared = fits(first) && fits(second) && cross.len() == layout.bins();
        compared.then(|| aligned.blend(layout, (first, second, &cross[..]), (samples, polarity.sign())))
    }
}

fn powers(thirds: &mut [PairThird; THIRDS], a: &Spectrum, b: &Spectrum) {
    for (third, (a, b)) in thirds.iter_mut().zip(a.thirds.iter().zip(&b.thirds)) {
        third.power = [*a, *b];
    }
}

fn thirds(a: &Spectrum, b: &Spectrum, weights: &Weights) -> [PairThird; THIRDS] {
    let mut thirds = [PairThird::default(); THIRDS];
    powers(&mut thirds, a, b);
    for (i, third) in thirds.iter_mut().enumerate() {
        third.coherence = weights.coherence(i);
    }
    thirds
}
