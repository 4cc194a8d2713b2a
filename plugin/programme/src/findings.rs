//! Findings: what is worth acting on, with start and end, frequency range, severity, and the layers concerned.
//!
//! Plain data and the table of rules. [`Finder`] makes findings from tenths; `plumbline_report` puts them into words.

mod between_layers;
mod change_point;
mod cusum;
mod finder;
mod mono_loss;
mod off_balance;
mod phase;
mod rules;
mod severity;
mod signal_faults;
mod store;
mod wind;

pub use finder::Finder;
pub(crate) use phase::thirds_of;
pub use rules::{Rule, Rules};

use crate::arrival::Cause;
use crate::role::Role;
use crate::session::LayerId;
use plumbline_measure::Grid;
use plumbline_measure::bands::Span;
use serde::{Deserialize, Serialize};

/// Number of kinds.
pub const KINDS: usize = 11;

/// What a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// One sound in both channels that does not add up in phase. Limit and worst: out of step, 0…1.
    OutOfStep,
    /// Mono loses sound. Limit and worst: loss in dB, positive; infinite when everything cancels. The limit is that
    /// of the whole range; a single band must lose 2.5 dB more.
    MonoLoss,
    /// One channel is silent or far under the other. Limit and worst: level difference in dB, positive; infinite when
    /// one channel is digital silence.
    OneSided,
    /// True peak over the ceiling of the delivery target. Limit: dB allowed over it; worst: dBTP.
    TruePeak,
    /// Samples at or over full scale in flat tops. Limit: samples allowed in a tenth; worst: total samples.
    Clipped,
    /// Digital silence within sound. Limit: shortest length that counts, ms; worst: length in ms.
    Dropout,
    /// Wind: strong, unrelated low frequencies. Limit and worst: lows over the rest, dB.
    Wind,
    /// The balance of the roles is off its target. Limit: percentage points allowed beyond the tolerance; worst:
    /// percentage points off the aim, positive is too much.
    Balance,
    /// The others cover a layer in every third in which it has energy. Limit and worst: the others over it, dB.
    Covered,
    /// Something jumps at a join. Limit and worst: size of the jump, [`crate::joins::Join::size`].
    Jump,
    /// Audio did not reach the analyser. Limit: samples allowed in a tenth; worst: total samples lost.
    Gap,
}

impl Kind {
    /// All kinds, in the order of the table of rules.
    pub const ALL: [Self; KINDS] = [
        Self::OutOfStep,
        Self::MonoLoss,
        Self::OneSided,
        Self::TruePeak,
        Self::Clipped,
        Self::Dropout,
        Self::Wind,
        Self::Balance,
        Self::Covered,
        Self::Jump,
        Self::Gap,
    ];

    /// Index in [`Self::ALL`].
    pub fn place(self) -> usize {
        self as usize
    }

    /// Unit of [`Finding::worst`]; empty for a number without one.
    pub fn unit(self) -> &'static str {
        match self {
            Self::OutOfStep | Self::Jump => "",
            Self::MonoLoss | Self::OneSided | Self::Wind | Self::Covered => "dB",
            Self::TruePeak => "dBTP",
            Self::Clipped | Self::Gap => "samples",
            Self::Dropout => "ms",
            Self::Balance => "points",
        }
    }
}

/// Severity of a finding.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// Just over the limit.
    #[default]
    Slight,
    /// Clearly audible, or clearly visible in the readings.
    Clear,
    /// Sound is lost, or delivery fails.
    Grave,
}

/// A layer that a finding concerns. Its name is kept because the layer may be gone when the log is read.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Concerned {
    /// Which layer.
    pub id: LayerId,
    /// Its name at the time.
    pub name: String,
}

/// One finding: something worth acting on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// Number in this log, counting up.
    pub id: u64,
    /// What it is about.
    pub kind: Kind,
    /// Which clock the tenths count on.
    pub grid: Grid,
    /// First tenth.
    pub start: i64,
    /// Tenth after the last.
    pub end: i64,
    /// Whether it is still going on; `end` then follows the latest tenth.
    pub open: bool,
    /// Frequency range; absent for the whole range.
    pub span: Option<Span>,
    /// Worst value, in [`Kind::unit`]; may be +∞ for the kinds that say so.
    pub worst: f64,
    /// The tenth of the worst value.
    pub at: i64,
    /// Severity.
    pub grade: Grade,
    /// Why left and right are out of step; absent for other kinds.
    pub cause: Option<Cause>,
    /// The channel, for kinds that concern one: `Some(true)` for right.
    pub right: Option<bool>,
    /// The role that is off its aim.
    pub role: Option<Role>,
    /// The layers concerned: the covered one first, then the one that covers it; or those that cause the loss.
    pub layers: Vec<Concerned>,
    /// Number of the finding that causes this one; repair that one instead.
    pub follows: Option<u64>,
    /// Whether the user marked it as done.
    pub seen: bool,
}

impl Finding {
    /// Length in seconds.
    pub fn secs(&self) -> f64 {
        self.end.saturating_sub(self.start) as f64 / 10.0
    }

    /// Whether a tenth is within it.
    pub fn holds(&self, grid: Grid, index: i64) -> bool {
        self.grid == grid && (self.start..self.end.max(self.start + 1)).contains(&index)
    }
}
