//! Findings and transitions of one layer, from its tenths and from what the layers do together.

use crate::balance::{JointTenth, Mark};
use crate::delivery::Target;
use crate::findings::{Finder, Finding, Rules};
use crate::joins::{Join, JoinDetector};
use crate::session::{BalanceTarget, LayerId, LossByLayer};
use plumbline_measure::{BandEdges, Grid, SampleRate, Tenth};
use std::ops::Range;

/// Tenths on either side of a mark that are measured.
const SIDE: i64 = 20;

/// The finder, the transitions that it judges, and the marks at which transitions are measured.
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
    /// Nothing found yet.
    pub fn new(rules: Rules, target: &Target, edges: BandEdges) -> Self {
        Self { finder: Finder::new(rules, target, edges), detector: JoinDetector::new(), marks: Vec::new() }
    }

    /// Sets rules, delivery target and band edges. Findings made under other rules stay.
    pub fn set(&mut self, rules: Rules, target: &Target, edges: BandEdges) {
        self.finder.set_rules(rules);
        self.finder.set_target(target);
        self.finder.set_edges(edges);
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

    /// Takes what the layers did together in a tenth.
    pub fn push_together(
        &mut self,
        together: &JointTenth,
        target: &BalanceTarget,
        name: &dyn Fn(LayerId) -> String,
    ) {
        self.finder.among(together, target, name);
        self.detector.set_shares(together.grid, together.index, together.energies);
    }

    /// Says which layers cause the mono loss that goes on.
    pub fn attribute_loss(&mut self, loss: &LossByLayer, name: &dyn Fn(LayerId) -> String) {
        self.finder.blame(loss, name);
    }

    /// Sets the marks, ascending. Those far back are measured from the tenths that `history` gives of a range.
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

    /// Judges the transitions that came, went or were measured anew. Returns whether findings or transitions changed since
    /// the last call.
    pub fn settle(&mut self) -> bool {
        let joins_changed = self.detector.take_changed();
        if joins_changed {
            self.finder.keep_joins(self.detector.joins());
            self.detector.joins().iter().for_each(|join| self.finder.join(join));
        }
        self.finder.take_changed() || joins_changed
    }

    /// Ends what still goes on: no tenth is to come.
    pub fn end(&mut self) {
        self.finder.end();
        self.settle();
    }

    /// The user's reset.
    pub fn clear(&mut self) {
        self.finder.clear();
        self.detector.clear();
    }

    /// Findings, by start.
    pub fn findings(&self) -> Vec<Finding> {
        self.finder.findings()
    }

    /// Transitions, by time.
    pub fn joins(&self) -> &[Join] {
        self.detector.joins()
    }

    /// Findings and transitions that were dropped because there were too many: the oldest first.
    pub fn dropped(&self) -> u64 {
        self.finder.dropped() + self.detector.dropped()
    }
}
