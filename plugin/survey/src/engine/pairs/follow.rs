//! One pair over a whole time line.

use plumbline_measure::SampleRate;
use plumbline_programme::mics::TRACE_POINTS;
use plumbline_programme::pair::{CannotTell, Correlator, Reading, Track, Window};
use plumbline_programme::{Mic, PairLine};
use plumbline_report::survey::Pair;
use std::cmp::Ordering;

/// Most delays kept for a picture; when there are more, every second one stays.
const MOST_DELAYS: usize = 512;

/// A pair with its past.
pub(super) struct Followed {
    track: Track,
    /// The reading that most speaks for, and what belongs to it.
    best: Option<Best>,
    /// The newest reading of a window that was loud enough, for a pair of which nothing was ever told.
    refused: Option<Reading>,
    trace: Vec<f32>,
    /// Seconds on the line, and the delay in a single window.
    delays: Vec<[f64; 2]>,
    /// Windows between two delays that are kept, and since the last.
    stride: (u32, u32),
    /// Windows in which both sound, and those of them in which a delay was found.
    windows: [u64; 2],
}

struct Best {
    reading: Reading,
    end_secs: f64,
    cost_db: Option<f64>,
    trace: Vec<f32>,
    rank: Rank,
}

/// How much speaks for a reading: windows that agree, by their confidence and by how much the two share there, since a
/// delay goes on for a while in what two microphones hear of a room; then how well the drift is known.
#[derive(Clone, Copy, PartialEq)]
struct Rank {
    agreed: f64,
    drift_sigma_ppm: f64,
}

impl Rank {
    fn cmp(&self, other: &Self) -> Ordering {
        // Half a window more or less is no difference: the longer a drift was followed the better.
        (self.agreed * 0.5)
            .round()
            .total_cmp(&(other.agreed * 0.5).round())
            .then(other.drift_sigma_ppm.total_cmp(&self.drift_sigma_ppm))
    }
}

impl Default for Followed {
    fn default() -> Self {
        Self {
            track: Track::new(),
            best: None,
            refused: None,
            trace: Vec::new(),
            delays: Vec::new(),
            stride: (1, 0),
            windows: [0; 2],
        }
    }
}

impl Followed {
    /// Takes a window that ends at `end_secs`, which `correlator` has just compared; the two are the part `part` of all
    /// that is compared.
    pub(super) fn take(
        &mut self,
        window: &Window,
        correlator: &Correlator,
        end_secs: f64,
        hop_secs: f64,
        part: f64,
    ) {
        match window.outcome {
            // Silence tells nothing of a pair.
            Err(CannotTell::TooShort | CannotTell::TooQuiet) => return,
            Err(CannotTell::OneSilent) => {}
            outcome => {
                self.windows[0] += 1;
                self.windows[1] += u64::from(outcome.is_ok());
            }
        }
        if let Ok(found) = window.outcome {
            self.keep([(end_secs - plumbline_programme::pair::TRACK_STEP_SECS).max(0.0), found.delay_secs]);
        }
        self.track.push(end_secs, window);
        let reading = self.track.reading();
        let Ok(agreed) = reading.outcome else {
            if self.best.is_none() {
                self.refused = Some(reading);
                if window.peak.is_some() {
                    self.trace = correlator.correlation_trace(TRACE_POINTS);
                }
            }
            return;
        };
        // Windows that come more often count no more for it.
        let agreed_secs = f64::from(agreed.windows[0]) * hop_secs.max(0.25);
        let rank = Rank {
            agreed: agreed_secs * agreed.confidence * reading.coherence.unwrap_or(0.0),
            drift_sigma_ppm: agreed.drift.map_or(f64::INFINITY, |drift| drift.sigma_ppm),
        };
        // Of equals the later: it knows more.
        if self.best.as_ref().is_none_or(|best| rank.cmp(&best.rank).is_ge()) {
            let trace = match (&mut self.best, window.peak) {
                (Some(best), None) => std::mem::take(&mut best.trace),
                _ => correlator.correlation_trace(TRACE_POINTS),
            };
            let cost_db = reading.cost_db(part);
            self.best = Some(Best { reading, end_secs, cost_db, trace, rank });
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

    /// What a report says of the pair.
    pub(super) fn pair(&self, names: [String; 2], mics: [Mic; 2], rate: SampleRate) -> Pair {
        let nothing = || self.refused.unwrap_or_else(|| Track::new().reading());
        let best = self.best.as_ref();
        let line = PairLine {
            mics,
            reading: best.map_or_else(nothing, |best| best.reading),
            cost_db: best.and_then(|best| best.cost_db),
            rate_hz: rate.hz(),
            trace: best.map_or_else(|| self.trace.clone(), |best| best.trace.clone()),
            delays: Vec::new(),
            heard: None,
            quiet_secs: 0.0,
        };
        Pair {
            names,
            line,
            read_at_secs: best.map(|best| best.end_secs),
            delays: self.delays.clone(),
            windows: self.windows,
        }
    }
}
