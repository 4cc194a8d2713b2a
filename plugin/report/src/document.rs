//! A report as plain data: the JSON format. Every number is finite, every moment is given three ways.
//!
//! The format carries a version and only ever grows. `docs/report.md` says of each field what it means, its unit, and
//! when it is null.

mod make;

pub(crate) use make::{delivery, frames, limits, passage};

use plumbline_measure::bands::{BANDS, THIRDS};
use plumbline_programme::PARTS;
use serde::{Deserialize, Serialize};

/// Names the format.
pub const FORMAT: &str = "plumbline-report";
/// Version of the format.
pub const VERSION: u32 = 1;

/// Everything that is reported, the pictures apart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Document {
    /// [`FORMAT`].
    pub format: String,
    /// [`VERSION`].
    pub version: u32,
    /// Name of the layer; may be empty.
    pub layer: String,
    /// Name of its role.
    pub role: String,
    /// When the report was made.
    pub date: String,
    /// How timecode is counted.
    pub frame_rate: Frames,
    /// Label of the song's first sample.
    pub start_timecode: String,
    /// Samples a second.
    pub sample_rate_hz: u32,
    /// What the programme is delivered to.
    pub target: Delivery,
    /// From where on something is a finding.
    pub rules: Vec<Limit>,
    /// Edges of the six named bands, Hz.
    pub band_edges_hz: [f64; BANDS + 1],
    /// Findings and joins that were let go because there were too many.
    pub dropped: u64,
    /// Findings, by start.
    pub findings: Vec<FindingLine>,
    /// Joins, by time.
    pub joins: Vec<JoinLine>,
    /// Where marks stand, ascending.
    pub marks: Vec<Moment>,
    /// All since reset, then the passages between marks.
    pub passages: Vec<Passage>,
}

/// How timecode is counted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Frames {
    /// "29.97 drop".
    pub name: String,
    /// Frames a second are this …
    pub numerator: u32,
    /// … over this.
    pub denominator: u32,
    /// Whether labels are skipped.
    pub drop: bool,
}

/// What the programme is delivered to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Delivery {
    /// Integrated loudness.
    pub integrated_lufs: f64,
    /// How far it may be above.
    pub above_lu: f64,
    /// How far it may be below.
    pub below_lu: f64,
    /// Highest true peak.
    pub true_peak_dbtp: f64,
    /// Highest short-term loudness; null where the target names none.
    pub max_short_term_lufs: Option<f64>,
}

/// From where on something is a finding.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Limit {
    /// Name of the kind in files.
    pub kind: String,
    /// Whether it is looked for.
    pub on: bool,
    /// The limit.
    pub limit: f64,
    /// Its unit; empty for a number without one.
    pub unit: String,
    /// How long it must last, seconds.
    pub secs: f64,
}

/// A moment, three ways.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Moment {
    /// "song" or "clock".
    pub clock: String,
    /// Seconds after the start of the song, or of the clock.
    pub secs: f64,
    /// Samples after it.
    pub sample: i64,
    /// Label of the frame that holds the sample; null on clock time.
    pub timecode: Option<String>,
}

/// A layer that a finding concerns.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LayerName {
    /// Its number, sixteen hexadecimal digits: more than a double can hold.
    pub id: String,
    /// The name it had.
    pub name: String,
}

/// A finding.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct FindingLine {
    /// Its number in this log.
    pub number: u64,
    /// Name of the kind in files.
    pub kind: String,
    /// Name of the kind in words.
    pub name: String,
    /// "slight", "clear" or "grave".
    pub grade: String,
    /// Where it starts.
    pub start: Moment,
    /// Where it has ended: the first moment that is not in it.
    pub end: Moment,
    /// Seconds from start to end.
    pub length_secs: f64,
    /// Whether it still went on.
    pub open: bool,
    /// Lower edge, Hz; null for the whole range.
    pub low_hz: Option<f64>,
    /// Upper edge, Hz; null for the whole range.
    pub high_hz: Option<f64>,
    /// The worst value; null where it is infinite.
    pub worst: Option<f64>,
    /// Its unit; empty for a number without one.
    pub unit: String,
    /// The worst value in words.
    pub words: String,
    /// Where it is worst.
    pub worst_at: Moment,
    /// Whether the channels oppose each other.
    pub opposed: bool,
    /// "left" or "right"; null where it concerns no one channel.
    pub channel: Option<String>,
    /// Name of the role that is off its aim; null where none is.
    pub role: Option<String>,
    /// The layers it concerns.
    pub layers: Vec<LayerName>,
    /// What is to be done about it.
    pub advice: String,
    /// Whether the user has seen to it.
    pub seen: bool,
}

/// One side of a join.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SideLine {
    /// Seconds compared.
    pub secs: f64,
    /// Loudness.
    pub loudness_lufs: Option<f64>,
    /// Spectral tilt.
    pub tone_db_per_octave: Option<f64>,
    /// Side share, 0…1.
    pub side_share: Option<f64>,
    /// Shares of the roles, 0…1: Natural, Foley, Design, Voice, Music.
    pub shares: [Option<f64>; PARTS],
    /// Levels of the thirds from 20 Hz to 20 kHz.
    pub thirds_dbfs: [Option<f64>; THIRDS],
}

/// What changes at a join; null where one side has no reading.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Change {
    /// Loudness.
    pub loudness_lu: Option<f64>,
    /// Spectral tilt.
    pub tone_db_per_octave: Option<f64>,
    /// Side share, −1…1.
    pub side_share: Option<f64>,
    /// Shares of the roles, −1…1.
    pub shares: [Option<f64>; PARTS],
}

/// A join.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct JoinLine {
    /// Its number in this log.
    pub number: u64,
    /// Where the new passage begins.
    pub at: Moment,
    /// Whether a mark stands there.
    pub marked: bool,
    /// Whether it was found by itself.
    pub found: bool,
    /// The largest of its changes, each in what counts as a jump.
    pub size: f64,
    /// What jumps, in words.
    pub words: String,
    /// How long it takes, seconds; null where that could not be told.
    pub takes_secs: Option<f64>,
    /// What changes.
    pub change: Change,
    /// What was before.
    pub before: SideLine,
    /// What came after.
    pub after: SideLine,
}

/// Readings of one stretch of frequency over one stretch of time.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ReadingLine {
    /// Mean of both channels.
    pub level_dbfs: Option<f64>,
    /// Left alone.
    pub left_dbfs: Option<f64>,
    /// Right alone.
    pub right_dbfs: Option<f64>,
    /// Side share, 0…1.
    pub side_share: Option<f64>,
    /// Correlation, −1…1.
    pub correlation: Option<f64>,
    /// Coherence, 0…1.
    pub coherence: Option<f64>,
    /// Out of step, 0…1.
    pub out_of_step: Option<f64>,
    /// Balance, right positive.
    pub balance_db: Option<f64>,
    /// Mono loss, 0 or below; null without a reading, and where mono loses all.
    pub mono_loss_db: Option<f64>,
    /// Mono loss in words where it is infinite: "all of it"; else null.
    pub words: Option<String>,
}

/// Readings of a named band.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct BandLine {
    /// Its name.
    pub name: String,
    /// Its readings.
    #[serde(flatten)]
    pub readings: ReadingLine,
}

/// Statistics of one stretch of time.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Passage {
    /// 0 for all since reset, then 1, 2, 3 …
    pub number: u64,
    /// First moment heard.
    pub start: Moment,
    /// First moment after it.
    pub end: Moment,
    /// Seconds heard.
    pub heard_secs: f64,
    /// Integrated loudness.
    pub integrated_lufs: Option<f64>,
    /// Loudness range.
    pub range_lu: Option<f64>,
    /// Highest momentary loudness.
    pub max_momentary_lufs: Option<f64>,
    /// Highest short-term loudness.
    pub max_short_term_lufs: Option<f64>,
    /// Highest true peak, left and right.
    pub true_peak_dbtp: [Option<f64>; 2],
    /// Highest sample peak, left and right.
    pub peak_dbfs: [Option<f64>; 2],
    /// Samples at or over full scale, left and right.
    pub overs: [u64; 2],
    /// Samples lost.
    pub lost: u64,
    /// Samples that were NaN or infinite.
    pub not_finite: u64,
    /// Lowest correlation over 300 ms.
    pub lowest_correlation: Option<f64>,
    /// Shares of the roles, 0…1: Natural, Foley, Design, Voice, Music.
    pub shares: [Option<f64>; PARTS],
    /// Share of the time in which a role leads, 0…1, in the same order.
    pub leads: [Option<f64>; PARTS],
    /// The mix against the sum of its layers.
    pub unaccounted_db: Option<f64>,
    /// 20 Hz to 20 kHz.
    pub whole: ReadingLine,
    /// The named bands.
    pub bands: Vec<BandLine>,
}
