//! One pair, followed from window to window.

use plumbline_measure::Position;
use plumbline_programme::mics::TRACE_POINTS;
use plumbline_programme::pair::{CannotTell, Correlator, Reading, Track, Window};
use plumbline_programme::{Mic, PairLine};

/// Windows behind a silence after which the pair is judged anew: as many as must agree.
const ANEW: u32 = 3;

/// Windows after which a pair is known: all that vote are of one kind then.
const KNOWN: u32 = 40;

/// A pair with its past.
pub(super) struct Followed {
    pub(super) mics: [Mic; 2],
    track: Track,
    trace: Vec<f32>,
    heard: Option<Position>,
    quiet_secs: f64,
    /// Time that runs on over jumps.
    at_secs: f64,
    /// Windows since the pair was met, or may have changed.
    windows: u32,
    /// What the pair reads: the newest, or what was known before a silence.
    reading: Reading,
    /// What was known before a silence, and the windows since.
    kept: Option<(Reading, u32)>,
}

impl Followed {
    pub(super) fn new(mics: [Mic; 2]) -> Self {
        Self {
            mics,
            reading: Track::new().reading(),
            track: Track::new(),
            trace: Vec::new(),
            heard: None,
            quiet_secs: 0.0,
            at_secs: 0.0,
            windows: 0,
            kept: None,
        }
    }

    /// What comes may differ from what came.
    pub(super) fn seam(&mut self) {
        self.windows = 0;
        self.track.seam();
    }

    /// Takes a window that ends at `end`, `later_secs` behind the one before; `correlator` has just compared it.
    pub(super) fn take(&mut self, window: &Window, correlator: &Correlator, end: Position, later_secs: f64) {
        self.at_secs += later_secs;
        self.windows = self.windows.saturating_add(1);
        match window.outcome {
            Err(CannotTell::TooShort) => return,
            // Silence tells nothing of the pair: what is known of it stays, and grows old.
            Err(CannotTell::TooQuiet) if self.heard.is_some() => {
                self.quiet_secs += later_secs;
                self.kept = self.reading.outcome.is_ok().then_some((self.reading, 0));
                return;
            }
            Err(CannotTell::TooQuiet) => {}
            _ => {
                self.quiet_secs = 0.0;
                self.heard = Some(end);
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
        let newest = self.track.reading();
        self.reading = match &self.kept {
            Some((kept, _)) if newest.outcome.is_err() => *kept,
            _ => newest,
        };
    }

    /// Whether it has been heard for long enough that looking half as often will do.
    pub(super) fn is_known(&self) -> bool {
        self.windows >= KNOWN
    }

    /// The line of the pair, where its two are the part `part` of all that is compared.
    pub(super) fn line(&self, rate_hz: u32, part: f64) -> PairLine {
        let reading = self.reading;
        // The track dates a window by its middle, 1 s before its end.
        let newest = self.track.delays().last().map_or(0.0, |(at, _)| at);
        PairLine {
            mics: self.mics,
            reading,
            cost_db: reading.cost_db(part),
            rate_hz,
            trace: self.trace.clone(),
            delays: self.track.delays().map(|(at, delay)| [at - newest, delay]).collect(),
            heard: self.heard,
            quiet_secs: self.quiet_secs,
        }
    }
}
