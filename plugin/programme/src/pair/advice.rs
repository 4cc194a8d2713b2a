//! What to do about a pair, as data.

use super::speed_of_sound::metres;
use super::track::{Agreed, Drift, Reading};
use super::window::{CannotTell, Polarity};
use plumbline_measure::bands::{FIRST_ACCURATE_THIRD, Span, THIRDS, third_span};
use plumbline_measure::cross::{db_power, power_db};
use plumbline_measure::rate::SampleRate;
use plumbline_measure::timecode::FrameRate;
use serde::{Deserialize, Serialize};

/// Coherence under which what two microphones hear of a third is room.
pub const ROOM_COHERENCE: f64 = 0.4;

/// Neighbouring thirds that must be coherent for a fix to be worth anything.
const FEWEST_COHERENT: usize = 3;

/// Gain in dB from which a third is named: less is hard to hear (common practice, no source).
pub const LEAST_GAIN_DB: f64 = 1.0;

/// How far under the loudest third a third may lie and still be named, dB.
const NAMED_DB: f64 = 30.0;

/// Which of the two.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Side {
    /// The first.
    First,
    /// The second.
    Second,
}

/// The delay in every unit that people nudge in; not negative.
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

/// A run of neighbouring thirds where the blend wins.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Gain {
    /// From the lower edge of the first third to the upper edge of the last.
    pub span: Span,
    /// What the run's power wins, dB.
    pub gain_db: f64,
}

/// A fix that is worth making.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fix {
    /// Which of the two trails; absent when only the polarity is wrong.
    pub trails: Option<Side>,
    /// By how much.
    pub by: Quantities,
    /// Whole samples to move the trailing one earlier by; 0 when only the polarity is wrong.
    pub move_earlier: u64,
    /// Whether to flip the polarity of one of them.
    pub flip: bool,
    /// Where the blend wins, lowest first.
    pub gains: Vec<Gain>,
    /// When it is plain that the clocks run apart: one move does not hold for long.
    pub drift: Option<Drift>,
}

/// Why to leave the pair as it is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum NoFix {
    /// No delay can be told.
    CannotTell(CannotTell),
    /// There is a delay, but little of the sound shares it: room, not fault.
    Room,
    /// They are in step, or what a move wins cannot be heard.
    NothingToWin,
}

/// What to do about a pair.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Advice {
    /// Leave it.
    Leave(NoFix),
    /// Move, flip, or both.
    Repair(Fix),
}

impl Advice {
    /// Judges a reading taken at `rate`, for picture at `frames` and air of `celsius`.
    pub fn of(reading: &Reading, rate: SampleRate, frames: FrameRate, celsius: f64) -> Self {
        let agreed = match reading.outcome {
            Ok(agreed) => agreed,
            // Sound that plainly has nothing in common is a room's, or another source's; there is nothing to mend.
            Err(CannotTell::Unrelated) => return Self::Leave(NoFix::Room),
            Err(reason) => return Self::Leave(NoFix::CannotTell(reason)),
        };
        if !shares(reading) {
            return Self::Leave(NoFix::Room);
        }
        let gains = gains(reading);
        if gains.is_empty() {
            return Self::Leave(NoFix::NothingToWin);
        }
        Self::Repair(fix(&agreed, gains, rate, frames, celsius))
    }
}

fn fix(agreed: &Agreed, gains: Vec<Gain>, rate: SampleRate, frames: FrameRate, celsius: f64) -> Fix {
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
        gains,
        drift: agreed.drift.filter(|drift| drift.plain),
    }
}

/// Whether enough neighbouring thirds hear the same sound.
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
    // Powers before and after, and the third that the run began with.
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
