//! The report of a survey as plain data: the JSON format. Every number is finite.
//!
//! The schema has a number and only ever grows. `docs/report-format.md` says of each field what it means, its unit, and
//! when it is null.

use crate::document::{Frames, JoinLine, Limit, Passage};
use plumbline_measure::bands::{BANDS, THIRDS};
use serde::{Deserialize, Serialize};

/// Names the format and its version.
pub const SCHEMA: &str = "plumbline.report/1";
/// Names the format of pairs alone, and its version.
pub const MICS_SCHEMA: &str = "plumbline.mics/1";

/// Everything that is reported, the pictures apart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Document {
    /// [`SCHEMA`].
    pub schema: String,
    /// Version of the program.
    pub plumbline_version: String,
    /// When the report was made.
    pub date: Option<String>,
    /// Length, rate and timecode.
    pub programme: Programme,
    /// What the programme is delivered to.
    pub target: Target,
    /// The shares that are aimed at; roles without an aim are not in it.
    pub aims: Vec<Aim>,
    /// From where on something is a finding.
    pub rules: Vec<Limit>,
    /// Edges of the six named bands, Hz.
    pub band_edges_hz: [f64; BANDS + 1],
    /// The verdicts in words.
    pub verdicts: Vec<Verdict>,
    /// The mix, or the sum of the layers.
    pub bus: Bus,
    /// The layers.
    pub layers: Vec<Layer>,
    /// The roles that have a layer.
    pub roles: Vec<RoleLine>,
    /// The mix against the sum of its layers, dB.
    pub unaccounted_db: Option<f64>,
    /// The same in words, where it is worth some or infinite.
    pub unaccounted_words: Option<String>,
    /// Each Foley layer against the loudest natural one.
    #[serde(rename = "match")]
    pub matches: Vec<MatchLine>,
    /// Pairs of microphones, and left with right of the bus; who costs most first.
    pub pairs: Vec<PairLine>,
    /// Microphones that were not compared, because there are too many.
    pub pairs_uncompared: u32,
    /// Which layers cause a mono loss, by band.
    pub mono_losses: Vec<MonoLoss>,
    /// Joins, by time.
    pub joins: Vec<JoinLine>,
    /// Findings, by start.
    pub findings: Vec<FindingLine>,
    /// Findings and joins that were let go because there were too many.
    pub dropped: u64,
    /// Statistics as the plug-in's export has them: all of it.
    pub passages: Vec<Passage>,
}

/// Length, rate and timecode.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Programme {
    /// Length, seconds.
    pub seconds: f64,
    /// Length, samples.
    pub samples: u64,
    /// Samples a second.
    pub sample_rate_hz: u32,
    /// Label of the first sample.
    pub start_timecode: String,
    /// Label of the sample behind the last.
    pub end_timecode: String,
    /// How timecode is counted.
    pub frame_rate: Frames,
}

/// What the programme is delivered to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Target {
    /// What it is called; null where nobody said.
    pub name: Option<String>,
    /// The numbers.
    #[serde(flatten)]
    pub numbers: crate::document::Delivery,
}

/// A share that is aimed at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Aim {
    /// Name of the role.
    pub role: String,
    /// Share, %.
    pub share_percent: f64,
    /// How far it may be off, percentage points.
    pub tolerance_percent: f64,
}

/// A verdict in words.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Verdict {
    /// What it is on: "width", "mono", "mics", "balance", "match", "delivery".
    pub on: String,
    /// "fine", "note", "fault" or "unknown".
    pub state: String,
    /// One or two words.
    pub head: String,
    /// The number behind it with its unit; may be empty.
    pub figure: String,
    /// A sentence or two.
    pub sentence: String,
}

/// A file, or some channels of it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct FileLine {
    /// Where it lies, as it was given.
    pub path: String,
    /// Channels taken from it.
    pub channels: usize,
    /// Their names as the recorder wrote them; may be empty.
    pub channel_names: Vec<String>,
    /// Where it starts on the time line, seconds.
    pub start_secs: f64,
    /// The same as a label.
    pub start_timecode: String,
    /// Its length; null where it does not tell.
    pub seconds: Option<f64>,
    /// Samples since midnight; null where it does not tell.
    pub time_reference: Option<u64>,
}

/// Loudness of a whole sound.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LoudnessLine {
    /// Integrated.
    pub integrated_lufs: Option<f64>,
    /// Range.
    pub range_lu: Option<f64>,
    /// Highest momentary.
    pub max_momentary_lufs: Option<f64>,
    /// Highest short-term.
    pub max_short_term_lufs: Option<f64>,
    /// Highest true peak of any channel.
    pub true_peak_dbtp: Option<f64>,
    /// Highest true peak, left and right.
    pub true_peak_by_channel_dbtp: [Option<f64>; 2],
    /// Highest sample peak, left and right.
    pub peak_by_channel_dbfs: [Option<f64>; 2],
    /// Samples at or over full scale, left and right.
    pub overs: [u64; 2],
}

/// Readings of one stretch of frequency.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Mean of both channels.
    pub level_dbfs: Option<f64>,
    /// Left alone.
    pub left_dbfs: Option<f64>,
    /// Right alone.
    pub right_dbfs: Option<f64>,
    /// Side share, 0…100.
    pub width_percent: Option<f64>,
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
    /// Mono loss in words where it is infinite; else null.
    pub mono_loss_words: Option<String>,
}

/// Readings of a named band or a third.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SpanLine {
    /// "Low mid", or of a third "250".
    pub name: String,
    /// Lower edge.
    pub low_hz: f64,
    /// Upper edge.
    pub high_hz: f64,
    /// What was read there.
    #[serde(flatten)]
    pub reading: Reading,
    /// The layer's share of the energy of all layers there, %; null for the bus, and under the gate.
    pub share_percent: Option<f64>,
}

/// Everything that is known of one sound by itself.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SoundLine {
    /// 1 or 2.
    pub channels: u8,
    /// Loudness and peaks.
    pub loudness: LoudnessLine,
    /// 20 Hz to 20 kHz.
    #[serde(flatten)]
    pub whole: Reading,
    /// Lowest correlation over 300 ms.
    pub lowest_correlation: Option<f64>,
    /// DC offset, left and right, part of full scale.
    pub dc: [Option<f64>; 2],
    /// Samples that were NaN or infinite.
    pub not_finite: u64,
    /// The named bands.
    pub bands: Vec<SpanLine>,
    /// The thirds from 20 Hz to 20 kHz.
    pub thirds: Vec<SpanLine>,
}

/// The mix, or the sum of the layers.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Bus {
    /// Its name.
    pub name: String,
    /// "mix" where one was given, "sum" of the layers otherwise.
    pub source: String,
    /// Files of the mix; none of a sum.
    pub files: Vec<FileLine>,
    /// What was measured of it.
    #[serde(flatten)]
    pub sound: SoundLine,
}

/// One layer.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Layer {
    /// Its name.
    pub name: String,
    /// Name of its role.
    pub role: String,
    /// The files that it is the sum of.
    pub files: Vec<FileLine>,
    /// Integrated loudness, as in `loudness`.
    pub integrated_lufs: Option<f64>,
    /// Share of the K-weighted energy of all layers, %.
    pub share_percent: Option<f64>,
    /// Share of the time in which it leads, %.
    pub lead_percent: Option<f64>,
    /// What was measured of it.
    #[serde(flatten)]
    pub sound: SoundLine,
}

/// One role: all of its layers.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RoleLine {
    /// Its name.
    pub role: String,
    /// Layers that have it.
    pub layers: u32,
    /// Share, %.
    pub share_percent: Option<f64>,
    /// Share of the time in which it leads, %.
    pub lead_percent: Option<f64>,
    /// Share of each named band, %.
    pub bands_percent: [Option<f64>; BANDS],
    /// Share of each third, %.
    pub thirds_percent: [Option<f64>; THIRDS],
}

/// What makes one layer sound like another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MatchLine {
    /// The layer to be changed.
    pub change: String,
    /// The layer it is to sound like.
    pub like: String,
    /// What to change each third by, dB, the mean taken out; null where either is under its gate.
    pub change_db: [Option<f64>; THIRDS],
    /// How much that scatters over time, dB.
    pub spread_db: [Option<f64>; THIRDS],
    /// How much louder `like` is over these thirds, dB: the mean taken out.
    pub louder_db: f64,
    /// Seconds in which both sound.
    pub seconds: f64,
    /// What to do.
    pub words: String,
}

/// One pair of microphones.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PairLine {
    /// The first.
    pub a: String,
    /// The second.
    pub b: String,
    /// "repair", "in_step", "room" or "cannot_tell".
    pub outcome: String,
    /// Why nothing can be told; null where something can.
    pub reason: Option<String>,
    /// Delay; positive when b trails a.
    pub delay_ms: Option<f64>,
    /// Its standard deviation.
    pub delay_sigma_ms: Option<f64>,
    /// The delay in samples.
    pub delay_samples: Option<f64>,
    /// The delay in frames of picture.
    pub delay_frames: Option<f64>,
    /// The delay as a path; positive when b is farther.
    pub distance_m: Option<f64>,
    /// "same" or "inverted".
    pub polarity: Option<String>,
    /// 0…1.
    pub confidence: Option<f64>,
    /// How fast the delay grows.
    pub drift_ppm: Option<f64>,
    /// Its standard deviation.
    pub drift_sigma_ppm: Option<f64>,
    /// Coherence, 0…1.
    pub coherence: Option<f64>,
    /// Level of b over that of a.
    pub level_db: Option<f64>,
    /// What it costs the sum of all that is compared.
    pub cost_db: Option<f64>,
    /// End of the 2 s that the reading is of, seconds on the time line.
    pub read_at_secs: Option<f64>,
    /// Windows in which there was something to compare.
    pub windows: u64,
    /// Those of them in which a delay was found.
    pub windows_found: u64,
    /// What to do.
    pub advice: String,
}

/// What leaving layers out does.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct WithoutLine {
    /// One layer, or two.
    pub layers: Vec<String>,
    /// Mono loss without them; null where it is infinite or nothing is left.
    pub mono_loss_db: Option<f64>,
    /// The same in words where it is null.
    pub words: Option<String>,
}

/// A stretch in which the bus loses sound in mono.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct MonoLoss {
    /// Named band.
    pub band: String,
    /// Its lower edge.
    pub low_hz: f64,
    /// Its upper edge.
    pub high_hz: f64,
    /// Where the 2 s start, seconds.
    pub start_secs: f64,
    /// The same as a label.
    pub start_timecode: String,
    /// Where they end, seconds.
    pub end_secs: f64,
    /// Mono loss of the bus in the band; null where it is infinite.
    pub mono_loss_db: Option<f64>,
    /// The same in words where it is infinite; else null.
    pub mono_loss_words: Option<String>,
    /// Share of the energy there that the layers explain, 0…1.
    pub explained: f64,
    /// What leaving out does, the most helpful first.
    pub without: Vec<WithoutLine>,
}

/// A finding.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct FindingLine {
    /// Its number.
    pub number: u64,
    /// Name of the kind in files.
    pub kind: String,
    /// Name of the kind in words.
    pub name: String,
    /// "slight", "clear" or "grave".
    pub severity: String,
    /// Where it starts, seconds.
    pub start_secs: f64,
    /// Where it has ended, seconds.
    pub end_secs: f64,
    /// Where it starts, sample.
    pub start_sample: i64,
    /// Where it has ended, sample.
    pub end_sample: i64,
    /// Label of the start.
    pub start_timecode: Option<String>,
    /// Label of the end.
    pub end_timecode: Option<String>,
    /// Lower edge; null for the whole range.
    pub low_hz: Option<f64>,
    /// Upper edge; null for the whole range.
    pub high_hz: Option<f64>,
    /// The worst value; null where it is infinite.
    pub worst: Option<f64>,
    /// Its unit; empty for a number without one.
    pub unit: String,
    /// The worst value in words.
    pub words: String,
    /// Where it is worst, seconds.
    pub worst_at_secs: f64,
    /// Whether the channels oppose each other.
    pub opposed: bool,
    /// "left" or "right"; null where it concerns no one channel.
    pub channel: Option<String>,
    /// Name of the role that is off its aim; null where none is.
    pub role: Option<String>,
    /// Names of the layers it concerns.
    pub layers: Vec<String>,
    /// What is to be done about it.
    pub advice: String,
}

/// Pairs of microphones alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MicsDocument {
    /// [`MICS_SCHEMA`].
    pub schema: String,
    /// Length, rate and timecode.
    pub programme: Programme,
    /// Air temperature for the path, °C.
    pub celsius: f64,
    /// The pairs; who costs most first.
    pub pairs: Vec<PairLine>,
    /// Microphones that were not compared, because there are too many.
    pub pairs_uncompared: u32,
}
