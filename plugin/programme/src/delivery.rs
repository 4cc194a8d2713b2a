//! Delivery: loudness, true peak, clipping, dead channels and DC against a published target.

use plumbline_measure::reading::Readings;
use plumbline_measure::{Loudness, Meters};
use serde::{Deserialize, Serialize};

/// The delivery target of a programme. A broadcaster's or platform's own specification overrides these presets.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Target {
    /// Integrated loudness, LUFS.
    pub integrated_lufs: f64,
    /// Tolerance above, LU.
    pub above_lu: f64,
    /// Tolerance below, LU.
    pub below_lu: f64,
    /// Highest true peak, dBTP.
    pub true_peak_dbtp: f64,
    /// Highest short-term loudness, LUFS, if the document names one.
    pub max_short_term_lufs: Option<f64>,
}

/// A published target, named after its document.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Preset {
    /// Short name for a list.
    pub name: &'static str,
    /// Document and clause.
    pub source: &'static str,
    /// The values.
    pub target: Target,
}

/// Published targets. The first is the default.
pub const PRESETS: [Preset; 4] = [
    Preset {
        name: "EBU R 128",
        source: "EBU R 128 v5 (November 2023) (h) with the 0.2 LU of (i), and (m)",
        target: Target {
            integrated_lufs: -23.0,
            above_lu: 0.2,
            below_lu: 0.2,
            true_peak_dbtp: -1.0,
            max_short_term_lufs: None,
        },
    },
    Preset {
        name: "EBU R 128, live",
        source: "EBU R 128 v5 (November 2023) (h): 1 LU where the target is not practicable",
        target: Target {
            integrated_lufs: -23.0,
            above_lu: 1.0,
            below_lu: 1.0,
            true_peak_dbtp: -1.0,
            max_short_term_lufs: None,
        },
    },
    Preset {
        name: "EBU R 128 s1, short form",
        source: "EBU R 128 s1, with the 0.2 LU of R 128 (i)",
        target: Target {
            integrated_lufs: -23.0,
            above_lu: 0.2,
            below_lu: 0.2,
            true_peak_dbtp: -1.0,
            max_short_term_lufs: Some(-18.0),
        },
    },
    Preset {
        name: "EBU R 128 s2, streaming (−16 ceiling)",
        source: "EBU R 128 s2 v3 (November 2023) (e): interim distribution level −20 to −16 LUFS",
        target: Target {
            integrated_lufs: -18.0,
            above_lu: 2.0,
            below_lu: 2.0,
            true_peak_dbtp: -1.0,
            max_short_term_lufs: None,
        },
    },
];

impl Default for Target {
    fn default() -> Self {
        PRESETS[0].target
    }
}

impl Target {
    /// The target if it is within bounds (loudness −60…0 LUFS, tolerances 0…20 LU, true peak −20…6 dBTP), otherwise
    /// the default.
    pub fn sane(self) -> Self {
        let fine = (-60.0..=0.0).contains(&self.integrated_lufs)
            && (0.0..=20.0).contains(&self.above_lu)
            && (0.0..=20.0).contains(&self.below_lu)
            && (-20.0..=6.0).contains(&self.true_peak_dbtp)
            && self.max_short_term_lufs.is_none_or(|s| (-60.0..=0.0).contains(&s));
        if fine { self } else { Self::default() }
    }

    /// Distance of a loudness from the target, LU; positive is louder.
    pub fn off_lu(&self, lufs: Option<f64>) -> Option<f64> {
        lufs.map(|lufs| lufs - self.integrated_lufs)
    }

    /// Whether a true peak is over the ceiling.
    pub fn is_peak_over(&self, dbtp: Option<f64>) -> bool {
        dbtp.is_some_and(|peak| peak > self.true_peak_dbtp)
    }

    /// Whether the highest short-term loudness is over its ceiling; false if the target names none.
    pub fn is_short_term_over(&self, lufs: Option<f64>) -> bool {
        self.max_short_term_lufs.zip(lufs).is_some_and(|(most, highest)| highest > most)
    }
}

/// DC offset from which it is noted: −60 dB re full scale (common practice, no source).
pub const DC_NOTE: f64 = 0.001;
/// DC offset from which it is a fault: −40 dB re full scale, where it takes headroom and clicks at cuts (common
/// practice, no source).
pub const DC_FAULT: f64 = 0.01;
/// Seconds of programme before the integrated loudness is judged (common practice, no source).
pub const SETTLED_SECS: f64 = 10.0;

/// The programme since reset against the target. Absent values are not known yet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct DeliveryVerdict {
    /// Integrated loudness minus the target, LU; positive is too loud.
    pub off_target_lu: Option<f64>,
    /// Whether the loudness is outside the tolerance.
    pub loudness_off: bool,
    /// True peak over the ceiling, dB; absent if it is not over.
    pub true_peak_over_db: Option<f64>,
    /// Short-term loudness over its ceiling, LU; absent if it is not over or the target names none.
    pub short_term_over_lu: Option<f64>,
    /// Samples at or over full scale since reset, both channels.
    pub overs: u64,
    /// Samples of `overs` in flat tops, which are clipping; the others may be peaks that just reach full scale.
    pub flat: u64,
    /// The dead channel while the other sounds: `Some(true)` for right.
    pub dead_channel: Option<bool>,
    /// DC offset of [`DC_NOTE`] or more, as a share of full scale, the larger of both channels.
    pub dc: Option<f64>,
}

impl DeliveryVerdict {
    /// Whether anything known so far rules out delivery.
    pub fn has_fault(&self) -> bool {
        self.loudness_off
            || self.true_peak_over_db.is_some()
            || self.short_term_over_lu.is_some()
            || self.flat > 0
            || self.dead_channel.is_some()
            || self.has_dc_fault()
    }

    /// Whether the DC is high enough to be a fault, not only worth a note.
    pub fn has_dc_fault(&self) -> bool {
        self.dc.is_some_and(|dc| dc >= DC_FAULT)
    }

    /// The verdict for a layer that is only a part of the mix. A delivery target applies to a whole programme, so
    /// loudness and peaks are left out. A dead channel, clipped samples and DC are faults in any layer.
    #[must_use]
    pub fn of_a_part(self) -> Self {
        Self {
            off_target_lu: None,
            loudness_off: false,
            true_peak_over_db: None,
            short_term_over_lu: None,
            ..self
        }
    }

    /// Judges the latest readings against a target.
    pub fn of(loudness: &Loudness, meters: &Meters, whole: &Readings, target: &Target) -> Self {
        let off = loudness.integrated_lufs.map(|i| i - target.integrated_lufs);
        let settled = loudness.measured_secs >= SETTLED_SECS;
        let peak = loudness.true_peak_dbtp.iter().flatten().copied().reduce(f64::max);
        let over = |value: Option<f64>, limit: f64| value.map(|v| v - limit).filter(|o| *o > 0.0);
        let dead = match whole.channel_dbfs {
            [Some(_), None] => Some(true),
            [None, Some(_)] => Some(false),
            _ => None,
        };
        let dc = meters.dc.iter().flatten().map(|d| d.abs()).reduce(f64::max);
        Self {
            off_target_lu: off,
            loudness_off: settled && off.is_some_and(|o| o > target.above_lu || -o > target.below_lu),
            true_peak_over_db: over(peak, target.true_peak_dbtp),
            short_term_over_lu: target
                .max_short_term_lufs
                .and_then(|limit| over(loudness.max_short_term_lufs, limit)),
            overs: meters.overs.iter().sum(),
            flat: meters.flat.iter().sum(),
            dead_channel: dead,
            dc: dc.filter(|d| *d >= DC_NOTE),
        }
    }
}
