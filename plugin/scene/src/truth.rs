//! What was planted in the scene, as data: the values come from how the scene was made, never from a measurement by
//! what is tested with it.

use plumbline_programme::Finding;
use plumbline_programme::findings::Kind;
use serde::{Deserialize, Serialize};

/// Version of the `truth.json` format; it only ever grows.
pub const TRUTH_VERSION: u32 = 1;

/// Everything that is known of the scene.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// [`TRUTH_VERSION`].
    pub version: u32,
    /// Sample rate in Hz.
    pub rate_hz: u32,
    /// Bits a sample. Samples are rounded, without dither, so that planted digital silence stays silent.
    pub bits: u16,
    /// Length in samples.
    pub frames: u64,
    /// Length in seconds.
    pub seconds: f64,
    /// The mix file. It is the sum of the stems, each times its gain, a mono stem times `mono_pan_db` too and into
    /// both channels, rounded and held to full scale.
    pub mix: String,
    /// Gain of a mono stem into either channel of the mix beside its fader, in dB.
    #[serde(default)]
    pub mono_pan_db: f64,
    /// The stems.
    pub stems: Vec<StemTruth>,
    /// The passages, in order.
    pub passages: Vec<Passage>,
    /// What was planted.
    pub planted: Vec<Planted>,
    /// What must be found in the mix, and nothing else; the jumps at joins apart.
    #[serde(default)]
    pub findings: Vec<PlantedFinding>,
    /// Transitions.
    #[serde(default)]
    pub joins: Vec<PlantedJoin>,
}

/// Something that must be found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlantedFinding {
    /// What it is about.
    pub kind: Kind,
    /// Start, seconds.
    pub start_secs: f64,
    /// End, seconds.
    pub end_secs: f64,
    /// How far either may be off, seconds.
    pub tolerance_secs: f64,
    /// Where in frequency, low and high, Hz; absent where it does not matter.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub band_hz: Option<[f64; 2]>,
    /// Which channel, where it is about one: `true` is the right one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub right: Option<bool>,
    /// How it follows from the making of the scene.
    pub because: String,
}

/// A transition.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlantedJoin {
    /// When, seconds.
    pub at_secs: f64,
    /// How far it may be found off, seconds.
    pub tolerance_secs: f64,
    /// What begins or ends.
    pub what: String,
}

impl PlantedFinding {
    /// Whether a finding is the planted one: kind, both ends, both edges of the band within one third, channel.
    pub fn is_met_by(&self, found: &Finding) -> bool {
        let near =
            |planted: f64, tenth: i64| (planted - tenth as f64 / 10.0).abs() <= self.tolerance_secs + 1e-6;
        // One third of an octave, and a hair for edges that lie on edges.
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
    /// What it is.
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
    /// What is heard.
    pub what: String,
}

/// Where a planted value is to be found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// On the mix.
    Mix,
    /// On stems, or between them.
    Stems,
}

/// Which reading a planted value is one of.
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
    /// The verdict on the width, in a word.
    WidthVerdict,
    /// Start of a hole of digital silence, s.
    DropoutStart,
    /// Length of a hole of digital silence, s.
    DropoutLength,
    /// Samples at or over full scale.
    ClippedSamples,
    /// Time of the clipped samples, s.
    ClippedAt,
    /// Seconds in which one channel is silent and the other is not.
    OneSided,
    /// Integrated loudness, LUFS.
    IntegratedLoudness,
    /// Highest true peak, dBTP.
    TruePeak,
    /// Time of the highest true peak, s.
    TruePeakAt,
    /// Highest true peak away from the spots where it was planted, dBTP.
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
    /// Share of one stem, which `stem` names, %.
    StemShare,
    /// Energy of the mix against the sum of its stems, dB.
    Unaccounted,
    /// Which stem causes the mono loss, by name.
    LossLayer,
    /// Stems that come later than the mix has them.
    LateLayers,
}

/// How a found value must stand to the planted one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stand {
    /// Within the tolerance.
    Near,
    /// Not above it by more than the tolerance.
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
    /// A name for a table.
    pub name: String,
    /// Where it is to be found.
    pub place: Place,
    /// Which reading it is one of.
    pub quantity: Quantity,
    /// Start of the stretch it holds for, seconds.
    pub start_secs: f64,
    /// End of it.
    pub end_secs: f64,
    /// Band in Hz, low and high; absent for the whole range.
    pub band_hz: Option<[f64; 2]>,
    /// Name of the stem that it is a reading of; absent for the mix and for several stems.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stem: Option<String>,
    /// The value.
    pub value: Value,
    /// Its unit; empty for a pure number or a word.
    pub unit: String,
    /// How far a found value may be off, in the same unit.
    pub tolerance: f64,
    /// How it must stand to the planted one.
    pub stand: Stand,
    /// How the value follows from the making of the scene, and where the tolerance comes from.
    pub because: String,
}

impl Planted {
    /// Whether a found value is the planted one. Absent is not.
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
