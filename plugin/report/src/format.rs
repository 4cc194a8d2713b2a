//! The JSON formats as plain data: [`Session`] of the plug-in's export, [`Survey`] and [`Mics`] of the command. They
//! share names, units and types; every number is finite, absent readings are null.
//!
//! `docs/formats.md` and `docs/schema` are generated from these types: a field's comment gives its meaning, its unit,
//! and when it is null. `UPDATE_SNAPSHOTS=1 cargo test -p plumbline-tests --test golden schema` renews them.

mod log;
mod reference;
mod sound;

pub use log::{Change, Finding, Join, Passage, Rule, Side};
pub use reference::{LayerRef, Moment};
pub use sound::{
    Band, Bus, File, Layer, Loudness, Match, Measured, MonoLoss, Pair, PairStretch, Reading, RecordedAs,
    RoleShare, Sound, Without,
};

use plumbline_measure::bands::BANDS;
#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// `format` of the plug-in's export.
pub const SESSION: &str = "plumbline-session";
/// `format` of a survey.
pub const SURVEY: &str = "plumbline-survey";
/// `format` of a comparison of microphones.
pub const MICS: &str = "plumbline-mics";
/// `version` of all three.
pub const VERSION: u32 = 2;

/// The log of one layer, as the plug-in exports it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Session {
    /// Name of the format.
    #[cfg_attr(feature = "schema", schemars(extend("const" = SESSION)))]
    pub format: String,
    /// Version of the format.
    #[cfg_attr(feature = "schema", schemars(extend("const" = VERSION)))]
    pub version: u32,
    /// Local date and time of the export.
    pub date: String,
    /// Name of the layer; may be empty.
    pub layer: String,
    /// Role of the layer: Natural, Foley, Design, Voice, Music or Mix.
    pub role: String,
    /// Sample rate and timecode.
    pub programme: Programme,
    /// Delivery target.
    pub target: Target,
    /// Limits of findings.
    pub rules: Vec<Rule>,
    /// Edges of the six named bands, Hz.
    pub band_edges_hz: [f64; BANDS + 1],
    /// Findings, by start.
    pub findings: Vec<Finding>,
    /// Joins, by time.
    pub joins: Vec<Join>,
    /// Oldest findings and joins dropped because there were more than 2,000.
    pub dropped: u64,
    /// Marks, by time.
    pub marks: Vec<Moment>,
    /// Statistics: everything since reset, then the passages between marks.
    pub passages: Vec<Passage>,
}

/// The results of a survey of a mix and stems.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Survey {
    /// Name of the format.
    #[cfg_attr(feature = "schema", schemars(extend("const" = SURVEY)))]
    pub format: String,
    /// Version of the format.
    #[cfg_attr(feature = "schema", schemars(extend("const" = VERSION)))]
    pub version: u32,
    /// Version of the program.
    pub plumbline_version: String,
    /// Local date and time of the survey; null if not given.
    pub date: Option<String>,
    /// Length, sample rate and timecode.
    pub programme: Programme,
    /// Delivery target.
    pub target: Target,
    /// Shares aimed at; a role without an aim is left out.
    pub aims: Vec<Aim>,
    /// Limits of findings.
    pub rules: Vec<Rule>,
    /// Edges of the six named bands, Hz.
    pub band_edges_hz: [f64; BANDS + 1],
    /// Verdicts in words.
    pub verdicts: Vec<Verdict>,
    /// The mix, or the sum of the layers.
    pub bus: Bus,
    /// Layers, in the order given.
    pub layers: Vec<Layer>,
    /// Roles that have a layer.
    pub roles: Vec<RoleShare>,
    /// Mix level against the sum of its layers, dB, positive when the mix holds more; null without mix or layers, in
    /// silence, or if infinite.
    pub unaccounted_db: Option<f64>,
    /// The same as a sentence; null under 1 dB.
    pub unaccounted_words: Option<String>,
    /// Each Foley layer against the loudest natural one; pairs that sound together for less than a second are left out.
    #[serde(rename = "match")]
    pub matches: Vec<Match>,
    /// Pairs of microphones, and left with right of the bus, the costliest first.
    pub pairs: Vec<Pair>,
    /// Microphones not compared: eight are.
    pub pairs_uncompared: u32,
    /// Layers that cause a mono loss, from the worst 2 s of each band that loses.
    pub mono_losses: Vec<MonoLoss>,
    /// Findings, by start.
    pub findings: Vec<Finding>,
    /// Joins, by time.
    pub joins: Vec<Join>,
    /// Oldest findings and joins dropped because there were more than 2,000.
    pub dropped: u64,
    /// Statistics of the whole programme, one entry, summed over 0.1 s blocks; `bus` sums analysis frames, so the third
    /// decimal may differ.
    pub passages: Vec<Passage>,
}

/// Microphones compared in pairs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Mics {
    /// Name of the format.
    #[cfg_attr(feature = "schema", schemars(extend("const" = MICS)))]
    pub format: String,
    /// Version of the format.
    #[cfg_attr(feature = "schema", schemars(extend("const" = VERSION)))]
    pub version: u32,
    /// Length, sample rate and timecode.
    pub programme: Programme,
    /// Air temperature for distances, °C.
    pub celsius: f64,
    /// Pairs, the costliest first.
    pub pairs: Vec<Pair>,
    /// Microphones not compared: eight are.
    pub pairs_uncompared: u32,
}

/// Length, sample rate and timecode.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Programme {
    /// Length, s; null in a session.
    pub seconds: Option<f64>,
    /// Length, samples; null in a session.
    pub samples: Option<u64>,
    /// Sample rate, Hz.
    pub sample_rate_hz: u32,
    /// Label of the first sample.
    pub start_timecode: String,
    /// Label of the sample after the last; null in a session.
    pub end_timecode: Option<String>,
    /// Frame rate of the timecode.
    pub frame_rate: FrameRate,
}

/// A frame rate.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct FrameRate {
    /// Name on the screen, fps: "29.97 drop".
    pub name: String,
    /// Frames per second: this …
    pub numerator: u32,
    /// … over this.
    pub denominator: u32,
    /// Whether labels are dropped (SMPTE ST 12-1).
    pub drop: bool,
}

/// A delivery target.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Target {
    /// Name of the target; null if not given, and in a session.
    pub name: Option<String>,
    /// Integrated loudness, LUFS.
    pub integrated_lufs: f64,
    /// Tolerance above, LU.
    pub above_lu: f64,
    /// Tolerance below, LU.
    pub below_lu: f64,
    /// Highest true peak, dBTP.
    pub true_peak_dbtp: f64,
    /// Highest short-term loudness, LUFS; null if the target names none.
    pub max_short_term_lufs: Option<f64>,
}

/// A target share.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Aim {
    /// Role.
    pub role: String,
    /// Share, %.
    pub share_percent: f64,
    /// Tolerance either way, percentage points.
    pub tolerance_percent: f64,
}

/// A verdict in words.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Verdict {
    /// Subject; `balance` needs layers, `match` needs a match.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["width", "mono", "mics", "balance", "match", "joins", "delivery"])))]
    pub on: String,
    /// State; `note` is worth knowing, `fault` is to be acted on.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["fine", "note", "fault", "unknown"])))]
    pub state: String,
    /// One or two words.
    pub head: String,
    /// The number behind them, with its unit; may be empty.
    pub figure: String,
    /// One or two sentences.
    pub sentence: String,
}
