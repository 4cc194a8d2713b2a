//! Readings of sounds, and of two or more against each other.

use super::reference::{LayerRef, Moment};
use plumbline_measure::bands::{BANDS, THIRDS};
#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Loudness and peaks.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Loudness {
    /// Integrated loudness, gated, LUFS; null under the gate or under 0.4 s.
    pub integrated_lufs: Option<f64>,
    /// Loudness range, LU; null under the gate or under 3 s.
    pub range_lu: Option<f64>,
    /// Highest momentary loudness, LUFS; null under −90 LUFS or under 0.4 s.
    pub max_momentary_lufs: Option<f64>,
    /// Highest short-term loudness, LUFS; null under −90 LUFS or under 3 s.
    pub max_short_term_lufs: Option<f64>,
    /// Highest true peak, dBTP; null in silence.
    pub true_peak_dbtp: Option<f64>,
    /// Highest true peak of left and right, dBTP; null in silence.
    pub true_peak_by_channel_dbtp: [Option<f64>; 2],
    /// Highest sample peak of left and right, dBFS; null in silence.
    pub peak_by_channel_dbfs: [Option<f64>; 2],
    /// Samples at or over full scale, left and right.
    pub overs: [u64; 2],
}

/// Stereo readings of one stretch of frequency.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Reading {
    /// Level of both channels, dBFS; null under the gate.
    pub level_dbfs: Option<f64>,
    /// Level of left, dBFS; null under the gate.
    pub left_dbfs: Option<f64>,
    /// Level of right, dBFS; null under the gate.
    pub right_dbfs: Option<f64>,
    /// Width (side share), %; null under the gate.
    pub width_percent: Option<f64>,
    /// Correlation, −1…1; null if a channel is under the gate.
    pub correlation: Option<f64>,
    /// Coherence, 0…1; null if a channel is under the gate, under 2 s, or with too few events.
    pub coherence: Option<f64>,
    /// Out of step, 0…1; null as coherence.
    pub out_of_step: Option<f64>,
    /// Balance, dB, right positive; null if a channel is under the gate.
    pub balance_db: Option<f64>,
    /// Mono loss, dB, 0 or below; null under the gate, or if infinite.
    pub mono_loss_db: Option<f64>,
    /// "all of it" if the mono loss is infinite; else null.
    pub mono_loss_words: Option<String>,
}

/// Readings of a named band or a third.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Band {
    /// Name, "Low mid"; of a third its nominal centre, "250", "1.25k".
    pub name: String,
    /// Lower edge, Hz; of thirds exact (IEC 61260-1, base ten).
    pub low_hz: f64,
    /// Upper edge, Hz.
    pub high_hz: f64,
    /// Readings.
    #[serde(flatten)]
    pub reading: Reading,
    /// Share of the energy of all layers there, unweighted, ungated, %; only for layers; null under the gate.
    pub share_percent: Option<f64>,
}

/// Readings of one sound or one passage.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Measured {
    /// Loudness and peaks.
    pub loudness: Loudness,
    /// Readings of 20 Hz to 20 kHz.
    #[serde(flatten)]
    pub whole: Reading,
    /// Lowest correlation over 300 ms, −1…1; null without signal.
    pub lowest_correlation: Option<f64>,
    /// Samples that were NaN or infinite, measured as silence; each counts in a sum too.
    pub not_finite: u64,
    /// The six named bands.
    pub bands: Vec<Band>,
}

/// Everything measured of one sound.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Sound {
    /// Channels, 1 or 2.
    pub channels: u8,
    /// Readings.
    #[serde(flatten)]
    pub measured: Measured,
    /// DC offset of left and right, part of full scale; null without a sample.
    pub dc: [Option<f64>; 2],
    /// The 31 thirds from 20 Hz to 20 kHz.
    pub thirds: Vec<Band>,
}

/// A file, or some channels of it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct File {
    /// Path as given; bytes that are not Unicode are replaced.
    pub path: String,
    /// Channels taken from it, 1 or 2.
    pub channels: usize,
    /// Channel names by the recorder (iXML); may be empty.
    pub channel_names: Vec<String>,
    /// Start on the time line.
    pub start: Moment,
    /// Length, s; null if the file does not state it.
    pub seconds: Option<f64>,
    /// First sample since midnight (EBU Tech 3285 `bext`); null if the file does not state it.
    pub time_reference: Option<u64>,
}

/// The mix, or the sum of the layers.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Bus {
    /// Name.
    pub name: String,
    /// `mix` if one was given, else `sum` of the layers.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["mix", "sum"])))]
    pub source: String,
    /// Files of the mix; none of a sum.
    pub files: Vec<File>,
    /// Everything measured.
    #[serde(flatten)]
    pub sound: Sound,
}

/// A layer.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Layer {
    /// Id and name.
    #[serde(flatten)]
    pub layer: LayerRef,
    /// Role: Natural, Foley, Design, Voice or Music.
    pub role: String,
    /// Files it sums.
    pub files: Vec<File>,
    /// Integrated loudness, LUFS; null where `loudness` has null.
    pub integrated_lufs: Option<f64>,
    /// Share of the K-weighted energy of all layers over the gating blocks that pass, %; null if none passes.
    pub share_percent: Option<f64>,
    /// Share of the sounding time in which it is loudest by 3 LU, %; null in silence.
    pub lead_percent: Option<f64>,
    /// How it was recorded, as stated, and what contradicts that; null if nothing was stated.
    pub recorded_as: Option<RecordedAs>,
    /// Everything measured.
    #[serde(flatten)]
    pub sound: Sound,
}

/// How a layer was recorded, as stated.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct RecordedAs {
    /// Technique.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["one_sound", "coincident", "mid_side", "spaced", "binaural"])))]
    pub technique: String,
    /// Spacing of a spaced pair, m; null for any other.
    pub spacing_m: Option<f64>,
    /// What in the sound contradicts it; null if nothing does.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["not_decoded", "capsule_inverted", "further_apart", "more_than_one_sound", null])))]
    pub contradiction: Option<String>,
    /// The contradiction as a sentence; null without one.
    pub words: Option<String>,
}

/// A role: all of its layers together.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct RoleShare {
    /// Role.
    pub role: String,
    /// Number of layers.
    pub layers: u32,
    /// Share, as of a layer, %; null where a layer has null.
    pub share_percent: Option<f64>,
    /// Lead, as of a layer, %; null where a layer has null.
    pub lead_percent: Option<f64>,
    /// Shares of the named bands, %; null under the gate.
    pub bands_percent: [Option<f64>; BANDS],
    /// Shares of the thirds, %; null under the gate.
    pub thirds_percent: [Option<f64>; THIRDS],
}

/// What makes one layer sound like another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Match {
    /// Layer to change.
    pub change: LayerRef,
    /// Layer to match.
    pub like: LayerRef,
    /// Change of each third, mean removed, dB; null if either layer is under its gate.
    pub change_db: [Option<f64>; THIRDS],
    /// Standard deviation over 0.1 s blocks, dB; null as the change, and under two blocks.
    pub spread_db: [Option<f64>; THIRDS],
    /// Level of `like` above `change`, dB: the mean removed.
    pub louder_db: f64,
    /// Time in which both sound, each within 20 dB of its loudest block, s.
    pub seconds: f64,
    /// What to do.
    pub words: String,
}

/// A pair of microphones: the reading on which most windows of 10 s agree.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Pair {
    /// Name of the first microphone; `Left` for the bus.
    pub a: String,
    /// Name of the second, or `Right` of the bus.
    pub b: String,
    /// Outcome: `repair`, `in_step` (a move would win less than 0.5 dB), `opposed` (left and right
    /// oppose each other but share little), `spaced` (arrival times of a spaced pair),
    /// `room` (they share only room sound), `unrelated`, `several_delays` (several sounds, each at its own delay),
    /// `drift` (the clocks differ) or `cannot_tell`.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["repair", "in_step", "opposed", "spaced", "room", "unrelated", "several_delays", "drift", "cannot_tell"])))]
    pub outcome: String,
    /// Why no delay was found; null where one was.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["too_short", "too_quiet", "one_silent", "unrelated", "reverberant", "tonal", "ambiguous", "moving", "beyond_range", "unsure", null])))]
    pub reason: Option<String>,
    /// Delay of b, ms, positive when b trails a; null without a delay.
    pub delay_ms: Option<f64>,
    /// Standard deviation of the delay, ms; null without a delay.
    pub delay_sigma_ms: Option<f64>,
    /// Delay of b, samples; null without a delay.
    pub delay_samples: Option<f64>,
    /// Delay of b, frames of picture; null without a delay.
    pub delay_frames: Option<f64>,
    /// Delay as a path in air (ISO 9613-1), m; null without a delay.
    pub distance_m: Option<f64>,
    /// Polarity; null without a delay.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["same", "inverted", null])))]
    pub polarity: Option<String>,
    /// Confidence, 0…1; null without a delay.
    pub confidence: Option<f64>,
    /// Growth of the delay, ppm; null under 8 s of agreeing windows.
    pub drift_ppm: Option<f64>,
    /// Standard deviation of the drift, ppm, clear from four of them; null without a drift.
    pub drift_sigma_ppm: Option<f64>,
    /// Mean coherence of the thirds within 30 dB of the loudest, 0…1; null in silence.
    pub coherence: Option<f64>,
    /// Level of b above a, dB; null in silence.
    pub level_db: Option<f64>,
    /// Gain of the sum of all compared if this pair were repaired, dB; null without a delay.
    pub cost_db: Option<f64>,
    /// Gain of the K-weighted sum of both by the repair, losses counted like gains, dB; null without a delay.
    pub net_gain_db: Option<f64>,
    /// Stretches with a delay of their own, if there are several; each is advised on alone.
    pub stretches: Vec<PairStretch>,
    /// End of the window of this reading; null without a delay.
    pub read_at: Option<Moment>,
    /// Windows of 2 s with something to compare.
    pub windows: u64,
    /// Windows in which a delay was found.
    pub windows_found: u64,
    /// Advice, one sentence.
    pub advice: String,
}

/// A stretch of a programme in which a pair has one delay.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct PairStretch {
    /// Outcome, as for the pair.
    pub outcome: String,
    /// Start.
    pub start: Moment,
    /// End.
    pub end: Moment,
    /// Delay of b, ms, positive when b trails a.
    pub delay_ms: Option<f64>,
    /// Delay of b, samples.
    pub delay_samples: Option<f64>,
    /// Polarity.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["same", "inverted", null])))]
    pub polarity: Option<String>,
    /// Gain of the K-weighted sum of both by the repair, dB.
    pub net_gain_db: Option<f64>,
}

/// A mono loss with layers left out.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Without {
    /// One layer, or two.
    pub layers: Vec<LayerRef>,
    /// Mono loss without them, dB; null if infinite or nothing is left.
    pub mono_loss_db: Option<f64>,
    /// "all of it" or "nothing is left"; null where there is a number.
    pub mono_loss_words: Option<String>,
}

/// Two seconds in which the bus loses sound in mono, and the layers behind it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct MonoLoss {
    /// Named band.
    pub band: String,
    /// Lower edge, Hz.
    pub low_hz: f64,
    /// Upper edge, Hz.
    pub high_hz: f64,
    /// Start.
    pub start: Moment,
    /// End.
    pub end: Moment,
    /// Mono loss of the bus, dB; null if infinite.
    pub mono_loss_db: Option<f64>,
    /// "all of it" if infinite; else null.
    pub mono_loss_words: Option<String>,
    /// Share of the energy there that the layers explain, %.
    pub explained_percent: f64,
    /// The loss without one or two layers, the most helpful first; none if no layer explains it.
    pub without: Vec<Without>,
}
