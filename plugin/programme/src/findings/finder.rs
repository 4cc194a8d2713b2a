//! The engine that makes findings from tenths.

use super::between_layers::BetweenLayers;
use super::mono_loss::Loss;
use super::phase::Phase;
use super::signal_faults::SingleTenth;
use super::store::Store;
use super::wind::Wind;
use super::{Concerned, Finding, Kind, Rules};
use crate::balance::JointTenth;
use crate::delivery::Target;
use crate::joins::Join;
use crate::recording::Recording;
use crate::session::{BalanceTarget, LayerId, LossByLayer};
use plumbline_measure::bands::BandEdges;
use plumbline_measure::{Grid, Tenth};

/// Finds what is worth acting on, tenth by tenth.
///
/// # Shape
/// Takes tenths in the order in which they were heard, as an [`Analyzer`](plumbline_measure::Analyzer) gives them;
/// what the layers of a session did together, tenth by tenth, a little later; and joins whenever one changed.
///
/// # Definition
/// Peaks, clips, losses, dropouts and a missing channel are dated by their own tenths. Mono loss and wind are dated
/// by a cumulative sum of evidence (Page 1954). Out of step, an average over 2 s, is dated by the tenths at which its
/// thirds change most. Covered layers are dated by the middle of the 3 s that levels are taken over, balance by the
/// middle of 20 s.
/// Replaying a passage removes, tenth by tenth, what earlier passes found there.
///
/// # Accuracy
/// Start and end within 150 ms, out of step within 0.5 s (`tests/golden/findings.rs`, against the known faults of
/// the demo, and `tests/property/findings.rs`, in its own scene).
#[derive(Debug)]
pub struct Finder {
    store: Store,
    edges: BandEdges,
    last: Option<(Grid, i64)>,
    single_tenth: SingleTenth,
    phase: Phase,
    loss: Loss,
    wind: Wind,
    between: BetweenLayers,
}

impl Finder {
    /// A finder that has not heard anything.
    pub fn new(rules: Rules, target: &Target, edges: BandEdges) -> Self {
        Self {
            store: Store::new(rules, target.true_peak_dbtp),
            edges,
            last: None,
            single_tenth: SingleTenth::default(),
            phase: Phase::default(),
            loss: Loss::default(),
            wind: Wind::default(),
            between: BetweenLayers::default(),
        }
    }

    /// Sets the rules. Findings made under the former rules stay.
    pub fn set_rules(&mut self, rules: Rules) {
        self.store.rules = rules;
    }

    /// Sets the delivery target, whose ceiling applies to the true peak.
    pub fn set_target(&mut self, target: &Target) {
        self.store.ceiling_dbtp = target.true_peak_dbtp;
    }

    /// Sets how the sound was recorded: arrival-time differences up to its spacing make no finding.
    pub fn set_recording(&mut self, recording: &Recording) {
        self.store.spaced_secs = recording.spaced_secs();
    }

    /// Sets the edges of the named bands.
    pub fn set_edges(&mut self, edges: BandEdges) {
        self.edges = edges;
    }

    /// Takes a tenth.
    pub fn push(&mut self, tenth: &Tenth) {
        // The last index that an `i64` holds has no end.
        if tenth.index == i64::MAX {
            return;
        }
        let here = (tenth.grid, tenth.index);
        let continues =
            self.last.is_some_and(|(grid, index)| grid == here.0 && index.checked_add(1) == Some(here.1));
        // A tenth that a stop cut in two arrives twice. The second part is not examined.
        let again = self.last == Some(here);
        if !continues && !again {
            self.stop();
            self.store.turn();
        }
        self.store.grid = tenth.grid;
        self.store.replay(tenth.grid, tenth.index);
        self.last = Some(here);
        if again {
            return;
        }
        self.single_tenth.push(&mut self.store, tenth);
        self.phase.push(&mut self.store, tenth);
        self.loss.push(&mut self.store, tenth, &self.edges);
        self.wind.push(&mut self.store, tenth);
    }

    /// Takes what the layers did together in a tenth. `name` returns the name of a layer.
    pub fn among(&mut self, together: &JointTenth, target: &BalanceTarget, name: &dyn Fn(LayerId) -> String) {
        if together.index == i64::MAX {
            return;
        }
        let grid = self.store.grid;
        self.store.grid = together.grid;
        self.between.push(&mut self.store, together, target, name);
        self.store.grid = grid;
    }

    /// Begins a new passage, at a mark: balance is judged anew with the next tenth of [`Self::among`].
    pub fn begin_passage(&mut self) {
        self.between.begin_passage(&mut self.store);
    }

    /// Takes a join as it is known now.
    pub fn join(&mut self, join: &Join) {
        let rule = self.store.rules.get(Kind::Jump);
        let size = Some(join.size()).filter(|size| rule.on && *size >= rule.limit && join.at < i64::MAX);
        #[expect(clippy::cast_possible_truncation, reason = "a few seconds at most")]
        let tenths = join.takes_secs.map_or(1, |secs| ((secs * 10.0).ceil() as i64).clamp(1, 100));
        self.store.about_join(join.id, join.grid, join.at, tenths, size);
    }

    /// Removes the findings about joins that no longer exist.
    pub fn keep_joins(&mut self, joins: &[Join]) {
        self.store.forget_joins(|id| joins.iter().any(|join| join.id == id));
    }

    /// Notes which layers cause the mono loss now open. `name` returns the name of a layer.
    pub fn blame(&mut self, loss: &LossByLayer, name: &dyn Fn(LayerId) -> String) {
        let Some(first) = loss.left_out.first() else { return };
        let layers: Vec<Concerned> =
            first.layers.iter().map(|id| Concerned { id: *id, name: name(*id) }).collect();
        for kind in [Kind::MonoLoss, Kind::OutOfStep] {
            let meets = |f: &Finding| {
                f.span.is_none_or(|s| s.low_hz < loss.span.high_hz && s.high_hz > loss.span.low_hz)
            };
            if let Some(finding) = self.store.open(kind, meets)
                && finding.layers != layers
            {
                finding.layers.clone_from(&layers);
                self.store.changed = true;
            }
        }
    }

    /// Closes what is open, where the audio stops being contiguous.
    pub fn stop(&mut self) {
        self.single_tenth.stop(&mut self.store);
        self.phase.stop(&mut self.store);
        self.loss.stop(&mut self.store);
        self.wind.stop(&mut self.store);
        self.last = None;
    }

    /// Closes everything open, including findings about several layers. No more tenths follow.
    pub fn end(&mut self) {
        self.stop();
        self.between.stop(&mut self.store);
    }

    /// Discards all findings, on the user's reset. Faults that continue are found again.
    pub fn clear(&mut self) {
        self.end();
        self.store.clear();
        self.store.changed = true;
    }

    /// Marks a finding, by its number, as done or not.
    pub fn see(&mut self, id: u64, seen: bool) {
        self.store.see(id, seen);
    }

    /// All findings, sorted by start.
    pub fn findings(&self) -> Vec<Finding> {
        self.store.findings()
    }

    /// Findings dropped because there were too many.
    pub fn dropped(&self) -> u64 {
        self.store.dropped
    }

    /// Whether anything changed since the last call.
    pub fn take_changed(&mut self) -> bool {
        std::mem::take(&mut self.store.changed)
    }
}
