//! What a screen or a report shows of one layer at one moment: plain data, owned, cheap to copy.

use crate::bands::{BANDS, BandEdges, THIRDS};
use crate::lanes::Lanes;
use crate::log::{Log, Past};
use crate::mics::{Mics, Trial};
use crate::reading::Readings;
use crate::session::Session;
use crate::tenth::{Grid, Position, Tenth};
use crate::verdict::Verdicts;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// Which average a spectral reading is taken over.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Averaging {
    /// Exponential, 125 ms (IEC 61672-1 F).
    Fast,
    /// Exponential, 1 s (IEC 61672-1 S).
    #[default]
    Slow,
    /// Everything since the last reset.
    SinceReset,
}

impl Averaging {
    /// All three, quickest first; the order of [`View::averages`].
    pub const ALL: [Self; 3] = [Self::Fast, Self::Slow, Self::SinceReset];
}

/// Spectral readings over one kind of average.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Spectral {
    /// Line spectrum in dBFS: power in the cell about each frequency of [`View::line_hz`] ([`cells`](crate::cells)), so
    /// that a steady tone reads its level and noise its power in 1/24 octave; −∞ where empty. Channel mean: 10·lg of
    /// the sum of both channels' mean squares.
    pub lines_dbfs: Vec<f32>,
    /// The thirds, 20 Hz to 20 kHz.
    pub thirds: [Readings; THIRDS],
    /// The named bands.
    pub bands: [Readings; BANDS],
    /// 20 Hz to 20 kHz.
    pub whole: Readings,
}

/// Time-domain readings, newest.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Meters {
    /// Correlation over the last 300 ms.
    pub correlation: Option<f64>,
    /// Balance over the last 300 ms in dB, right positive.
    pub balance_db: Option<f64>,
    /// Level, exponential 125 ms, dBFS.
    pub level_fast_dbfs: Option<f64>,
    /// Level, exponential 1 s, dBFS.
    pub level_slow_dbfs: Option<f64>,
    /// Sample peak, left and right, dBFS: holds 1 s, then falls 20 dB in 1.7 s (IEC TR 60268-18).
    pub peak_dbfs: [Option<f64>; 2],
    /// Highest sample peak since reset, dBFS.
    pub max_peak_dbfs: [Option<f64>; 2],
    /// Samples at or over full scale since reset, left and right.
    pub overs: [u64; 2],
    /// DC offset over the last 3 s, left and right, as a share of full scale.
    pub dc: [Option<f64>; 2],
}

/// Loudness, newest and since reset. LUFS, LU, dBTP.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Loudness {
    /// Momentary: 400 ms.
    pub momentary_lufs: Option<f64>,
    /// Short-term: 3 s.
    pub short_term_lufs: Option<f64>,
    /// Integrated, gated, since reset.
    pub integrated_lufs: Option<f64>,
    /// Loudness range since reset, LU.
    pub range_lu: Option<f64>,
    /// Highest momentary since reset.
    pub max_momentary_lufs: Option<f64>,
    /// Highest short-term since reset.
    pub max_short_term_lufs: Option<f64>,
    /// Highest true peak since reset, left and right.
    pub true_peak_dbtp: [Option<f64>; 2],
    /// Seconds of song time behind the integrated value.
    pub measured_secs: f64,
}

/// What went wrong on the way here since reset; all zero is good.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Health {
    /// Times that audio was lost between host and analyser.
    pub gaps: u64,
    /// Samples lost in them.
    pub lost_frames: u64,
    /// Samples that were NaN or infinite and were measured as silence.
    pub not_finite: u64,
    /// Jumps of the transport.
    pub jumps: u64,
}

/// Where the measurement stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Clock {
    /// Position of the newest sample measured.
    pub position: Position,
    /// Sample rate in Hz; 0 before the first block.
    pub rate_hz: u32,
    /// Whether the transport plays.
    pub playing: bool,
    /// Whether audio arrived lately.
    pub running: bool,
    /// Channels of the main bus, 1 or 2.
    pub channels: u8,
}

/// One layer at one moment.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct View {
    /// Counts up with every new view; an equal serial means an equal picture.
    pub serial: u64,
    /// Where the measurement stands.
    pub clock: Clock,
    /// Frequency in Hz of each line of the spectra, rising: 120 an octave.
    pub line_hz: Arc<[f32]>,
    /// Fast, slow and since reset, in the order of [`Averaging::ALL`].
    pub averages: [Spectral; 3],
    /// Peak hold of the line spectrum: the highest fast average of each line since reset, dBFS.
    pub hold_dbfs: Vec<f32>,
    /// Edges of the named bands.
    pub band_edges: BandEdges,
    /// Time-domain readings.
    pub meters: Meters,
    /// Loudness.
    pub loudness: Loudness,
    /// The newest samples for the stereo scope, left and right, oldest first.
    pub scope: Vec<[f32; 2]>,
    /// The verdicts, as data.
    pub verdicts: Verdicts,
    /// What went wrong.
    pub health: Health,
    /// The layers that hear each other, this one included.
    pub session: Arc<Session>,
    /// The pairs of microphones that are compared.
    pub mics: Arc<Mics>,
    /// A repair that is being tried out on this layer: what is heard and measured is altered.
    pub trial: Option<Trial>,
    /// The newest tenths, oldest first.
    pub recent: Vec<Tenth>,
    /// What the time lanes show.
    pub lanes: Arc<Lanes>,
    /// Findings, joins, marks and statistics.
    pub log: Arc<Log>,
    /// The moment that has passed of which everything else here is; none is now. Lanes, log, clock and health are of
    /// now in any case.
    pub past: Option<Past>,
}

impl View {
    /// The spectral readings of one average.
    pub fn spectral(&self, averaging: Averaging) -> &Spectral {
        match averaging {
            Averaging::Fast => &self.averages[0],
            Averaging::Slow => &self.averages[1],
            Averaging::SinceReset => &self.averages[2],
        }
    }

    /// Whether positions are song time.
    pub fn on_song_time(&self) -> bool {
        self.clock.position.grid == Grid::Song
    }
}
