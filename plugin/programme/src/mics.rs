//! Pairs of microphones at one moment, as a screen or a report shows them: plain data.
//!
//! The arithmetic lies in [`pair`](crate::pair); who is compared with whom is the caller's choice.

use crate::pair::{Advice, CannotTell, Comb, Fix, NoFix, Reading, Side, TRACK_STEP_SECS, VOTE_SECS};
use crate::session::LayerId;
use plumbline_measure::Position;
use plumbline_measure::rate::SampleRate;
use plumbline_measure::timecode::FrameRate;
use serde::{Deserialize, Serialize};

mod history;
mod tracker;

pub use history::{Best, Whole as WholePair};
pub use tracker::PairTracker;

/// Most layers of a session that are compared with each other: 28 pairs.
pub const MOST_MICS: usize = 8;

/// Points of a correlation for a picture: from −60 to +60 ms in steps of 0.25 ms.
pub const TRACE_POINTS: usize = 481;

/// Cost in dB from which a pair counts in the verdict (common practice, no source).
pub const LEAST_COST_DB: f64 = 0.1;

/// Longest delay of a [`Trial`] in seconds.
pub const LONGEST_TRIAL_SECS: f64 = 0.1;

/// One of the two signals of a pair.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Mic {
    /// The left channel of this very bus.
    Left,
    /// The right channel of this very bus.
    Right,
    /// This bus, its channels folded to one.
    Main,
    /// The side-chain input, its channels folded to one.
    SideChain,
    /// A layer of the session, its channels folded to one.
    Layer(LayerId),
}

/// What is known of one pair.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PairLine {
    /// Who; a positive delay means that the second trails the first.
    pub mics: [Mic; 2],
    /// The newest reading.
    pub reading: Reading,
    /// What the pair costs the sum of all that is compared with it, dB, not negative: how much louder that sum would
    /// be with this pair repaired. Absent where no delay is known.
    pub cost_db: Option<f64>,
    /// Sample rate in Hz.
    pub rate_hz: u32,
    /// Correlation of the newest window that could be compared, −1…1: [`TRACE_POINTS`] lags from −60 to +60 ms. Empty
    /// before the first.
    pub trace: Vec<f32>,
    /// Delays found in single windows, oldest first: seconds before the newest one (not over 0), and delay in seconds.
    pub delays: Vec<[f64; 2]>,
    /// End of the newest window in which anything sounded. Absent before the first.
    pub heard: Option<Position>,
    /// Seconds of windows since then in which neither sounded: the reading is so old.
    pub quiet_secs: f64,
}

/// All pairs of one layer's view.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Mics {
    /// The pairs: who costs most first, then those of which no cost is known.
    pub lines: Vec<PairLine>,
    /// Layers of the session that sound and are not compared, because there are more than [`MOST_MICS`].
    pub uncompared: u32,
    /// Why nothing is compared any more, in words, after a failure.
    pub trouble: Option<String>,
}

/// The verdict on all pairs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub enum MicsVerdict {
    /// There is nothing to compare, or not yet.
    #[default]
    Unknown,
    /// Of no pair anything can be told. Why, of the first.
    CannotTell(CannotTell),
    /// What is shared is room: nothing to align.
    Room,
    /// All pairs that share sound add up, or what a move would win cannot be heard.
    InStep {
        /// How many.
        pairs: u32,
    },
    /// Microphones fight, and it costs the sum [`LEAST_COST_DB`] or more.
    Fight {
        /// The pair that costs most.
        mics: [Mic; 2],
        /// Further pairs that fight.
        more: u32,
    },
}

impl Mic {
    /// The layer, if it is one.
    pub fn layer(self) -> Option<LayerId> {
        match self {
            Self::Layer(id) => Some(id),
            _ => None,
        }
    }
}

impl PairLine {
    /// Order of a line among others, the dearest first: by cost in steps of a tenth of a dB, so that pairs do not change
    /// places for nothing; then by how much they share.
    pub fn rank(&self) -> f64 {
        let cost = self.cost_db.map_or(-1.0, |db| (db * 10.0).round());
        -(cost + self.reading.coherence.map_or(0.0, |c| c.clamp(0.0, 1.0) * 0.09))
    }

    /// What to do about the pair, for picture at `frames` and air of `celsius`. Without a sample rate nothing can be
    /// told.
    pub fn advice(&self, frames: FrameRate, celsius: f64) -> Advice {
        match SampleRate::new(self.rate_hz) {
            Ok(rate) => Advice::of(&self.reading, rate, frames, celsius),
            Err(_) => Advice::Leave(NoFix::CannotTell(CannotTell::TooShort)),
        }
    }

    /// The advice in any unit: frames and air do not change what it is.
    fn kind(&self) -> Advice {
        self.advice(FrameRate::ALL[0], 20.0)
    }

    /// Whether it has sounded within the time that windows vote for. An older reading is worth keeping, and no verdict on
    /// what is heard.
    pub fn sounds(&self) -> bool {
        self.quiet_secs < VOTE_SECS
    }

    /// The comb that two copies of one sound make at this delay and level. Absent without either, and at a delay over 1 s:
    /// too many teeth to show.
    pub fn comb(&self) -> Option<Comb> {
        let agreed = self.reading.outcome.ok()?;
        let level = self.reading.level_db.filter(|db| db.is_finite())?;
        (agreed.delay_secs.abs() <= 1.0).then(|| Comb::new(agreed.delay_secs, level, agreed.polarity))
    }

    /// The delay in seconds that the windows scatter about: the agreed one, else the median. Absent without either.
    pub fn middle_delay_secs(&self) -> Option<f64> {
        let agreed =
            self.reading.outcome.ok().map(|agreed| agreed.delay_secs).filter(|secs| secs.is_finite());
        agreed.or_else(|| {
            let sorted = self.sorted_delays();
            sorted.get(sorted.len() / 2).copied()
        })
    }

    /// How far nine of ten windows are from `middle` at most, seconds; 0 without windows.
    pub fn delay_spread_secs(&self, middle: f64) -> f64 {
        let sorted = self.sorted_delays();
        let off = |part: f64| {
            #[expect(clippy::cast_possible_truncation, reason = "an index")]
            let at = (sorted.len().saturating_sub(1) as f64 * part).round() as usize;
            sorted.get(at).map_or(0.0, |secs| (secs - middle).abs())
        };
        off(0.05).max(off(0.95))
    }

    fn sorted_delays(&self) -> Vec<f64> {
        let mut sorted: Vec<f64> = self.delays.iter().map(|d| d[1]).filter(|secs| secs.is_finite()).collect();
        sorted.sort_by(f64::total_cmp);
        sorted
    }

    /// The agreed delay with its drift, seconds, at a time in seconds before now (not over 0). The delay is agreed at the end
    /// of the newest window, windows are dated at their middles. Absent where none is agreed.
    pub fn delay_at(&self, secs: f64) -> Option<f64> {
        let agreed = self.reading.outcome.ok().filter(|agreed| agreed.delay_secs.is_finite())?;
        let slope = agreed.drift.filter(|d| d.plain && d.ppm.is_finite()).map_or(0.0, |d| d.ppm * 1e-6);
        Some(agreed.delay_secs + slope * (secs - TRACK_STEP_SECS))
    }

    /// Whether `mics` are its two, in either order.
    pub fn is_of(&self, mics: [Mic; 2]) -> bool {
        self.mics == mics || self.mics == [mics[1], mics[0]]
    }
}

impl Mics {
    /// Of lines in any order, the dearest first.
    pub fn new(mut lines: Vec<PairLine>, uncompared: u32) -> Self {
        lines.sort_by(|a, b| a.rank().total_cmp(&b.rank()));
        Self { lines, uncompared, trouble: None }
    }

    /// The line of a pair, in either order.
    pub fn line(&self, mics: [Mic; 2]) -> Option<&PairLine> {
        self.lines.iter().find(|line| line.is_of(mics))
    }

    /// The verdict.
    pub fn verdict(&self) -> MicsVerdict {
        let mut fighting = None;
        let (mut fights, mut in_step, mut room) = (0_u32, 0_u32, 0_u32);
        for line in self.lines.iter().filter(|line| line.sounds()) {
            match line.kind() {
                // What costs the sum nothing to be heard is told in its line, and is no verdict.
                Advice::Repair(_) if line.cost_db.is_none_or(|db| db < LEAST_COST_DB) => in_step += 1,
                Advice::Repair(_) => {
                    fighting.get_or_insert(line.mics);
                    fights += 1;
                }
                Advice::Leave(NoFix::NothingToWin) => in_step += 1,
                Advice::Leave(NoFix::Room) => room += 1,
                Advice::Leave(NoFix::CannotTell(_)) => {}
            }
        }
        match (fighting, self.lines.first().map(|line| line.reading.outcome)) {
            (Some(mics), _) => MicsVerdict::Fight { mics, more: fights - 1 },
            _ if in_step > 0 => MicsVerdict::InStep { pairs: in_step },
            _ if room > 0 => MicsVerdict::Room,
            (None, Some(Err(CannotTell::TooShort)) | None) => MicsVerdict::Unknown,
            (None, Some(Err(reason))) => MicsVerdict::CannotTell(reason),
            (None, Some(Ok(_))) => MicsVerdict::Unknown,
        }
    }

    /// The pair of layers behind what is out of step between the channels of this bus: one that fights, sounds, and has
    /// the delay and the polarity of left against right. None where no pair is the cause: two layers in the middle
    /// never are, whatever their delay, and a single layer may be out of step by itself.
    pub fn behind(&self) -> Option<&PairLine> {
        let own = self.line([Mic::Left, Mic::Right])?.reading.outcome.ok()?;
        let alike = |line: &&PairLine| {
            line.reading.outcome.is_ok_and(|agreed| {
                own.polarity == agreed.polarity
                    && (own.delay_secs.abs() - agreed.delay_secs.abs()).abs() <= SAME_DELAY_SECS
            })
        };
        let of_layers = |line: &&PairLine| line.mics.iter().all(|mic| matches!(mic, Mic::Layer(_)));
        let fights = |line: &&PairLine| matches!(line.kind(), Advice::Repair(_));
        self.lines.iter().filter(of_layers).filter(|line| line.sounds()).filter(fights).find(alike)
    }
}

#[cfg(test)]
mod tests;

/// How far the delay of two layers may be off that of left against right and still be taken for its cause: a third of
/// a millisecond, as wide as single windows scatter in a room.
const SAME_DELAY_SECS: f64 = 0.3e-3;

/// Samples from which on a delay that is tried keeps its fraction: half the length of the kernel that makes it.
pub const LEAST_FRACTION_SAMPLES: f64 = 32.0;

/// A repair that is tried out: this layer is delayed, turned upside down, or both, so that it can be heard at once.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Trial {
    /// Seconds that left and right are delayed by, 0…[`LONGEST_TRIAL_SECS`].
    pub delay_secs: [f64; 2],
    /// Whether left and right are turned upside down.
    pub flip: [bool; 2],
    /// Whether an offline render is altered too.
    pub in_renders: bool,
}

impl Trial {
    /// Held to its bounds; a delay that is no number is none.
    #[must_use]
    pub fn sane(mut self) -> Self {
        for secs in &mut self.delay_secs {
            *secs = if secs.is_finite() { secs.clamp(0.0, LONGEST_TRIAL_SECS) } else { 0.0 };
        }
        self
    }

    /// What of it is in force at a rate. A delay by a fraction of a sample needs the samples around it on both sides, and
    /// a layer hands on without latency, so it cannot know those to come: a delay under
    /// [`LEAST_FRACTION_SAMPLES`] is rounded to whole samples. One under half a sample is none.
    #[must_use]
    pub fn in_force(self, rate: SampleRate) -> Self {
        let rate = rate.as_f64();
        let rounded = |secs: f64| {
            let samples = secs * rate;
            if samples < LEAST_FRACTION_SAMPLES { samples.round() / rate } else { secs }
        };
        let trial = self.sane();
        Self { delay_secs: trial.delay_secs.map(rounded), ..trial }
    }

    /// Whether it alters anything.
    pub fn alters(&self) -> bool {
        self.delay_secs.iter().any(|secs| *secs > 0.0) || self.flip.iter().any(|flip| *flip)
    }

    /// The trial of a repair on the layer that is the `own` one of the pair. None when the own layer trails: a layer
    /// can wait for another, not hurry; then the trial belongs on the other one.
    pub fn on(own: Side, fix: &Fix) -> Option<Self> {
        match fix.trails {
            Some(trails) if trails == own => None,
            Some(_) => Some(Self { delay_secs: [fix.by.secs; 2], flip: [fix.flip; 2], in_renders: false }),
            None => Some(Self { flip: [fix.flip; 2], ..Self::default() }),
        }
    }

    /// The trial of a repair between the channels of the own bus, left being the first: the leading channel waits; the
    /// right one is flipped.
    pub fn between_channels(fix: &Fix) -> Self {
        let secs = |waits: bool| if waits { fix.by.secs } else { 0.0 };
        Self {
            delay_secs: [secs(fix.trails == Some(Side::Second)), secs(fix.trails == Some(Side::First))],
            flip: [false, fix.flip],
            in_renders: false,
        }
    }
}
