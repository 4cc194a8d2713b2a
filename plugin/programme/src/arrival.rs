//! The cause of left and right out of step: the one delay and polarity that explain the phases of all thirds.
//!
//! One third says little: tones in a room are out of step there by chance. A delay or an inverted channel shows in all
//! thirds that hold common sound, each with the phase of its own frequency.

use plumbline_measure::bands::{THIRDS, third_centre_hz, third_span};
use plumbline_measure::cross::{StereoPower, power_db};
use plumbline_measure::loudness::third_weights;
use plumbline_measure::reading::Readings;
use serde::{Deserialize, Serialize};
use std::f64::consts::TAU;
use std::sync::LazyLock;

/// Why left and right do not add up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// One channel is inverted.
    Inverted,
    /// The channels oppose each other more than they agree, but share little: widened too far, or one inverted.
    Opposed,
    /// The channels oppose each other in a part of the range only: inverting one would cost more elsewhere.
    InvertedInPart,
    /// One sound arrives twice, further apart than the capsules of a spaced pair.
    Delayed {
        /// Seconds between left and right, not negative.
        secs: f64,
    },
    /// Arrival times of a spaced pair of microphones, up to [`SPACED_SECS`]: made on purpose.
    Spaced {
        /// Seconds between left and right, not negative.
        secs: f64,
    },
    /// No single delay or polarity explains it: several sources, a room, all-passes, combs.
    #[default]
    Unexplained,
}

impl Cause {
    /// Its name in files.
    pub fn key(self) -> &'static str {
        match self {
            Self::Inverted => "inverted",
            Self::Opposed => "opposed",
            Self::InvertedInPart => "inverted_in_part",
            Self::Delayed { .. } => "delayed",
            Self::Spaced { .. } => "spaced",
            Self::Unexplained => "unexplained",
        }
    }
}

/// Longest arrival-time difference of a spaced pair whose spacing is not stated: 0.86 m of path. Differences over 1.5
/// ms no longer move the image (M. Williams, "The Stereophonic Zoom", AES 1984; from memory); pairs of up to that
/// spacing are in use (common practice, no source).
pub const SPACED_SECS: f64 = 2.5e-3;

/// Mean coherence under which opposed channels share too little to call one of them inverted: deliberately widened
/// sounds stay under it, an inverted channel with a little ambience does not.
pub const SHARED_COHERENCE: f64 = 0.5;

/// Gain of the mono sum by inverting a channel, dB, from which channels count as opposed whatever they share: side has
/// twice the power of mid.
pub const OPPOSED_GAIN_DB: f64 = 3.0;

/// Least gain of the sum, dB, for which a move is advised: less is hard to hear (common practice, no source).
pub const LEAST_NET_GAIN_DB: f64 = 0.5;

/// Longest delay that the thirds are compared with. Beyond it the phase turns within all thirds of a voice.
const LONGEST_SECS: f64 = 40e-3;
/// Shortest delay tried, 1.7 cm of path: under it only the highest octave is out of phase.
const SHORTEST_SECS: f64 = 50e-6;
/// Ratio of one delay tried to the next.
const STEP: f64 = 1.015;
/// Coherence from which a third holds enough common sound to have a phase.
const LEAST_COHERENCE: f64 = 0.15;
/// Fewest thirds that must agree.
const FEWEST: usize = 4;
/// Largest RMS difference between the in-phase part of the thirds and that of the model.
const MOST_ERROR: f64 = 0.3;
/// Turn of the phase within a third, radians, from which the third says nothing about the delay: a tone anywhere in it
/// may have any phase.
const MOST_TURN: f64 = 2.0;
/// In-phase part up to which a third counts as opposed.
const OPPOSED: f64 = -0.7;
/// In-phase part under which a third distinguishes a delay from none.
const TURNED: f64 = 0.6;

/// The in-phase part, −1…1, of a third's common sound, and the weight of the third.
fn in_phase(readings: &Readings) -> Option<(f64, f64)> {
    let (coherence, out_of_step) = (readings.coherence?, readings.out_of_step?);
    if coherence < LEAST_COHERENCE {
        return None;
    }
    let correlation = readings.correlation?;
    let part = if correlation > 0.0 {
        (1.0 - out_of_step / coherence).max(0.0).sqrt()
    } else {
        (correlation / coherence.sqrt()).max(-1.0)
    };
    Some((part, coherence))
}

/// Whether the channels oppose each other in a run of thirds, at least [`FEWEST`] of which hold common sound.
pub(crate) fn opposed(thirds: &[Readings]) -> bool {
    let parts: Vec<f64> = thirds.iter().filter_map(|third| in_phase(third).map(|(part, _)| part)).collect();
    parts.len() >= FEWEST && parts.iter().all(|part| *part <= OPPOSED)
}

/// Radians that a delay turns the phase from the lower to the upper edge of a third.
fn turn(third: usize, secs: f64) -> f64 {
    let span = third_span(third);
    TAU * (span.high_hz - span.low_hz) * secs
}

/// The mean of cos 2πfτ over a third.
fn mean_cosine(third: usize, secs: f64) -> f64 {
    let half_turn = turn(third, secs) / 2.0;
    let middle = TAU * third_centre_hz(third) * secs;
    middle.cos() * if half_turn > 1e-9 { half_turn.sin() / half_turn } else { 1.0 }
}

/// The in-phase part of each third under one delay. `None` where the phase turns within the third by more than
/// [`MOST_TURN`]: noise reads about 0 there and a tone anything.
struct Model {
    secs: f64,
    in_phase: [Option<f64>; THIRDS],
}

impl Model {
    fn new(secs: f64) -> Self {
        let in_phase =
            std::array::from_fn(|third| (turn(third, secs) <= MOST_TURN).then(|| mean_cosine(third, secs)));
        Self { secs, in_phase }
    }

    /// RMS difference between the thirds and this delay with this sign, over the thirds that the model covers; `None`
    /// if these are too few.
    fn error(&self, parts: &[(usize, f64, f64)], sign: f64) -> Option<f64> {
        let (mut sum, mut weights, mut count) = (0.0, 0.0, 0);
        for (third, part, weight) in parts {
            if let Some(model) = self.in_phase[*third] {
                sum += weight * (part - sign * model).powi(2);
                weights += weight;
                count += 1;
            }
        }
        (count >= FEWEST).then(|| (sum / weights).sqrt())
    }
}

/// The models of no delay, which comes first, and of all delays tried. Computed once: the search runs many times a
/// second.
static MODELS: LazyLock<Vec<Model>> = LazyLock::new(|| {
    let delays = std::iter::successors(Some(SHORTEST_SECS), |secs| Some(secs * STEP));
    std::iter::once(0.0).chain(delays.take_while(|secs| *secs <= LONGEST_SECS)).map(Model::new).collect()
});

/// The cause of what is out of step, from the thirds that `counts` accepts. Up to `spaced_secs` it is a spaced pair's.
pub(crate) fn cause(thirds: &[Readings; THIRDS], spaced_secs: f64, counts: impl Fn(usize) -> bool) -> Cause {
    let parts: Vec<(usize, f64, f64)> = (0..THIRDS)
        .filter(|third| counts(*third))
        .filter_map(|third| in_phase(&thirds[third]).map(|(part, weight)| (third, part, weight)))
        .collect();
    // Coherence is at least the square of correlation, so correlation alone shows an inverted channel with few events.
    let correlations: Vec<f64> =
        (0..THIRDS).filter(|third| counts(*third)).filter_map(|third| thirds[third].correlation).collect();
    if correlations.len() >= FEWEST && correlations.iter().all(|correlation| *correlation <= OPPOSED) {
        return Cause::Inverted;
    }
    if parts.len() < FEWEST {
        return Cause::Unexplained;
    }
    let [none, delays @ ..] = MODELS.as_slice() else { return Cause::Unexplained };
    if none.error(&parts, -1.0).is_some_and(|error| error <= MOST_ERROR) {
        return Cause::Inverted;
    }
    let best = delays
        .iter()
        .filter_map(|model| Some((model.error(&parts, 1.0)?, model.secs)))
        .min_by(|one, other| one.0.total_cmp(&other.0));
    match best {
        Some((error, secs)) if error <= MOST_ERROR && parts.iter().any(|(_, part, _)| *part < TURNED) => {
            if secs <= spaced_secs {
                Cause::Spaced { secs }
            } else {
                Cause::Delayed { secs }
            }
        }
        _ => Cause::Unexplained,
    }
}

/// Predicted gain in dB of the K-weighted mono sum when one channel is inverted, over the thirds. `None` without sound.
pub(crate) fn inversion_gain_db(thirds: &[StereoPower]) -> Option<f64> {
    let weighed = |of: fn(&StereoPower) -> f64| -> f64 {
        thirds.iter().zip(third_weights()).map(|(third, weight)| of(third) * weight).sum()
    };
    let (mid, side) = (weighed(StereoPower::mid), weighed(StereoPower::side));
    (mid + side > 0.0 && side.is_finite()).then(|| power_db(side / mid.max(side * 1e-12)))
}

#[cfg(test)]
mod tests;
