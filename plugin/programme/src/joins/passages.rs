//! Finds where one passage of a run ends and another begins, as the tenths arrive.

use super::candidates::{Candidate, Change, LEAST, LOOKED, candidate};
use super::cell::Cell;
use super::evidence::{AFTER, Known, evidence};
use super::levels::{LATE, Levels};
use std::collections::VecDeque;

/// Tenths from a boundary to its decision: those examined after it, a rival, and that rival's own neighbours.
const DECIDED: usize = RIVAL + 6 + LOOKED;
/// Shortest distance between two joins, tenths.
const APART: usize = 20;
/// Tenths after a boundary in which a rival with more evidence takes its place.
const RIVAL: usize = 16;
/// Tenths kept: those examined before a boundary, and those after it until it is decided.
const KEPT: usize = 121 + DECIDED + LATE + 1;

/// The passages of one run.
#[derive(Clone, Debug, Default)]
pub(super) struct Passages {
    levels: Levels,
    /// The changes at the latest boundaries, and the first of these boundaries.
    changes: VecDeque<Change>,
    first: usize,
    /// The next boundary to decide.
    next: usize,
    /// The latest join.
    latest: Option<usize>,
}

impl Passages {
    /// Starts a new run.
    pub(super) fn clear(&mut self) {
        self.levels.clear();
        self.changes.clear();
        (self.first, self.next, self.latest) = (0, 0, None);
    }

    /// Tenths of this run.
    pub(super) fn len(&self) -> usize {
        self.levels.len()
    }

    /// Takes the next tenth. Returns the boundary that is now decided, and whether it is a join.
    pub(super) fn push(&mut self, cell: &Cell) -> Option<(usize, bool)> {
        self.levels.push(cell, KEPT);
        // The latest tenths lack their lows.
        let end = self.len().checked_sub(LATE)?;
        self.add_change(end.checked_sub(LOOKED)?, end);
        let t = end.checked_sub(DECIDED).filter(|t| *t >= self.next)?;
        Some((t, self.decide(t, end)))
    }

    /// Ends the run: decides the boundaries for which there are enough tenths, and returns them, ascending.
    pub(super) fn end(&mut self) -> Vec<(usize, bool)> {
        let end = self.len();
        for t in self.first + self.changes.len()..(end + 1).saturating_sub(LEAST) {
            self.add_change(t, end);
        }
        let decided = self.next.max(LEAST)..(end + 1).saturating_sub(LEAST);
        decided.map(|t| (t, self.decide(t, end))).collect()
    }

    fn add_change(&mut self, t: usize, end: usize) {
        if self.changes.len() == KEPT {
            self.changes.pop_front();
            self.first += 1;
        }
        self.changes.push_back(Change::at(&self.levels, t, end).unwrap_or_default());
    }

    fn change(&self, t: usize) -> Change {
        t.checked_sub(self.first).and_then(|at| self.changes.get(at)).copied().unwrap_or_default()
    }

    fn candidate(&self, t: usize) -> Candidate {
        candidate(t, |t| self.change(t))
    }

    /// Whether the boundary `t` is a join.
    fn decide(&mut self, t: usize, end: usize) -> bool {
        self.next = t + 1;
        let own = self.candidate(t);
        if !own.is_any() || self.latest.is_some_and(|latest| t < latest + APART) {
            return false;
        }
        let known = Known {
            levels: &self.levels,
            begin: self.latest.unwrap_or(0),
            end: end.min(t + AFTER),
            change: |t| self.change(t),
        };
        let Some(least) = evidence(t, own, &known).filter(|evidence| *evidence > 0.0) else { return false };
        let beaten = (t + 1..=t + RIVAL).any(|rival| {
            let candidate = self.candidate(rival);
            candidate.is_any() && evidence(rival, candidate, &known).is_some_and(|evidence| evidence > least)
        });
        if !beaten {
            self.latest = Some(t);
        }
        !beaten
    }
}

#[cfg(test)]
mod tests;
