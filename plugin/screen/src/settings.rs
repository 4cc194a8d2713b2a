//! The user's settings, saved with the song. The format only grows; loading bounds every value.

mod load;
mod reference;

pub use reference::{REFERENCE_POINTS, Reference, reference_hz};

use crate::tokens::ThemeName;
use plumbline_measure::{Averaging, BandEdges, FrameRate, Timecode};
use plumbline_programme::delivery::Target;
use plumbline_programme::{BalanceTarget, Recording, Rules, Stretch};
use serde::{Deserialize, Serialize};

/// Version that this build writes.
pub const VERSION: u32 = 4;
/// Longest saved text that is read, in bytes; this build writes at most a tenth of it.
pub const LONGEST: usize = 64 * 1024;

/// Tilt of the spectrum lane in dB per octave about 1 kHz, named after the sound that it makes flat.
///
/// Lines are power in cells of constant relative width, so in them noise rises 3 dB per octave more than its density
/// does. Up to version 3, lines were bins of constant width; a tilt from then is read as the one that makes the same
/// noise flat.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Tilt {
    /// 0: as measured; pink noise is flat.
    #[default]
    #[serde(alias = "Flat", alias = "Three")]
    Pink,
    /// 1.5 dB per octave: roughly the slope of full mixes (common practice, no source).
    #[serde(alias = "FourAndHalf")]
    Mix,
    /// 3 dB per octave: brown noise is flat.
    Brown,
}

impl Tilt {
    /// All three.
    pub const ALL: [Self; 3] = [Self::Pink, Self::Mix, Self::Brown];

    /// The tilt in dB per octave.
    pub fn db_per_octave(self) -> f64 {
        match self {
            Self::Pink => 0.0,
            Self::Mix => 1.5,
            Self::Brown => 3.0,
        }
    }

    /// Name for a button.
    pub fn name(self) -> &'static str {
        match self {
            Self::Pink => "0",
            Self::Mix => "1.5",
            Self::Brown => "3",
        }
    }
}

/// The user's settings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(from = "serde_json::Value", into = "serde_json::Value")]
pub struct Settings {
    /// Version of the format that was read or is written.
    pub version: u32,
    /// Dark or light.
    pub theme: ThemeName,
    /// Scale of the screen in per cent, [`SCALES`].
    pub scale_percent: u16,
    /// Tilt of the spectrum.
    pub tilt: Tilt,
    /// Which average the lanes show.
    pub averaging: Averaging,
    /// Whether the peak hold of the spectrum is shown.
    pub peak_hold: bool,
    /// Upper end of the level axis in dBFS, [`TOPS_DB`].
    pub top_db: f64,
    /// Length of the level axis in dB, [`SPANS_DB`].
    pub span_db: f64,
    /// The stored reference trace.
    pub reference: Option<Reference>,
    /// Label of the song's first sample; carries the frame rate.
    pub start: Timecode,
    /// The delivery target.
    pub target: Target,
    /// Edges of the six named bands.
    pub band_edges: BandEdges,
    /// Whether the host's track colour replaces that of the role.
    pub track_colour: bool,
    /// How the layer was recorded.
    pub recording: Recording,
    /// Aims for the shares of the roles.
    pub balance: BalanceTarget,
    /// The stretch of time for the shares in the lanes and the table.
    pub stretch: Stretch,
    /// Temperature of the air in °C, for the speed of sound.
    pub celsius: f64,
    /// The limits of findings.
    pub rules: Rules,
    /// The length of time that the lanes show.
    pub reach: LaneSpan,
    /// Folder for exports; if empty, the documented default.
    pub export_folder: String,
}

/// The length of time that the lanes show.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum LaneSpan {
    /// 30 s.
    HalfMinute,
    /// 2 min.
    #[default]
    TwoMinutes,
    /// 10 min.
    TenMinutes,
    /// All audio so far.
    Whole,
}

impl LaneSpan {
    /// All four.
    pub const ALL: [Self; 4] = [Self::HalfMinute, Self::TwoMinutes, Self::TenMinutes, Self::Whole];

    /// Its length in tenths; `None` means the whole programme.
    pub fn tenths(self) -> Option<u32> {
        match self {
            Self::HalfMinute => Some(300),
            Self::TwoMinutes => Some(1_200),
            Self::TenMinutes => Some(6_000),
            Self::Whole => None,
        }
    }

    /// Name for a button.
    pub fn name(self) -> &'static str {
        match self {
            Self::HalfMinute => "30 s",
            Self::TwoMinutes => "2 min",
            Self::TenMinutes => "10 min",
            Self::Whole => "Whole",
        }
    }
}

/// Name of an average, for legends and buttons.
pub(crate) fn averaging_name(averaging: Averaging) -> &'static str {
    match averaging {
        Averaging::Fast => "Fast",
        Averaging::Slow => "Slow",
        Averaging::SinceReset => "Since reset",
    }
}

/// Longest name of an export folder, in bytes.
pub const LONGEST_FOLDER: usize = 4_096;

/// Air temperature of a new instance, °C.
pub const USUAL_CELSIUS: f64 = 20.0;
/// Scales the user may choose, in per cent.
pub const SCALES: [u16; 8] = [75, 85, 100, 115, 130, 150, 175, 200];
/// Upper ends of the level axis, dBFS.
pub const TOPS_DB: std::ops::RangeInclusive<f64> = -60.0..=24.0;
/// Lengths of the level axis, dB.
pub const SPANS_DB: std::ops::RangeInclusive<f64> = 20.0..=160.0;

impl Default for Settings {
    fn default() -> Self {
        Self {
            version: VERSION,
            theme: ThemeName::default(),
            scale_percent: 100,
            tilt: Tilt::default(),
            averaging: Averaging::default(),
            peak_hold: true,
            top_db: 0.0,
            span_db: 90.0,
            reference: None,
            start: Timecode::zero(FrameRate::default()),
            target: Target::default(),
            band_edges: BandEdges::default(),
            track_colour: false,
            recording: Recording::default(),
            balance: BalanceTarget::default(),
            stretch: Stretch::default(),
            celsius: USUAL_CELSIUS,
            rules: Rules::default(),
            reach: LaneSpan::default(),
            export_folder: String::new(),
        }
    }
}

impl Settings {
    /// Steps to the next larger or smaller scale; does nothing at the ends.
    pub fn scale_step(&mut self, larger: bool) {
        let next = if larger {
            SCALES.into_iter().find(|&s| s > self.scale_percent)
        } else {
            SCALES.into_iter().rev().find(|&s| s < self.scale_percent)
        };
        self.scale_percent = next.unwrap_or(self.scale_percent);
    }

    /// Steps to the next average, and from the last to the first.
    pub fn next_averaging(&mut self) {
        let at = Averaging::ALL.iter().position(|&a| a == self.averaging).unwrap_or(0);
        self.averaging = Averaging::ALL[(at + 1) % Averaging::ALL.len()];
    }

    /// The average drawn behind the current one: the next slower, if there is one.
    pub fn behind(&self) -> Option<Averaging> {
        match self.averaging {
            Averaging::Fast => Some(Averaging::Slow),
            Averaging::Slow => Some(Averaging::SinceReset),
            Averaging::SinceReset => None,
        }
    }
}
