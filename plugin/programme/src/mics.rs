//! Pairs of microphones at one moment, as a screen or a report shows them: plain data.
//!
//! The arithmetic is in [`pair`](crate::pair). The caller chooses the pairs.

use crate::pair::{Advice, CannotTell, Comb, Fix, Judged, NoFix, Reading, Side, TRACK_STEP_SECS, VOTE_SECS};
use crate::session::LayerId;
use plumbline_measure::Position;
use plumbline_measure::rate::SampleRate;
use plumbline_measure::timecode::FrameRate;
use serde::{Deserialize, Serialize};

mod pair_history;
mod pair_tracker;
mod stretches;

pub use pair_history::{Best, Whole as WholePair};
pub use pair_tracker::PairTracker;
pub use stretches::{LEAST_STRETCH_SECS, Stretch};

/// Most layers of a session that are compared with each other; they make 28 pairs.
pub const MOST_MICS: usize = 8;

/// Points of a correlation trace: from −60 to +60 ms in steps of 0.25 ms.
pub const TRACE_POINTS: usize = 481;

/// Cost in dB from which a pair counts in the verdict (common practice, no source).
pub const LEAST_COST_DB: f64 = 0.1;

/// Longest delay of a [`Trial`] in seconds.
pub const LONGEST_TRIAL_SECS: f64 = 0.1;

/// One of the two signals of a pair.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Mic {
    /// The left channel of this bus.
    Left,
    /// The right channel of this bus.
    Right,
    /// This bus, its channels mixed to one.
    Main,
    /// The side-chain input, its channels mixed to one.
    SideChain,
    /// A layer of the session, its channels mixed to one.
    Layer(LayerId),
}

/// One pair.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PairLine {
    /// The two signals; a positive delay means that the second trails the first.
    pub mics: [Mic; 2],
    /// The latest reading.
    pub reading: Reading,
    /// How much louder the sum of everything compared would be with this pair repaired, dB, not negative. Absent if
    /// no delay is known.
    pub cost_db: Option<f64>,
    /// Sample rate in Hz.
    pub rate_hz: u32,
    /// For left and right: the longest delay that is made on purpose, s.
    pub spaced_secs: f64,
    /// Correlation of the latest window that could be compared, −1…1: [`TRACE_POINTS`] lags from −60 to +60 ms. Empty
    /// before the first.
    pub trace: Vec<f32>,
    /// Delays found in single windows, oldest first: time relative to the latest one in seconds (0 or less), and
    /// delay in seconds.
    pub delays: Vec<[f64; 2]>,
    /// End of the latest window in which anything sounded. Absent before the first.
    pub heard: Option<Position>,
    /// Seconds of silent windows since then: the age of the reading.
    pub quiet_secs: f64,
    /// For a whole programme: its stretches with one delay each, ascending. Empty while audio plays.
    pub stretches: Vec<Stretch>,
}

/// All pairs of one layer's view.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Mics {
    /// The pairs, the costliest first; those without a known cost last.
    pub lines: Vec<PairLine>,
    /// Layers of the session that sound but are not compared, because there are more than [`MOST_MICS`].
    pub uncompared: u32,
    /// Why comparing stopped after a failure, in words.
    pub trouble: Option<String>,
}

/// The verdict on all pairs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub enum MicsVerdict {
    /// Nothing to compare, or not yet.
    #[default]
    Unknown,
    /// No pair can be judged. Holds the reason for the first one.
    CannotTell(CannotTell),
    /// The common sound is room: nothing to align.
    Room,
    /// No pair shares sound within the range compared.
    Unrelated,
    /// All pairs that share sound add up, or would gain nothing audible.
    InStep {
        /// Number of such pairs.
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
    /// The layer; `None` for a channel or the side-chain.
    pub fn layer(self) -> Option<LayerId> {
        match self {
            Self::Layer(id) => Some(id),
            _ => None,
        }
    }
}

impl PairLine {
    /// Sort key of a line, the costliest first: by cost in steps of 0.1 dB, so that pairs do not swap places without
    /// reason; then by coherence.
    pub fn rank(&self) -> f64 {
        let cost = self.cost_db.map_or(-1.0, |db| (db * 10.0).round());
        -(cost + self.reading.coherence.map_or(0.0, |c| c.clamp(0.0, 1.0) * 0.09))
    }

    /// What to do about the pair, for picture at `frames` and air at `celsius` °C. Without a valid sample rate the
    /// pair cannot be judged.
    pub fn advice(&self, frames: FrameRate, celsius: f64) -> Advice {
        match SampleRate::new(self.rate_hz) {
            Ok(rate) => {
                let secs = self.stretches.iter().map(Stretch::secs).fold(VOTE_SECS, f64::max);
                let stereo = self.mics == [Mic::Left, Mic::Right];
                let judged = Judged { spaced_secs: stereo.then_some(self.spaced_secs), secs };
                Advice::of(&self.reading, judged, rate, frames, celsius)
            }
            Err(_) => Advice::Leave(NoFix::CannotTell(CannotTell::TooShort)),
        }
    }

    /// The line with the net gain of its only stretch, which counts the whole programme.
    #[must_use]
    pub(crate) fn of_stretches(mut self) -> Self {
        if let [only] = self.stretches.as_slice()
            && only.whole
        {
            (self.reading.net_gain_db, self.reading.won) = (only.reading.net_gain_db, only.reading.won);
            // If the delay moved, the stretch knows whether it drifted.
            if only.moves() {
                self.reading.outcome = only.reading.outcome;
            }
            match (&mut self.reading.outcome, only.reading.outcome) {
                (Ok(own), Ok(stretch)) => own.second_secs = stretch.second_secs,
                (own, Err(reason)) => *own = Err(reason),
                (Err(_), Ok(_)) => {}
            }
        }
        self
    }

    /// What to do in each stretch, ascending; empty if one delay holds for all the sound, or none was found.
    pub fn advice_by_stretch(&self, frames: FrameRate, celsius: f64) -> Vec<(&Stretch, Advice)> {
        if self.stretches.iter().all(|stretch| stretch.whole) {
            return Vec::new();
        }
        let of = |stretch: &Stretch| {
            let line = Self { reading: stretch.reading, stretches: vec![stretch.clone()], ..self.clone() };
            line.advice(frames, celsius)
        };
        self.stretches.iter().map(|stretch| (stretch, of(stretch))).collect()
    }

    /// The kind of advice; frame rate and temperature do not affect it.
    fn kind(&self) -> Advice {
        self.advice(FrameRate::ALL[0], 20.0)
    }

    /// Whether the pair sounded within the time that windows vote over. An older reading is kept, but gives no
    /// verdict.
    pub fn sounds(&self) -> bool {
        self.quiet_secs < VOTE_SECS
    }

    /// The comb filtering of two copies of one sound at this delay and level. `None` if either is unknown, or at a
    /// delay over 1 s, which has too many notches to show.
    pub fn comb(&self) -> Option<Comb> {
        let agreed = self.reading.outcome.ok()?;
        let level = self.reading.level_db.filter(|db| db.is_finite())?;
        (agreed.delay_secs.abs() <= 1.0).then(|| Comb::new(agreed.delay_secs, level, agreed.polarity))
    }

    /// The delay in seconds around which the windows scatter: the agreed one, otherwise the median. `None` without
    /// either.
    pub fn middle_delay_secs(&self) -> Option<f64> {
        let agreed =
            self.reading.outcome.ok().map(|agreed| agreed.delay_secs).filter(|secs| secs.is_finite());
        agreed.or_else(|| {
            let sorted = self.sorted_delays();
            sorted.get(sorted.len() / 2).copied()
        })
    }

    /// Deviation from `middle` that nine of ten windows stay within, seconds; 0 without windows.
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

    /// The agreed delay in seconds, with its drift, at a time in seconds before now (0 or less). The delay is agreed
    /// for the end of the latest window, while windows are dated at their middles. `None` without an agreed delay.
    pub fn delay_at(&self, secs: f64) -> Option<f64> {
        let agreed = self.reading.outcome.ok().filter(|agreed| agreed.delay_secs.is_finite())?;
        let slope = agreed.drift.filter(|d| d.plain && d.ppm.is_finite()).map_or(0.0, |d| d.ppm * 1e-6);
        Some(agreed.delay_secs + slope * (secs - TRACK_STEP_SECS))
    }

    /// Whether these are its two signals, in either order.
    pub fn is_of(&self, mics: [Mic; 2]) -> bool {
        self.mics == mics || self.mics == [mics[1], mics[0]]
    }
}

impl Mics {
    /// Sorts the lines, the costliest first.
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
        let (mut fights, mut in_step, mut room, mut unrelated) = (0_u32, 0_u32, 0_u32, 0_u32);
        for line in self.lines.iter().filter(|line| line.sounds()) {
            match line.kind() {
                // A cost too small to hear is shown in its line, but is no verdict.
                Advice::Repair(_) if line.cost_db.is_none_or(|db| db < LEAST_COST_DB) => in_step += 1,
                Advice::Repair(_) => {
                    fighting.get_or_insert(line.mics);
                    fights += 1;
                }
                Advice::Leave(NoFix::NothingToWin | NoFix::Spaced) => in_step += 1,
                Advice::Leave(NoFix::Room) => room += 1,
                Advice::Leave(NoFix::Unrelated | NoFix::Opposed) => unrelated += 1,
                Advice::Leave(NoFix::CannotTell(_) | NoFix::SeveralDelays(_) | NoFix::Drifts(_)) => {}
            }
        }
        match (fighting, self.lines.first().map(|line| line.reading.outcome)) {
            (Some(mics), _) => MicsVerdict::Fight { mics, more: fights - 1 },
            _ if in_step > 0 => MicsVerdict::InStep { pairs: in_step },
            _ if room > 0 => MicsVerdict::Room,
            _ if unrelated > 0 => MicsVerdict::Unrelated,
            (None, Some(Err(CannotTell::TooShort)) | None) => MicsVerdict::Unknown,
            (None, Some(Err(reason))) => MicsVerdict::CannotTell(reason),
            (None, Some(Ok(_))) => MicsVerdict::Unknown,
        }
    }

    /// The pair of layers that causes the out of step between the channels of this bus: it fights, sounds, and has the
    /// delay and polarity of left against right. `None` if no pair does. The cause may also be a single layer that is
    /// out of step itself; two layers in the centre are never the cause, whatever their delay.
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
pub(crate) mod tests;

/// Largest difference between the delay of two layers and that of left against right for which they are its cause: a
/// third of a millisecond, the scatter of single windows in a room.
const SAME_DELAY_SECS: f64 = 0.3e-3;

/// Samples from which a trial delay keeps its fraction: half the length of the interpolation kernel.
pub const LEAST_FRACTION_SAMPLES: f64 = 32.0;

/// A repair being tried out: this layer is delayed, polarity inverted, or both, to be heard at once.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Trial {
    /// Delay of left and right in seconds, 0…[`LONGEST_TRIAL_SECS`].
    pub delay_secs: [f64; 2],
    /// Whether the polarity of left and right is inverted.
    pub flip: [bool; 2],
    /// Whether offline renders are altered too.
    pub in_renders: bool,
}

impl Trial {
    /// The trial within its bounds. A delay that is NaN or infinite becomes 0.
    #[must_use]
    pub fn sane(mut self) -> Self {
        for secs in &mut self.delay_secs {
            *secs = if secs.is_finite() { secs.clamp(0.0, LONGEST_TRIAL_SECS) } else { 0.0 };
        }
        self
    }

    /// The trial as it takes effect at a rate. A fractional delay needs the samples on both sides of it, and a layer
    /// has no latency to wait for later ones. A delay under [`LEAST_FRACTION_SAMPLES`] is therefore rounded to whole
    /// samples; under half a sample it becomes 0.
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

    /// The trial of a repair on the `own` layer of the pair. `None` if the own layer trails: a layer can wait but not
    /// hurry, so the trial belongs on the other one.
    pub fn on(own: Side, fix: &Fix) -> Option<Self> {
        match fix.trails {
            Some(trails) if trails == own => None,
            Some(_) => Some(Self { delay_secs: [fix.by.secs; 2], flip: [fix.flip; 2], in_renders: false }),
            None => Some(Self { flip: [fix.flip; 2], ..Self::default() }),
        }
    }

    /// The trial of a repair between the channels of the own bus, with left as the first: the leading channel is
    /// delayed; the right one is inverted.
    pub fn between_channels(fix: &Fix) -> Self {
        let secs = |waits: bool| if waits { fix.by.secs } else { 0.0 };
        Self {
            delay_secs: [secs(fix.trails == Some(Side::Second)), secs(fix.trails == Some(Side::First))],
            flip: [false, fix.flip],
            in_renders: false,
        }
    }
}
