//! One sound in both channels that is out of step: where, how much, and why.

use crate::arrival::{
    Cause, LEAST_NET_GAIN_DB, OPPOSED_GAIN_DB, SHARED_COHERENCE, cause, inversion_gain_db, opposed,
};
use crate::mics::{Mic, PairLine};
use crate::pair::{Advice, CannotTell, NoFix};
use plumbline_measure::FrameRate;
use plumbline_measure::bands::{FIRST_ACCURATE_THIRD, Span, THIRDS, third_centre_hz, third_span};
use plumbline_measure::cross::{StereoPower, db_power};
use plumbline_measure::loudness::third_weights;
use plumbline_measure::reading::Readings;
use serde::{Deserialize, Serialize};

/// One sound in both channels that is out of step.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OutOfStep {
    /// The run of thirds around the worst one.
    pub span: Span,
    /// Out of step in the worst third, 0…1.
    pub worst: f64,
    /// Centre frequency of the worst third, Hz.
    pub worst_hz: f64,
    /// Correlation in the worst third.
    pub correlation: f64,
    /// Why, as far as the thirds show it.
    pub cause: Cause,
    /// Whether at least half of the thirds with common sound, and at least two, are out of step.
    pub broad: bool,
    /// Thirds of the run that are out of step.
    pub thirds: usize,
}

impl OutOfStep {
    /// Whether it is a fault that can be repaired: one inverted channel or one delay explains the thirds.
    pub fn is_fault(&self) -> bool {
        matches!(self.cause, Cause::Inverted | Cause::Delayed { .. })
    }

    /// The same with the cause found by comparing left and right, where the thirds leave it open: cards and pairs then
    /// agree, and the comparison hears delays that turn the phase within every third.
    pub(super) fn settled_by(self, left_right: Option<&PairLine>) -> Self {
        let by_pair = left_right.and_then(pair_cause);
        match (self.cause, by_pair) {
            (Cause::Inverted | Cause::InvertedInPart, _) | (_, None) => self,
            // The thirds fit one spacing, even if the pair finds several delays.
            (Cause::Opposed | Cause::Spaced { .. }, Some(Cause::Unexplained)) => self,
            (_, Some(cause)) => Self { cause, ..self },
        }
    }

    /// Whether it is worth a finding: a fault, an inversion in a part of the range, or, without a known cause, most of
    /// the sound or more neighbouring thirds than chance puts side by side.
    pub(crate) fn is_worth_noting(&self) -> bool {
        let spaced = matches!(self.cause, Cause::Spaced { .. });
        self.leads() || self.cause == Cause::InvertedInPart || (!spaced && self.thirds >= SIDE_BY_SIDE)
    }

    /// Whether it decides the verdict on width: a fault, or most of the sound.
    pub(crate) fn leads(&self) -> bool {
        let broad = self.broad && matches!(self.cause, Cause::Unexplained | Cause::InvertedInPart);
        self.is_fault() || self.cause == Cause::Opposed || broad
    }
}

/// Out of step in a third from which it is reported (common practice, no source). Real rain, wind, hiss and crowds stay
/// under it.
pub const OUT_OF_STEP_FAULT: f64 = 0.6;
/// Out of step at which the run of thirds around the worst one ends, and from which a third counts for
/// [`OutOfStep::broad`].
pub const OUT_OF_STEP_EDGE: f64 = 0.5;
/// Range under the loudest third, in dB, in which a third counts for a verdict (common practice, no source).
pub const VERDICT_RANGE_DB: f64 = 30.0;
/// Correlation at or under which channels oppose each other (common practice, no source).
pub const OPPOSED_CORRELATION: f64 = -0.7;
/// Fewest thirds that count as most of the sound: hits once a second have readings in two or three.
const FEWEST_BROAD: usize = 2;
/// Neighbouring thirds out of step that are more than chance. Tones in a room put one or two side by side.
const SIDE_BY_SIDE: usize = 5;
/// Coherence from which a third holds common sound.
const SHARED: f64 = 0.3;

/// The thirds that count: within [`VERDICT_RANGE_DB`] of the loudest.
fn counts(thirds: &[Readings; THIRDS]) -> [bool; THIRDS] {
    let loudest = thirds.iter().filter_map(|t| t.level_dbfs).fold(f64::NEG_INFINITY, f64::max);
    thirds.map(|t| t.level_dbfs.is_some_and(|level| level >= loudest - VERDICT_RANGE_DB))
}

/// The power matrix of a third from its readings; zero where either channel is empty.
pub(crate) fn power(readings: &Readings) -> StereoPower {
    let (Some(level), Some(balance), Some(correlation)) =
        (readings.level_dbfs, readings.balance_db, readings.correlation)
    else {
        return StereoPower::default();
    };
    let (total, ratio) = (db_power(level), db_power(balance));
    let (ll, rr) = (total / (1.0 + ratio), total * ratio / (1.0 + ratio));
    StereoPower { ll, rr, re: correlation * (ll * rr).sqrt() }
}

/// K-weighted gain in mono from inverting one channel, dB; 0 without sound.
pub(crate) fn inverting_gains_db(thirds: &[Readings; THIRDS]) -> f64 {
    inversion_gain_db(&thirds.each_ref().map(power)).unwrap_or(0.0)
}

/// K-weighted energy of each third.
fn energies(thirds: &[Readings; THIRDS]) -> impl Iterator<Item = f64> + '_ {
    thirds.iter().zip(third_weights()).map(|(third, weight)| weight * third.level_dbfs.map_or(0.0, db_power))
}

/// Mean coherence of the thirds that have one, weighted by their K-weighted energy.
fn mean_coherence(thirds: &[Readings; THIRDS]) -> f64 {
    let known =
        thirds.iter().zip(energies(thirds)).filter_map(|(third, energy)| Some((third.coherence?, energy)));
    let (sum, all) =
        known.fold((0.0, 0.0), |(sum, all), (coherence, energy)| (sum + coherence * energy, all + energy));
    if all > 0.0 { sum / all } else { 0.0 }
}

/// Whether thirds with half of the K-weighted energy are known to share sound that opposes.
fn mostly_opposed(thirds: &[Readings; THIRDS]) -> bool {
    let opposes = |third: &Readings| {
        third.coherence.is_some_and(|c| c >= SHARED / 2.0) && third.correlation.is_some_and(|r| r < 0.0)
    };
    let known = thirds.iter().zip(energies(thirds)).filter(|(third, _)| opposes(third));
    2.0 * known.map(|(_, energy)| energy).sum::<f64>() >= energies(thirds).sum::<f64>()
}

/// The cause, if its repair helps: inverting a channel must gain more in mono than it costs. `gain_db` is the gain of
/// inverting.
fn rehearsed(thirds: &[Readings; THIRDS], counts: &[bool; THIRDS], gain_db: f64, spaced_secs: f64) -> Cause {
    match cause(thirds, spaced_secs, |third| counts[third]) {
        Cause::Inverted if gain_db < LEAST_NET_GAIN_DB => Cause::Unexplained,
        Cause::Inverted if mean_coherence(thirds) < SHARED_COHERENCE => Cause::Opposed,
        Cause::Unexplained if gain_db >= OPPOSED_GAIN_DB && mostly_opposed(thirds) => Cause::Opposed,
        found => found,
    }
}

/// The cause that the comparison of left and right shows; `None` if it shows none.
fn pair_cause(line: &PairLine) -> Option<Cause> {
    if line.mics != [Mic::Left, Mic::Right] || !line.sounds() {
        return None;
    }
    // Frame rate and temperature change the words of a move, not the cause.
    match line.advice(FrameRate::ALL[0], 20.0) {
        Advice::Repair(fix) if fix.trails.is_none() => Some(Cause::Inverted),
        Advice::Repair(fix) => Some(Cause::Delayed { secs: fix.by.secs }),
        Advice::Leave(NoFix::Spaced) => {
            line.reading.outcome.ok().map(|agreed| Cause::Spaced { secs: agreed.delay_secs.abs() })
        }
        // No single delay explains it.
        Advice::Leave(NoFix::SeveralDelays(_) | NoFix::CannotTell(CannotTell::Ambiguous)) => {
            Some(Cause::Unexplained)
        }
        Advice::Leave(_) => None,
    }
}

/// First and last third of the run around `middle` for which `holds`. The run may skip one third: in a delayed copy,
/// some happen to add up.
pub(crate) fn run_around(middle: usize, holds: impl Fn(usize) -> bool) -> (usize, usize) {
    let reach = |thirds: &mut dyn Iterator<Item = usize>| {
        let (mut end, mut missed) = (middle, 0);
        for third in thirds {
            if holds(third) {
                (end, missed) = (third, 0);
            } else {
                missed += 1;
                if missed > 1 {
                    break;
                }
            }
        }
        end
    };
    (reach(&mut (0..middle).rev()), reach(&mut (middle + 1..THIRDS)))
}

/// The worst run of thirds out of step, one of which reaches `limit`. Channels that oppose each other throughout need
/// not reach it. `None` if there is neither. Delays up to `spaced_secs` are made on purpose.
pub(crate) fn out_of_step(thirds: &[Readings; THIRDS], limit: f64, spaced_secs: f64) -> Option<OutOfStep> {
    let counts = counts(thirds);
    let edge = OUT_OF_STEP_EDGE.min(limit);
    let value = |third: usize| thirds[third].out_of_step.filter(|_| counts[third]);
    let holds = |third: &usize| value(*third).is_some_and(|v| v >= edge);
    // A third of two or three bins may be out of step by chance: under 63 Hz a neighbour must be, too.
    let believed = |third: usize| {
        let neighbours = [third.checked_sub(1), Some(third + 1).filter(|t| *t < THIRDS)];
        third >= FIRST_ACCURATE_THIRD || neighbours.iter().flatten().any(holds)
    };
    let (worst_third, worst) = (0..THIRDS)
        .filter(|t| believed(*t))
        .filter_map(|t| value(t).map(|v| (t, v)))
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    // The cause takes a search over many delays, and most tenths have neither.
    let gain_db = inverting_gains_db(thirds);
    if worst < limit && gain_db < OPPOSED_GAIN_DB {
        return None;
    }
    let cause = rehearsed(thirds, &counts, gain_db, spaced_secs);
    if worst < limit && !matches!(cause, Cause::Inverted | Cause::Opposed) {
        return None;
    }
    let (low, high) = run_around(worst_third, |third| holds(&third));
    let shared = |third: &usize| {
        value(*third).is_some() && thirds[*third].coherence.is_some_and(|coherence| coherence >= SHARED)
    };
    let known = (0..THIRDS).filter(shared).count();
    let out = (0..THIRDS).filter(holds).count();
    let cause = match cause {
        Cause::Unexplained if opposed(&thirds[low..=high]) => Cause::InvertedInPart,
        cause => cause,
    };
    Some(OutOfStep {
        span: Span { low_hz: third_span(low).low_hz, high_hz: third_span(high).high_hz },
        worst,
        worst_hz: third_centre_hz(worst_third),
        correlation: thirds[worst_third].correlation.unwrap_or(0.0),
        cause,
        broad: out >= FEWEST_BROAD && 2 * out >= known,
        thirds: (low..=high).filter(holds).count(),
    })
}
