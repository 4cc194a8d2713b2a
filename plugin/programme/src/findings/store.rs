//! The list of findings: opened, followed and closed, and shortened when a passage is replayed.

use super::cusum::Step;
use super::rules::Rules;
use super::severity::set_severity;
use super::{Finding, Grade, Kind};
use crate::arrival::{Cause, SPACED_SECS};
use crate::log::MOST_ENTRIES;
use plumbline_measure::Grid;
use std::collections::VecDeque;

/// A finding, and the pass in which it was made.
#[derive(Debug)]
struct Entry {
    finding: Finding,
    pass: u64,
    /// The join that it concerns.
    join: Option<u64>,
}

/// All findings of one layer.
#[derive(Debug)]
pub(super) struct Store {
    pub(super) rules: Rules,
    pub(super) ceiling_dbtp: f64,
    pub(super) spaced_secs: f64,
    pub(super) grid: Grid,
    entries: VecDeque<Entry>,
    pass: u64,
    next: u64,
    pub(super) dropped: u64,
    pub(super) changed: bool,
}

/// Notes at each mono loss which finding causes it: one out of step for a known cause, in the same thirds, for at least
/// half of the loss. One cause raises one alarm.
fn name_causes(all: &mut [Finding]) {
    let caused = |loss: &Finding, cause: &Finding| {
        let known = matches!(cause.cause, Some(Cause::Inverted | Cause::Delayed { .. }));
        let both = loss.end.min(cause.end).saturating_sub(loss.start.max(cause.start));
        let meets = match (loss.span, cause.span) {
            (Some(a), Some(b)) => a.low_hz < b.high_hz && b.low_hz < a.high_hz,
            _ => true,
        };
        known
            && meets
            && loss.grid == cause.grid
            && both > 0
            && 2 * both >= loss.end.saturating_sub(loss.start)
    };
    let causes: Vec<Finding> = all.iter().filter(|f| f.kind == Kind::OutOfStep).cloned().collect();
    for loss in all.iter_mut().filter(|f| f.kind == Kind::MonoLoss) {
        loss.follows = causes.iter().find(|cause| caused(loss, cause)).map(|cause| cause.id);
    }
}

impl Store {
    pub(super) fn new(rules: Rules, ceiling_dbtp: f64) -> Self {
        Self {
            rules,
            ceiling_dbtp,
            spaced_secs: SPACED_SECS,
            grid: Grid::default(),
            entries: VecDeque::new(),
            pass: 0,
            next: 1,
            dropped: 0,
            changed: false,
        }
    }

    /// Notes that a new pass begins.
    pub(super) fn turn(&mut self) {
        self.pass += 1;
    }

    pub(super) fn clear(&mut self) {
        self.changed |= !self.entries.is_empty();
        self.entries.clear();
        self.dropped = 0;
    }

    /// All findings, sorted by start.
    pub(super) fn findings(&self) -> Vec<Finding> {
        let mut all: Vec<Finding> = self.entries.iter().map(|e| e.finding.clone()).collect();
        all.sort_by_key(|f| (f.grid, f.start, f.kind, f.id));
        name_causes(&mut all);
        all
    }

    pub(super) fn see(&mut self, id: u64, seen: bool) {
        if let Some(entry) = self.entries.iter_mut().find(|e| e.finding.id == id) {
            self.changed |= entry.finding.seen != seen;
            entry.finding.seen = seen;
        }
    }

    /// Applies a step to the open finding of a kind that has at most one.
    pub(super) fn follow(&mut self, kind: Kind, step: Step, tell: impl FnOnce(&mut Finding)) {
        self.follow_one(kind, |_| true, step, tell);
    }

    /// Applies a step to one of several open findings of a kind: the one for which `which` is true.
    pub(super) fn follow_one(
        &mut self,
        kind: Kind,
        which: impl Fn(&Finding) -> bool,
        step: Step,
        tell: impl FnOnce(&mut Finding),
    ) {
        if step == Step::Nothing || !self.rules.get(kind).on {
            // A rule switched off in the meantime leaves nothing open.
            if step != Step::Nothing {
                self.close(kind, which, None);
            }
            return;
        }
        match step {
            Step::Began { start, end } => {
                let mut finding = self.blank(kind, start, end);
                tell(&mut finding);
                self.put(finding, None);
            }
            Step::Goes { end } => {
                if let Some(finding) = self.open(kind, which) {
                    finding.end = end;
                    tell(finding);
                    set_severity(finding);
                    self.changed = true;
                }
            }
            Step::Ended { end } => {
                if let Some(finding) = self.open(kind, &which) {
                    tell(finding);
                    set_severity(finding);
                }
                self.close(kind, which, Some(end));
            }
            Step::Nothing => {}
        }
    }

    fn blank(&self, kind: Kind, start: i64, end: i64) -> Finding {
        Finding {
            id: self.next,
            kind,
            grid: self.grid,
            start,
            end,
            open: true,
            span: None,
            worst: 0.0,
            at: start,
            grade: Grade::Slight,
            cause: None,
            right: None,
            role: None,
            layers: Vec::new(),
            follows: None,
            seen: false,
        }
    }

    fn put(&mut self, mut finding: Finding, join: Option<u64>) {
        set_severity(&mut finding);
        self.next += 1;
        self.changed = true;
        self.entries.push_back(Entry { finding, pass: self.pass, join });
        if self.entries.len() > MOST_ENTRIES {
            self.entries.pop_front();
            self.dropped += 1;
        }
    }

    /// The open finding of a kind for which `which` is true.
    pub(super) fn open(&mut self, kind: Kind, which: impl Fn(&Finding) -> bool) -> Option<&mut Finding> {
        let open = |e: &&mut Entry| e.finding.open && e.finding.kind == kind && which(&e.finding);
        self.entries.iter_mut().rev().find(open).map(|e| &mut e.finding)
    }

    fn close(&mut self, kind: Kind, which: impl Fn(&Finding) -> bool, end: Option<i64>) {
        if let Some(finding) = self.open(kind, which) {
            finding.open = false;
            finding.end = end.unwrap_or(finding.end);
            // The end may be earlier than the worst tenth noted so far.
            finding.at = finding.at.clamp(finding.start, finding.end.saturating_sub(1).max(finding.start));
            self.changed = true;
        }
    }

    /// Adds, updates or removes the finding about a join. `size` is `None` if there is nothing to report.
    pub(super) fn about_join(&mut self, join: u64, grid: Grid, at: i64, tenths: i64, size: Option<f64>) {
        let known = self.entries.iter().position(|e| e.join == Some(join));
        match (known, size) {
            (Some(place), None) => {
                self.entries.remove(place);
                self.changed = true;
            }
            (Some(place), Some(size)) => {
                let entry = &mut self.entries[place];
                let end = at.saturating_add(tenths);
                let finding = &mut entry.finding;
                if (finding.start, finding.end, finding.worst) != (at, end, size) {
                    (finding.start, finding.end, finding.at, finding.worst) = (at, end, at, size);
                    set_severity(finding);
                    self.changed = true;
                }
            }
            (None, Some(size)) => {
                let finding = Finding {
                    grid,
                    open: false,
                    worst: size,
                    ..self.blank(Kind::Jump, at, at.saturating_add(tenths))
                };
                self.put(finding, Some(join));
            }
            (None, None) => {}
        }
    }

    /// Removes findings about joins that no longer exist. `stands` returns whether a join does.
    pub(super) fn forget_joins(&mut self, stands: impl Fn(u64) -> bool) {
        let before = self.entries.len();
        self.entries.retain(|e| e.join.is_none_or(&stands));
        self.changed |= self.entries.len() != before;
    }

    /// Removes from earlier findings a tenth that is now measured again.
    pub(super) fn replay(&mut self, grid: Grid, index: i64) {
        let pass = self.pass;
        let mut rest = Vec::new();
        let mut next = self.next;
        let mut changed = false;
        self.entries.retain_mut(|entry| {
            let finding = &mut entry.finding;
            let hit =
                entry.pass < pass && finding.grid == grid && finding.start <= index && index < finding.end;
            if !hit {
                return true;
            }
            changed = true;
            finding.open = false;
            let (start, end) = (finding.start, finding.end);
            if entry.join.is_some() || (start == index && end == index + 1) {
                return false;
            }
            if start == index {
                finding.start = index + 1;
            } else {
                finding.end = index;
                if index + 1 < end {
                    let after = Finding { id: next, start: index + 1, end, ..finding.clone() };
                    next += 1;
                    rest.push(Entry { finding: after, pass: entry.pass, join: None });
                }
            }
            finding.at = finding.at.clamp(finding.start, finding.end - 1);
            true
        });
        self.next = next;
        self.changed |= changed;
        for mut entry in rest {
            let finding = &mut entry.finding;
            finding.at = finding.at.clamp(finding.start, finding.end - 1);
            self.entries.push_back(entry);
        }
    }
}

#[cfg(test)]
mod tests;
