//! The pairs of microphones of a layer that is looked at.
//!
//! The channels of the own bus, and the bus with its side-chain, are compared as their audio comes, so that no window
//! is missed however quickly it comes. Layers of the session are compared in their audio on the board, a few steps a
//! round, so that no layer waits long for its worker.

mod among;
mod choice;
mod follow;
mod own;

use super::Seat;
use crate::board::Board;
use crate::chunk::Chunk;
use crate::guard::guarded;
use crate::link::Lane;
use crate::measure::Measure;
use among::Among;
use own::Own;
use plumbline_measure::Position;
use plumbline_programme::pair::Correlator;
use plumbline_programme::{LayerId, Mic, Mics, PairLine, Session, Trial, View};
use std::sync::Arc;
use std::time::Duration;

/// Who compares, with whom, and what is wanted of it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wanted<'a> {
    pub(super) own: LayerId,
    pub(super) letter: char,
    /// The pair that is compared in any case.
    pub(super) pinned: Option<[Mic; 2]>,
    /// The newest session, for who is loud.
    pub(super) session: &'a Session,
    /// The time of the round.
    pub(super) now: Duration,
}

/// All pairs of one layer at one format.
pub(super) struct Microphones {
    lane: Lane,
    correlator: Correlator,
    own: Own,
    among: Among,
    trial: Option<Trial>,
    pub(super) newest: Arc<Mics>,
}

impl Microphones {
    pub(super) fn new(lane: Lane) -> Self {
        let correlator = Correlator::new(lane.rate);
        Self {
            own: Own::new(lane, correlator.window_samples()),
            among: Among::new(lane.rate, correlator.window_samples()),
            correlator,
            lane,
            trial: None,
            newest: Arc::default(),
        }
    }

    /// Whether it was made for a format.
    pub(super) fn fits(&self, lane: Lane) -> bool {
        let of = |l: Lane| (l.rate, l.channels, l.side_channels);
        of(self.lane) == of(lane)
    }

    /// The user's reset.
    pub(super) fn clear(&mut self) {
        self.own.clear();
        self.among.clear();
        self.publish();
    }

    /// Takes audio of the main bus, `at` being its first frame. Returns whether there is anything new to show.
    pub(super) fn hear(&mut self, at: Position, main: &[&[f32]], trial: Option<Trial>) -> bool {
        if trial != self.trial {
            // What comes differs from what came.
            self.trial = trial;
            self.own.part();
        }
        let new = self.own.hear(&mut self.correlator, at, main);
        if new {
            self.publish();
        }
        new
    }

    /// Takes the side-chain's audio of the same frames, right behind that of the main bus.
    pub(super) fn hear_side(&mut self, chunk: &Chunk) {
        let [left, right] = &chunk.samples;
        let both = [&left[..chunk.len()], &right[..chunk.len()]];
        self.own.hear_side(&both[..usize::from(self.lane.side_channels).min(2)]);
    }

    /// Goes on with the layers of the session. Returns whether there is anything new to show.
    pub(super) fn step(&mut self, board: &Board, wanted: &Wanted<'_>) -> bool {
        let new = self.among.step(&mut self.correlator, board, wanted);
        if new {
            self.publish();
        }
        new
    }

    /// Whether windows wait that can be compared already.
    pub(super) fn is_busy(&self) -> bool {
        self.among.is_busy()
    }

    fn publish(&mut self) {
        let rate_hz = self.lane.rate.hz();
        let mut lines: Vec<PairLine> = self.own.lines(rate_hz).chain(self.among.lines(rate_hz)).collect();
        lines.sort_by(|a, b| a.rank().total_cmp(&b.rank()));
        self.newest = Arc::new(Mics { lines, uncompared: self.among.uncompared(), trouble: None });
    }
}

impl<M: Measure> Seat<M> {
    /// Takes audio of the main bus for the pairs, while somebody looks.
    pub(super) fn hear_pairs(&mut self, at: Position, main: &[&[f32]]) {
        let Some(lane) = self.lane.filter(|_| self.watched && self.mics_broken.is_none()) else { return };
        let trial = self.trial();
        let mics = match &mut self.mics {
            Some(mics) if mics.fits(lane) => mics,
            other => other.insert(Box::new(Microphones::new(lane))),
        };
        match guarded(|| mics.hear(at, main, trial)) {
            Ok(new) => self.stale |= new,
            Err(words) => self.fail_pairs(&words),
        }
    }

    /// Takes audio of the side-chain for the pairs.
    pub(super) fn hear_side(&mut self, chunk: &Chunk) {
        if let Some(mics) = &mut self.mics
            && let Err(words) = guarded(|| mics.hear_side(chunk))
        {
            self.fail_pairs(&words);
        }
    }

    /// Goes on with the pairs of the session. Returns whether there is more to do.
    pub(super) fn compare(&mut self, now: Duration, board: &Board) -> bool {
        if !self.watched {
            self.mics = None;
        }
        let Some(mics) = &mut self.mics else { return false };
        let wanted = Wanted {
            own: self.company.stand.id(),
            letter: self.company.letter,
            pinned: self.company.mics,
            session: &self.company.session,
            now,
        };
        match guarded(|| mics.step(board, &wanted)) {
            Ok(new) => self.stale |= new,
            Err(words) => self.fail_pairs(&words),
        }
        self.compares()
    }

    /// Whether windows wait that can be compared already.
    pub(super) fn compares(&self) -> bool {
        self.mics.as_ref().is_some_and(|mics| mics.is_busy())
    }

    /// The user's reset.
    pub(super) fn forget_pairs(&mut self) {
        self.mics_broken = None;
        if let Some(mics) = &mut self.mics {
            mics.clear();
        }
    }

    pub(super) fn show_pairs(&self, view: &mut View) {
        match (&self.mics, &self.mics_broken) {
            (Some(mics), _) => view.mics = Arc::clone(&mics.newest),
            (None, Some(words)) => {
                view.mics = Arc::new(Mics { trouble: Some(words.clone()), ..Mics::default() })
            }
            (None, None) => {}
        }
        view.verdicts.mics = view.mics.verdict();
    }

    fn fail_pairs(&mut self, words: &str) {
        self.mics = None;
        self.stale = true;
        self.mics_broken =
            Some(format!("comparing microphones failed inside ({words}). Reset starts it again"));
    }
}

#[cfg(test)]
pub(super) mod tests;
