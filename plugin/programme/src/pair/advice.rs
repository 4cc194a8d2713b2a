//! What to do about a pair, as data.

use super::speed_of_sound::metres;
use super::track::{Agreed, Drift, Reading};
use super::window::{CannotTell, Polarity};
use crate::arrival::{LEAST_NET_GAIN_DB, OPPOSED_GAIN_DB, SHARED_COHERENCE};
use plumbline_measure::bands::{FIRST_ACCURATE_THIRD, Span, THIRDS, third_span};
use plumbline_measure::cross::{db_power, power_db};
use plumbline_measure::loudness::third_weights;
use plumbline_measure::rate::SampleRate;
use plumbline_measure::timecode::FrameRate;
use serde::{Deserialize, Serialize};

/// Coherence under which the common sound of two microphones in a third counts as room.
pub const ROOM_COHERENCE: f64 = 0.4;

/// Consecutive thirds that must be coherent for a fix to be of use.
const FEWEST_COHERENT: usize = 3;

/// Confidence under which a delay is not reported: of weaker answers about half were wrong, of stronger ones one in 149
/// (bleed and rooms, measured).
const LEAST_CONFIDENCE: f64 = 0.13;

/// Delay in seconds up to which two microphones are aligned, whatever else they hear: 10 cm of path.
const ALIGNED_SECS: f64 = 0.3e-3;

/// Net gain in dB from which a move is advised although there is a second delay.
const PLENTY_DB: f64 = 1.5;

/// Smallest gain in dB for which a third is named: less is hard to hear (common practice, no source).
pub const LEAST_GAIN_DB: f64 = 1.0;

/// Range under the loudest third in which a third is named, dB.
const NAMED_DB: f64 = 30.0;

/// One of the two signals of a pair.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Side {
    /// The first.
    First,
    /// The second.
    Second,
}

/// A delay in all common units; not negative.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Quantities {
    /// Seconds.
    pub secs: f64,
    /// Samples.
    pub samples: f64,
    /// Frames of picture.
    pub frames: f64,
    /// Metres of path.
    pub metres: f64,
}

/// A run of consecutive thirds in which the blend gains level.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Gain {
    /// From the lower edge of the first third to the upper edge of the last.
    pub span: Span,
    /// Gain of the run's power, dB.
    pub gain_db: f64,
}

/// A fix that is worth making.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fix {
    /// The signal that trails; absent if only the polarity is wrong.
    pub trails: Option<Side>,
    /// The delay.
    pub by: Quantities,
    /// Whole samples by which to move the trailing signal earlier; 0 if only the polarity is wrong.
    pub move_earlier: u64,
    /// Whether to invert the polarity of one of them.
    pub flip: bool,
    /// Gain of the K-weighted sum of both, losses counted like gains, dB: at least [`LEAST_NET_GAIN_DB`].
    pub net_gain_db: f64,
    /// Where the blend gains level, ascending in frequency.
    pub gains: Vec<Gain>,
    /// The drift, if it is clear that the clocks run apart: one move does not hold for long.
    pub drift: Option<Drift>,
}

/// Why to leave a pair as it is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum NoFix {
    /// The delay is unknown.
    CannotTell(CannotTell),
    /// There is a delay, but little of the sound shares it: room, not a fault.
    Room,
    /// They share several sounds, each at a delay of its own: one move helps one of them and harms the others.
    SeveralDelays([f64; 2]),
    /// The clocks run apart: no move holds. Correct the speed first.
    Drifts(Drift),
    /// They share no sound within the range searched.
    Unrelated,
    /// Left and right oppose each other, but share too little to call one inverted.
    Opposed,
    /// Left and right of a spaced pair: arrival times that were made on purpose.
    Spaced,
    /// The signals are in step, or a move would win less than [`LEAST_NET_GAIN_DB`].
    NothingToWin,
}

/// The circumstances in which a reading is judged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// If the two are left and right of one sound: the longest delay between them that is made on purpose, s.
    pub spaced_secs: Option<f64>,
    /// Seconds for which a move must hold.
    pub secs: f64,
}

/// What to do about a pair.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Advice {
    /// Leave it.
    Leave(NoFix),
    /// Move, invert, or both.
    Repair(Fix),
}

impl Advice {
    /// Judges a reading of `of`, taken at `rate`, for picture at `frames` and air at `celsius` °C.
    pub fn of(reading: &Reading, of: Judged, rate: SampleRate, frames: FrameRate, celsius: f64) -> Self {
        let agreed = match reading.outcome {
            Ok(agreed) => agreed,
            Err(CannotTell::Unrelated) => return Self::Leave(NoFix::Unrelated),
            Err(CannotTell::Reverberant) => return Self::Leave(NoFix::Room),
            Err(reason) => return Self::Leave(NoFix::CannotTell(reason)),
        };
        if agreed.confidence < LEAST_CONFIDENCE {
            return Self::Leave(NoFix::CannotTell(CannotTell::Unsure));
        }
        let shared = shared(reading);
        let net_gain_db = reading.net_gain_db.filter(|db| !db.is_nan()).unwrap_or(0.0);
        if of.spaced_secs.is_some() && agreed.polarity == Polarity::Inverted && shared < SHARED_COHERENCE {
            let opposed = net_gain_db >= OPPOSED_GAIN_DB;
            return Self::Leave(if opposed { NoFix::Opposed } else { NoFix::Room });
        }
        let few = !shares(reading);
        if few && shared < ROOM_COHERENCE {
            return Self::Leave(NoFix::Room);
        }
        if let Some(drift) = agreed.drift.filter(|drift| drift.plain && drift.moves(of.secs)) {
            return Self::Leave(NoFix::Drifts(drift));
        }
        let fix = fix(&agreed, net_gain_db, gains(reading), rate, frames, celsius);
        if fix.move_earlier == 0 && !fix.flip {
            return Self::Leave(NoFix::NothingToWin);
        }
        let apart = agreed.delay_secs.abs();
        if let Some(second) = agreed.second_secs.filter(|_| net_gain_db < PLENTY_DB && apart > ALIGNED_SECS) {
            return Self::Leave(NoFix::SeveralDelays([agreed.delay_secs, second]));
        }
        if net_gain_db < LEAST_NET_GAIN_DB {
            return Self::Leave(NoFix::NothingToWin);
        }
        // A sound of an octave or less fits several delays.
        if few {
            return Self::Leave(NoFix::CannotTell(CannotTell::Tonal));
        }
        if agreed.polarity == Polarity::Same && of.spaced_secs.is_some_and(|most| apart <= most) {
            return Self::Leave(NoFix::Spaced);
        }
        Self::Repair(fix)
    }
}

fn fix(
    agreed: &Agreed,
    net_gain_db: f64,
    gains: Vec<Gain>,
    rate: SampleRate,
    frames: FrameRate,
    celsius: f64,
) -> Fix {
    let secs = agreed.delay_secs.abs();
    let samples = secs * rate.as_f64();
    let (numerator, denominator) = frames.fraction();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "60 ms in samples, not negative"
    )]
    let move_earlier = samples.round() as u64;
    let later = if agreed.delay_secs > 0.0 { Side::Second } else { Side::First };
    Fix {
        trails: (move_earlier > 0).then_some(later),
        by: Quantities {
            secs,
            samples,
            frames: secs * f64::from(numerator) / f64::from(denominator),
            metres: metres(secs, celsius),
        },
        move_earlier,
        flip: agreed.polarity == Polarity::Inverted,
        net_gain_db,
        gains,
        drift: agreed.drift.filter(|drift| drift.plain),
    }
}

/// Coherence of the pair, by the K-weighted energy of the thirds; the mean of the thirds where these have no level.
fn shared(reading: &Reading) -> f64 {
    let known = reading.thirds.iter().zip(third_weights()).filter_map(|(third, weight)| {
        Some((third.coherence.get()?, weight * db_power(third.under_loudest_db.get()?)))
    });
    let (sum, all) =
        known.fold((0.0, 0.0), |(sum, all), (coherence, energy)| (sum + coherence * energy, all + energy));
    if all > 0.0 { sum / all } else { reading.coherence.unwrap_or(0.0) }
}

/// Whether enough consecutive thirds have common sound.
fn shares(reading: &Reading) -> bool {
    let mut run = 0;
    reading.thirds.iter().skip(FIRST_ACCURATE_THIRD).any(|third| {
        let coherent = third.coherence.get().is_some_and(|c| c >= ROOM_COHERENCE);
        let counts = third.under_loudest_db.get().is_some_and(|db| db >= -NAMED_DB);
        run = if coherent && counts { run + 1 } else { 0 };
        run >= FEWEST_COHERENT
    })
}

fn gains(reading: &Reading) -> Vec<Gain> {
    let mut gains = Vec::new();
    // The third at which the run began, and its power before and after.
    let mut run: Option<(usize, f64, f64)> = None;
    for third in 0..=THIRDS {
        let won = reading.thirds.get(third).and_then(|reading| {
            let gain_db = reading.gain_db.get()?;
            let level_db = reading.under_loudest_db.get()?;
            (gain_db >= LEAST_GAIN_DB && level_db >= -NAMED_DB).then(|| {
                let after = db_power(level_db);
                (after * db_power(-gain_db), after)
            })
        });
        run = match (run, won) {
            (None, Some((before, after))) => Some((third, before, after)),
            (Some((first, b, a)), Some((before, after))) => Some((first, b + before, a + after)),
            (Some((first, before, after)), None) => {
                let span = Span { low_hz: third_span(first).low_hz, high_hz: third_span(third - 1).high_hz };
                gains.push(Gain { span, gain_db: power_db(after / before) });
                None
            }
            (None, None) => None,
        };
    }
    gains
}
