//! Findings, joins and statistics.

use super::reference::{LayerRef, Moment};
use super::sound::Measured;
use plumbline_measure::bands::THIRDS;
use plumbline_programme::PARTS;
#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The limit of one kind of finding.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Rule {
    /// Kind of finding.
    pub kind: String,
    /// Whether it is looked for.
    pub on: bool,
    /// Limit, in `unit`.
    pub limit: f64,
    /// Unit of the limit; empty for a plain number.
    pub unit: String,
    /// Least length, s.
    pub seconds: f64,
}

/// A finding.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Finding {
    /// Number in this log, counting up.
    pub number: u64,
    /// Kind.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = plumbline_programme::Kind::ALL.map(|kind| kind.key()))))]
    pub kind: String,
    /// Kind in words.
    pub name: String,
    /// Severity.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["slight", "clear", "grave"])))]
    pub severity: String,
    /// Start, on a 0.1 s block.
    pub start: Moment,
    /// End, on a 0.1 s block.
    pub end: Moment,
    /// Length, s.
    pub seconds: f64,
    /// Whether it was still open at the time of the export; false in a survey.
    pub open: bool,
    /// Lower edge in frequency, Hz; null for the whole range.
    pub low_hz: Option<f64>,
    /// Upper edge in frequency, Hz; null for the whole range.
    pub high_hz: Option<f64>,
    /// Worst value, in `unit`; null if infinite.
    pub worst: Option<f64>,
    /// `dB`, `dBTP`, `samples`, `ms`, `points` (percentage points off an aim, negative is too little), or empty: out of
    /// step 0…1, a jump in sizes of a join.
    pub unit: String,
    /// Worst value in words: "all of it" or "digital silence" if infinite.
    pub words: String,
    /// Moment of the worst value.
    pub worst_at: Moment,
    /// Whether the channels oppose each other: one polarity is inverted.
    pub opposed: bool,
    /// Why left and right are out of step; null for other kinds. A delay and an inverted channel are repaired; what is
    /// unexplained, or inverted in part of the range, only shows in mono.
    #[cfg_attr(
        feature = "schema",
        schemars(extend("enum" = ["inverted", "opposed", "inverted_in_part", "delayed", "unexplained", null]))
    )]
    pub cause: Option<String>,
    /// Channel; null if it concerns both.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["left", "right", null])))]
    pub channel: Option<String>,
    /// Number of the finding that causes this one; null if it has a cause of its own.
    pub follows: Option<u64>,
    /// Role off its aim; null for other kinds.
    pub role: Option<String>,
    /// Layers it concerns; the covered one first, then those that cover it.
    pub layers: Vec<LayerRef>,
    /// Layers, role and channel in words; may be empty.
    pub owner: String,
    /// Advice, one sentence.
    pub advice: String,
    /// Whether the user marked it as done; never in a survey.
    pub done: bool,
}

/// One side of a join: up to 2 s.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Side {
    /// Length heard, s.
    pub seconds: f64,
    /// K-weighted loudness, LUFS; null in silence.
    pub loudness_lufs: Option<f64>,
    /// Spectral tilt, dB/octave; null in silence.
    pub tone_db_per_octave: Option<f64>,
    /// Width (side share), %; null in silence.
    pub width_percent: Option<f64>,
    /// Shares of Natural, Foley, Design, Voice, Music, %; null in silence or without layers.
    pub shares_percent: [Option<f64>; PARTS],
    /// Levels of the 31 thirds from 20 Hz to 20 kHz, dBFS; null under the gate.
    pub thirds_dbfs: [Option<f64>; THIRDS],
}

/// What changes at a join: after minus before.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Change {
    /// Loudness, LU; null if a side has no reading.
    pub loudness_lu: Option<f64>,
    /// Spectral tilt, dB/octave, positive is brighter; null if a side has no reading.
    pub tone_db_per_octave: Option<f64>,
    /// Width, percentage points; null if a side has no reading.
    pub width_percent: Option<f64>,
    /// Shares of Natural, Foley, Design, Voice, Music, percentage points; null if a side has no reading.
    pub shares_percent: [Option<f64>; PARTS],
}

/// A join.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Join {
    /// Number in this log, counting up.
    pub number: u64,
    /// First sample of the new passage.
    pub at: Moment,
    /// Whether a mark is there.
    pub marked: bool,
    /// Whether it was found by measurement.
    pub found: bool,
    /// Name of the mark; null without one, and in a session.
    pub name: Option<String>,
    /// Length of the transition that the mark states, s; null for a cut, without a mark, and in a session.
    pub transition_seconds: Option<f64>,
    /// Largest change; 1 is 6 LU, 3 dB/octave, or 30 points of width or share.
    pub size: f64,
    /// The readings that jump, in words.
    pub words: String,
    /// Length of the change, from a tenth of the way to nine tenths, s; null if unknown.
    pub takes_seconds: Option<f64>,
    /// The changes.
    pub change: Change,
    /// The side before.
    pub before: Side,
    /// The side after.
    pub after: Side,
}

/// Statistics of one stretch of time.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Passage {
    /// 0 for everything, then 1, 2, 3 …
    pub number: u64,
    /// First moment heard.
    pub start: Moment,
    /// First moment after it.
    pub end: Moment,
    /// Length heard, each 0.1 s block of the song once, s.
    pub heard_seconds: f64,
    /// Readings.
    #[serde(flatten)]
    pub measured: Measured,
    /// Lost samples.
    pub lost: u64,
    /// Shares of the energy of Natural, Foley, Design, Voice, Music, %; null in silence or without layers.
    pub shares_percent: [Option<f64>; PARTS],
    /// Shares of the time in which each is loudest by 3 LU, %; null in silence or without layers.
    pub leads_percent: [Option<f64>; PARTS],
    /// Mix level against the sum of its layers, dB; null without mix or layers.
    pub unaccounted_db: Option<f64>,
}
