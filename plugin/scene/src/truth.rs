//! The planted values of the scene, as data. The values follow from how the scene was made, never from a measurement by
//! the code under test.

use plumbline_programme::Finding;
use plumbline_programme::findings::Kind;
use serde::{Deserialize, Serialize};

/// The version of the `truth.json` format; it only ever grows.
pub const TRUTH_VERSION: u32 = 1;

/// All that is known about the scene.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// [`TRUTH_VERSION`].
    pub version: u32,
    /// Sample rate in Hz.
    pub rate_hz: u32,
    /// Bits per sample. Samples are rounded without dither, so that planted digital silence stays silent.
    pub bits: u16,
    /// Length in samples.
    pub frames: u64,
    /// Length in seconds.
    pub seconds: f64,
    /// The mix file: the sum of the stems at their gains, rounded and clipped at full scale. A mono stem goes to both
    /// channels, with `mono_pan_db` on top.
    pub mix: String,
    /// Pan gain of a mono stem into each channel of the mix, besides its fader, in dB.
    #[serde(default)]
    pub mono_pan_db: f64,
    /// The stems.
    pub stems: Vec<StemTruth>,
    /// The passages, in order.
    pub passages: Vec<Passage>,
    /// The planted values.
    pub planted: Vec<Planted>,
    /// The findings that the mix must give; no others, except the jumps at joins.
    #[serde(default)]
    pub findings: Vec<PlantedFinding>,
    /// Transitions.
    #[serde(default)]
    pub joins: Vec<PlantedJoin>,
}

/// A finding that must be reported.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlantedFinding {
    /// Its kind.
    pub kind: Kind,
    /// Start, seconds.
    pub start_secs: f64,
    /// End, seconds.
    pub end_secs: f64,
    /// The tolerance of start and end, seconds.
    pub tolerance_secs: f64,
    /// The band, low and high, Hz; absent if irrelevant.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub band_hz: Option<[f64; 2]>,
    /// The channel, if the finding concerns one; `true` means right.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub right: Option<bool>,
    /// The derivation from the way the scene was made.
    pub because: String,
}

/// A transition.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlantedJoin {
    /// The time, seconds.
    pub at_secs: f64,
    /// The tolerance of the time, seconds.
    pub tolerance_secs: f64,
    /// The sound that begins or ends.
    pub what: String,
}

impl PlantedFinding {
    /// Whether a finding meets the planted one: kind, both ends, both edges of the band within one third, channel.
    pub fn is_met_by(&self, found: &Finding) -> bool {
        let near =
            |planted: f64, tenth: i64| (planted - tenth as f64 / 10.0).abs() <= self.tolerance_secs + 1e-6;
        // One third of an octave, and 1 % for rounding at the edges.
        let third = 2.0_f64.powf(1.0 / 3.0) * 1.01;
        let alike = |a: f64, b: f64| (a / b).ln().abs() <= third.ln();
        let band = match (self.band_hz, found.span) {
            (None, _) => true,
            (Some([low, high]), Some(span)) => alike(low, span.low_hz) && alike(high, span.high_hz),
            (Some(_), None) => false,
        };
        self.kind == found.kind
            && near(self.start_secs, found.start)
            && near(self.end_secs, found.end)
            && band
            && self.right.is_none_or(|right| found.right == Some(right))
    }
}

/// One stem.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StemTruth {
    /// File name.
    pub file: String,
    /// A description.
    pub name: String,
    /// Natural, Foley or Design.
    pub role: String,
    /// 1 or 2.
    pub channels: u16,
    /// Gain of its fader in dB.
    pub gain_db: f64,
    /// Share of the K-weighted energy of all stems, at their gains, over the whole scene, in %.
    pub share_percent: f64,
}

/// A passage of the scene.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Passage {
    /// Start in seconds.
    pub start_secs: f64,
    /// End in seconds.
    pub end_secs: f64,
    /// Its sound.
    pub what: String,
}

/// The place where a planted value is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// On the mix.
    Mix,
    /// On a stem, or between stems.
    Stems,
}

/// The reading to which a planted value belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// Correlation, −1…+1.
    Correlation,
    /// Side share, %.
    SideShare,
    /// Mono loss, dB.
    MonoLoss,
    /// Coherence, 0…1.
    Coherence,
    /// Out of step, 0…1.
    OutOfStep,
    /// The verdict on the width, in words.
    WidthVerdict,
    /// Start of a gap of digital silence, s.
    DropoutStart,
    /// Length of a gap of digital silence, s.
    DropoutLength,
    /// Samples at or over full scale.
    ClippedSamples,
    /// Time of the clipped samples, s.
    ClippedAt,
    /// Seconds in which only one channel is silent.
    OneSided,
    /// Integrated loudness, LUFS.
    IntegratedLoudness,
    /// Highest true peak, dBTP.
    TruePeak,
    /// Time of the highest true peak, s.
    TruePeakAt,
    /// Highest true peak outside the planted spots, dBTP.
    TruePeakElsewhere,
    /// Length of the programme, s.
    Length,
    /// Delay between two stems, samples.
    PairDelay,
    /// Polarity between two stems, +1 or −1.
    PairPolarity,
    /// Share of the natural sound, %.
    NaturalShare,
    /// Share of the Foley, %.
    FoleyShare,
    /// Share of the designed effects, %.
    DesignShare,
    /// Share of one stem, named by `stem`, %.
    StemShare,
    /// Energy of the mix relative to the sum of its stems, dB.
    Unaccounted,
    /// The stem that causes the mono loss, by name.
    LossLayer,
    /// Stems that are late relative to the mix.
    LateLayers,
}

/// The required relation of a found value to the planted one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stand {
    /// Within the tolerance.
    Near,
    /// At most the planted value plus the tolerance.
    AtMost,
}

/// A planted value: a number or a word.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Value {
    /// A number.
    Number(f64),
    /// A word.
    Word(String),
}

/// One planted value.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Planted {
    /// Its name in a table.
    pub name: String,
    /// The place of measurement.
    pub place: Place,
    /// The reading.
    pub quantity: Quantity,
    /// Start of its stretch, seconds.
    pub start_secs: f64,
    /// End of its stretch, seconds.
    pub end_secs: f64,
    /// Band in Hz, low and high; absent for the whole range.
    pub band_hz: Option<[f64; 2]>,
    /// The stem on which it is read; absent for the mix or several stems.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stem: Option<String>,
    /// The value.
    pub value: Value,
    /// Its unit; empty for a plain number or a word.
    pub unit: String,
    /// The tolerance, in the same unit.
    pub tolerance: f64,
    /// The required relation of a found value to it.
    pub stand: Stand,
    /// The derivation of the value from the way the scene was made, and the reason for the tolerance.
    pub because: String,
}

impl Planted {
    /// Whether a found value meets the planted one; false if there is none.
    pub fn is_met_by(&self, found: Option<&Value>) -> bool {
        match (&self.value, found) {
            (Value::Number(planted), Some(Value::Number(found))) => match self.stand {
                Stand::Near => (found - planted).abs() <= self.tolerance,
                Stand::AtMost => *found <= planted + self.tolerance,
            },
            (Value::Word(planted), Some(Value::Word(found))) => planted == found,
            _ => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn planted(value: Value, stand: Stand) -> Planted {
        Planted {
            name: "x".to_owned(),
            place: Place::Mix,
            quantity: Quantity::Correlation,
            start_secs: 0.0,
            end_secs: 1.0,
            band_hz: None,
            stem: None,
            value,
            unit: String::new(),
            tolerance: 0.1,
            stand,
            because: String::new(),
        }
    }

    #[test]
    fn a_value_is_met_within_its_tolerance_only() {
        let near = planted(Value::Number(1.0), Stand::Near);
        let met = |p: &Planted, v: f64| p.is_met_by(Some(&Value::Number(v)));
        assert!(met(&near, 0.95) && met(&near, 1.05));
        assert!(!met(&near, 1.2) && !met(&near, 0.8) && !met(&near, f64::NAN) && !near.is_met_by(None));
        let ceiling = planted(Value::Number(1.0), Stand::AtMost);
        assert!(met(&ceiling, -30.0) && !met(&ceiling, 1.2) && !met(&ceiling, f64::NAN));
        let word = planted(Value::Word("wide".to_owned()), Stand::Near);
        assert!(word.is_met_by(Some(&Value::Word("wide".to_owned()))));
        assert!(!word.is_met_by(Some(&Value::Word("mono".to_owned()))) && !word.is_met_by(None));
        assert!(!word.is_met_by(Some(&Value::Number(1.0))));
    }
}
