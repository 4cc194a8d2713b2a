//! Findings and joins of one layer, from its tenths and from what the layers do together.

use crate::balance::{JointTenth, Mark};
use crate::delivery::Target;
use crate::findings::{Finder, Finding, Rules};
use crate::joins::{Join, JoinDetector};
use crate::recording::Recording;
use crate::session::{BalanceTarget, LayerId, LossByLayer};
use plumbline_measure::{BandEdges, Grid, SampleRate, Tenth};
use std::ops::Range;

/// Tenths measured on either side of a mark.
const SIDE: i64 = 20;

/// The finder, the joins that it judges, and the marks at which joins are measured.
#[derive(Debug)]
pub struct Events {
    finder: Finder,
    detector: JoinDetector,
    marks: Vec<Mark>,
}

impl Default for Events {
    fn default() -> Self {
        Self::new(Rules::default(), &Target::default(), BandEdges::default())
    }
}

impl Events {
    /// No findings and no joins yet.
    pub fn new(rules: Rules, target: &Target, edges: BandEdges) -> Self {
        Self { finder: Finder::new(rules, target, edges), detector: JoinDetector::new(), marks: Vec::new() }
    }

    /// Sets rules, delivery target and band edges. Findings made under other rules stay.
    pub fn set(&mut self, rules: Rules, target: &Target, edges: BandEdges) {
        self.finder.set_rules(rules);
        self.finder.set_target(target);
        self.finder.set_edges(edges);
    }

    /// Sets how the sound was recorded, as stated. Earlier findings stay.
    pub fn set_recording(&mut self, recording: &Recording) {
        self.finder.set_recording(recording);
    }

    /// Sets the sample rate of the tenths to come, for positions in samples.
    pub fn set_rate(&mut self, rate: SampleRate) {
        self.detector.set_rate(rate);
    }

    /// Marks a finding, by its number, as done or not.
    pub fn set_done(&mut self, finding: u64, done: bool) {
        self.finder.see(finding, done);
    }

    /// Takes the next tenth.
    pub fn push(&mut self, tenth: &Tenth) {
        self.finder.push(tenth);
        self.detector.push(tenth);
    }

    /// Takes what the layers did together in a tenth. `marks` are ascending; balance is judged anew from each of them.
    pub fn push_together(
        &mut self,
        together: &JointTenth,
        (target, marks): (&BalanceTarget, &[Mark]),
        name: &dyn Fn(LayerId) -> String,
    ) {
        let here = Mark { grid: together.grid, index: together.index };
        if marks.binary_search(&here).is_ok() {
            self.finder.begin_passage();
        }
        self.finder.among(together, target, name);
        self.detector.set_shares(together.grid, together.index, together.energies);
    }

    /// Adds to the current mono loss which layers cause it.
    pub fn attribute_loss(&mut self, loss: &LossByLayer, name: &dyn Fn(LayerId) -> String) {
        self.finder.blame(loss, name);
    }

    /// Sets the marks, ascending. A mark that the detector cannot measure is measured from the tenths that `history`
    /// returns for a range.
    pub fn set_marks<'a, I: Iterator<Item = &'a Tenth>>(
        &mut self,
        marks: &[Mark],
        history: impl Fn(Grid, Range<i64>) -> I,
    ) {
        if self.marks == marks {
            return;
        }
        for mark in self.marks.iter().filter(|mark| marks.binary_search(mark).is_err()) {
            self.detector.unmark(*mark);
        }
        for mark in marks.iter().filter(|mark| self.marks.binary_search(mark).is_err()) {
            self.detector.mark(*mark);
            let here = |join: &&Join| (join.grid, join.at) == (mark.grid, mark.index);
            let measured = |join: &Join| join.before.tenths + join.after.tenths > 0;
            if !self.detector.joins().iter().find(here).is_some_and(measured) {
                let around = mark.index.saturating_sub(SIDE)..mark.index.saturating_add(SIDE);
                self.detector.measure_mark(*mark, history(mark.grid, around));
            }
        }
        self.marks = marks.to_vec();
    }

    /// Judges the joins that were added, removed or measured again. Returns whether findings or joins changed since
    /// the last call.
    pub fn settle(&mut self) -> bool {
        let joins_changed = self.detector.take_changed();
        if joins_changed {
            self.finder.keep_joins(self.detector.joins());
            self.detector.joins().iter().for_each(|join| self.finder.join(join));
        }
        self.finder.take_changed() || joins_changed
    }

    /// Closes the findings still open; no more tenths follow.
    pub fn end(&mut self) {
        self.detector.end();
        self.finder.end();
        self.settle();
    }

    /// Clears findings and joins, on the user's reset.
    pub fn clear(&mut self) {
        self.finder.clear();
        self.detector.clear();
    }

    /// Findings, sorted by start.
    pub fn findings(&self) -> Vec<Finding> {
        self.finder.findings()
    }

    /// Joins, sorted by time.
    pub fn joins(&self) -> &[Join] {
        self.detector.joins()
    }

    /// Findings and joins dropped because there were too many; the oldest are dropped first.
    pub fn dropped(&self) -> u64 {
        self.finder.dropped() + self.detector.dropped()
    }
}
