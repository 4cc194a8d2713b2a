//! The history of one pair, window by window.

use super::stretches::{Stretch, Stretches};
use super::{Mic, PairLine, TRACE_POINTS};
use crate::arrival::SPACED_SECS;
use crate::pair::{CannotTell, Correlator, Reading, Spectrum, TRACK_STEP_SECS, Track, VOTE_SECS, Window};
use plumbline_measure::Position;
use std::cmp::Ordering;
use std::collections::VecDeque;

/// Windows after a silence from which the pair is judged anew: as many as must agree.
const ANEW: u32 = 3;
/// Windows after which a pair is known: then all that vote come from one unbroken stretch.
const KNOWN: u32 = 40;
/// Most delays kept over a whole programme; when there are more, every second one is dropped.
const MOST_DELAYS: usize = 512;

/// One pair and its past windows.
#[derive(Debug)]
pub(super) struct PairHistory {
    mics: [Mic; 2],
    track: Track,
    trace: Vec<f32>,
    heard: Option<Position>,
    /// Beginning of the first window in which both sounded, seconds.
    from_secs: Option<f64>,
    quiet_secs: f64,
    /// Seconds of windows so far, counted across jumps.
    at_secs: f64,
    /// Windows since the pair was added, or last may have changed.
    windows: u32,
    /// The reading of the pair: the latest, or the one known before a silence.
    reading: Reading,
    /// Stretches of one delay, and the gain of a move in them.
    stretches: Stretches,
    /// The reading known before a silence, and the windows since.
    kept: Option<(Reading, u32)>,
    whole: Option<Box<Whole>>,
}

/// The record of a pair over a whole programme.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Whole {
    /// The reading with the strongest evidence; absent if no delay was found.
    pub best: Option<Best>,
    /// Time in seconds, and delay of a single window in seconds; 512 at most.
    pub delays: Vec<[f64; 2]>,
    /// Windows in which both sounded, and those of them in which a delay was found.
    pub windows: [u64; 2],
    /// Windows per kept delay, and windows since the last one kept.
    stride: (u32, u32),
    /// Windows of the last [`VOTE_SECS`]: their ends, and the seconds that each stands for.
    votes: VecDeque<[f64; 2]>,
}

/// The reading of a programme with the strongest evidence.
#[derive(Clone, Debug, PartialEq)]
pub struct Best {
    /// The reading.
    pub reading: Reading,
    /// End of its window, seconds.
    pub end_secs: f64,
    /// Cost of the pair at that time, dB.
    pub cost_db: Option<f64>,
    /// Correlation of that window, as in [`PairLine::trace`].
    pub trace: Vec<f32>,
    rank: Rank,
}

/// The evidence for a reading. First the agreeing windows, weighted by confidence and coherence, because the room
/// keeps a delay alive for a while; then how accurately the drift is known.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Rank {
    agreed: f64,
    drift_sigma_ppm: f64,
}

impl Rank {
    fn cmp(&self, other: &Self) -> Ordering {
        // Half a window more or less makes no difference; then the longer-followed drift wins.
        (self.agreed * 0.5)
            .round()
            .total_cmp(&(other.agreed * 0.5).round())
            .then(other.drift_sigma_ppm.total_cmp(&self.drift_sigma_ppm))
    }
}

impl PairHistory {
    pub(super) fn new(mics: [Mic; 2], whole: bool) -> Self {
        Self {
            mics,
            reading: Track::new().reading(),
            track: Track::new(),
            trace: Vec::new(),
            heard: None,
            from_secs: None,
            quiet_secs: 0.0,
            at_secs: 0.0,
            windows: 0,
            kept: None,
            stretches: Stretches::new((!whole).then_some(VOTE_SECS)),
            whole: whole.then(|| Box::new(Whole { stride: (1, 0), ..Whole::default() })),
        }
    }

    /// Notes that what follows may differ from what came before.
    pub(super) fn seam(&mut self) {
        self.windows = 0;
        self.track.seam();
    }

    /// Takes a window that ends at `end`, `later_secs` after the previous one. `correlator` has just compared it. The
    /// pair has the share `part` of the power of everything compared.
    pub(super) fn push(
        &mut self,
        window: &Window,
        (correlator, spectra): (&mut Correlator, [&Spectrum; 2]),
        end: Position,
        later_secs: f64,
        part: f64,
    ) {
        self.at_secs += later_secs;
        self.windows = self.windows.saturating_add(1);
        match window.outcome {
            Err(CannotTell::TooShort) => return,
            // Silence says nothing about the pair: what is known stays, and ages.
            Err(CannotTell::TooQuiet) => {
                if self.heard.is_some() {
                    self.quiet_secs += later_secs;
                    self.kept = self.reading.outcome.is_ok().then_some((self.reading, 0));
                } else {
                    self.reading.outcome = Err(CannotTell::TooQuiet);
                }
                return;
            }
            _ => {
                self.quiet_secs = 0.0;
                self.heard = Some(end);
                if window.outcome != Err(CannotTell::OneSilent) {
                    self.from_secs.get_or_insert(self.at_secs - 2.0 * TRACK_STEP_SECS);
                }
            }
        }
        if window.peak.is_some() {
            self.trace = correlator.correlation_trace(TRACE_POINTS);
        }
        self.track.push(self.at_secs, window);
        if let Some((_, windows)) = &mut self.kept {
            *windows += 1;
            if *windows >= ANEW {
                self.kept = None;
            }
        }
        let mut newest = self.track.reading();
        let evidence = newest.outcome.map_or(0.0, |agreed| {
            f64::from(agreed.windows[0]) * agreed.confidence * newest.coherence.unwrap_or(0.0)
        });
        let since = self.track.agreed_since().map_or(self.at_secs, |middle| middle - TRACK_STEP_SECS);
        let rate = correlator.rate().as_f64();
        self.stretches.take(
            &newest,
            window.outcome.ok(),
            (since, self.at_secs),
            evidence,
            |secs, polarity| {
                // A move is a whole number of samples.
                correlator.rehearse(spectra[0], spectra[1], (secs * rate).round(), polarity)
            },
        );
        if let Ok(agreed) = newest.outcome
            && let Some((net_gain_db, won)) = self.stretches.latest(&agreed)
        {
            (newest.net_gain_db, newest.won) = (net_gain_db, won);
        }
        self.reading = match &self.kept {
            Some((kept, _)) if newest.outcome.is_err() => *kept,
            _ => newest,
        };
        if let Some(whole) = &mut self.whole {
            whole.push(window, &newest, &self.trace, [self.at_secs, later_secs], part);
        }
    }

    /// Whether it was heard long enough to be compared less often.
    pub(super) fn is_known(&self) -> bool {
        self.windows >= KNOWN
    }

    /// The line of the pair, which has the share `part` of the power of everything compared.
    pub(super) fn line(&self, rate_hz: u32, part: f64) -> PairLine {
        let reading = self.reading;
        // The track dates a window at its middle, 1 s before its end.
        let newest = self.track.delays().last().map_or(0.0, |(at, _)| at);
        PairLine {
            mics: self.mics,
            reading,
            cost_db: reading.cost_db(part),
            rate_hz,
            spaced_secs: SPACED_SECS,
            trace: self.trace.clone(),
            delays: self.track.delays().map(|(at, delay)| [at - newest, delay]).collect(),
            heard: self.heard,
            quiet_secs: self.quiet_secs,
            stretches: Vec::new(),
        }
    }

    /// The stretches of the programme that have one delay each.
    pub(super) fn stretches(&self) -> Vec<Stretch> {
        self.stretches.all(self.from_secs.unwrap_or(0.0))
    }

    /// The record of the whole programme, if one was asked for.
    pub(super) fn whole(&self) -> Option<&Whole> {
        self.whole.as_deref()
    }
}

impl Whole {
    fn push(
        &mut self,
        window: &Window,
        reading: &Reading,
        trace: &[f32],
        [end_secs, later_secs]: [f64; 2],
        part: f64,
    ) {
        if window.outcome != Err(CannotTell::OneSilent) {
            self.windows[0] += 1;
            self.windows[1] += u64::from(window.outcome.is_ok());
        }
        if let Ok(found) = window.outcome {
            self.keep([(end_secs - TRACK_STEP_SECS).max(0.0), found.delay_secs]);
        }
        // Each window stands for the time since the one before, at most 1 s, so that frequent windows count no more.
        self.votes.push_back([end_secs, later_secs.min(1.0)]);
        while self.votes.front().is_some_and(|[end, _]| *end < end_secs - VOTE_SECS) {
            self.votes.pop_front();
        }
        let Ok(agreed) = reading.outcome else { return };
        let secs: f64 = self.votes.iter().map(|[_, secs]| secs).sum();
        let agreed_secs = f64::from(agreed.windows[0]) * secs / self.votes.len() as f64;
        let rank = Rank {
            agreed: agreed_secs * agreed.confidence * reading.coherence.unwrap_or(0.0),
            drift_sigma_ppm: agreed.drift.map_or(f64::INFINITY, |drift| drift.sigma_ppm),
        };
        // Of equal readings the later, which is based on more.
        if self.best.as_ref().is_none_or(|best| rank.cmp(&best.rank).is_ge()) {
            let cost_db = reading.cost_db(part);
            self.best = Some(Best { reading: *reading, end_secs, cost_db, trace: trace.to_vec(), rank });
        }
    }

    fn keep(&mut self, delay: [f64; 2]) {
        self.stride.1 += 1;
        if self.stride.1 < self.stride.0 {
            return;
        }
        self.stride.1 = 0;
        if self.delays.len() == MOST_DELAYS {
            let mut odd = false;
            self.delays.retain(|_| {
                odd = !odd;
                odd
            });
            self.stride.0 = self.stride.0.saturating_mul(2);
        }
        self.delays.push(delay);
    }
}

#[cfg(test)]
mod tests;
