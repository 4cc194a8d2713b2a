//! Findings: what is worth acting on, with start and end, where in frequency, how bad, and whose.
//!
//! Plain data and the table of rules; `findings::Finder` fills it from tenths. Words belong to the report.

mod between_layers;
mod change_point;
mod cusum;
mod finder;
mod loss;
mod phase;
mod rules;
mod single_tenth;
mod store;
mod wind;

pub use finder::Finder;
pub(crate) use phase::thirds_of;
pub use rules::{Rule, Rules};

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
    /// Mono loses sound. Limit and worst: dB of loss, positive; infinite when all of it cancels.
    MonoLoss,
    /// One channel is silent or far under the other. Limit and worst: dB between them, positive; infinite when one is
    /// digital silence.
    OneSided,
    /// True peak over the ceiling of the delivery target. Limit: dB over it that are let pass; worst: dBTP.
    TruePeak,
    /// Samples at or over full scale. Limit: how many in a tenth are let pass; worst: samples.
    Clipped,
    /// Digital silence inside sound. Limit: the least length that counts, ms; worst: ms.
    Dropout,
    /// Wind: lows high over the rest, and unrelated. Limit and worst: dB of the lows over the rest.
    Wind,
    /// The balance of the roles is off its target. Limit: how much of the tolerance is let pass on top, percentage
    /// points; worst: percentage points off the aim, positive is too much.
    Balance,
    /// A layer is covered by the others in every third in which it lives. Limit and worst: dB of the others over it.
    Covered,
    /// Something jumps at a join. Limit and worst: the size of the jump, [`crate::joins::Join::size`].
    Jump,
    /// Audio did not reach the analyser. Limit: samples let pass; worst: samples lost.
    Gap,
}

impl Kind {
    /// All, in the order of the table of rules.
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

    /// Place in [`Self::ALL`].
    pub fn place(self) -> usize {
        self as usize
    }

    /// Unit of [`Finding::worst`]; empty for a share of one.
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

/// How bad.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Grade {
    /// Just past the rule.
    #[default]
    Slight,
    /// Plain to hear or to see for whoever looks.
    Clear,
    /// Sound is lost, or delivery fails.
    Grave,
}

/// A layer that a finding concerns. The name is kept: a layer may have gone when the log is read.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Concerned {
    /// Which.
    pub id: LayerId,
    /// The name it had.
    pub name: String,
}

/// Something worth acting on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// Its number in this log, counting up.
    pub id: u64,
    /// What it is about.
    pub kind: Kind,
    /// Which clock the tenths count on.
    pub grid: Grid,
    /// The first tenth.
    pub start: i64,
    /// The tenth after the last.
    pub end: i64,
    /// Whether it still goes on: `end` is then the newest tenth known.
    pub open: bool,
    /// Where in frequency; absent for the whole range.
    pub span: Option<Span>,
    /// The worst value, in [`Kind::unit`]; may be +∞ where a kind says so.
    pub worst: f64,
    /// The tenth of the worst value.
    pub at: i64,
    /// How bad.
    pub grade: Grade,
    /// Whether the channels oppose each other throughout: a flipped polarity rather than a delay.
    pub opposed: bool,
    /// Which channel: `Some(true)` is the right one, of a kind that concerns one.
    pub right: Option<bool>,
    /// Which role is off its aim.
    pub role: Option<Role>,
    /// Which layers: the covered one first, then who covers it; who loses the sound.
    pub layers: Vec<Concerned>,
    /// Whether the user has seen to it.
    pub seen: bool,
}

impl Finding {
    /// Length in seconds.
    pub fn secs(&self) -> f64 {
        self.end.saturating_sub(self.start) as f64 / 10.0
    }

    /// Whether a tenth lies in it.
    pub fn holds(&self, grid: Grid, index: i64) -> bool {
        self.grid == grid && (self.start..self.end.max(self.start + 1)).contains(&index)
    }
}
