//! What a screen or a report shows of one layer at one moment: plain data, owned, cheap to copy.

use crate::balance::Mark;
use crate::lanes::Lanes;
use crate::log::{Log, Past};
use crate::mics::{Mics, Trial};
use crate::role::highest;
use crate::session::Session;
use crate::verdict::Verdicts;
use plumbline_measure::{
    Averaging, BandEdges, Glance, Grid, Loudness, Meters, Position, SampleRate, Spectral, Tenth,
};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

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

impl From<Glance> for View {
    /// A view of an analyser's readings alone.
    fn from(glance: Glance) -> Self {
        Self {
            line_hz: glance.line_hz,
            averages: glance.averages,
            hold_dbfs: glance.hold_dbfs,
            band_edges: glance.band_edges,
            meters: glance.meters,
            loudness: glance.loudness,
            scope: glance.scope,
            health: Health { not_finite: glance.not_finite, ..Health::default() },
            clock: Clock { channels: glance.channels, ..Clock::default() },
            ..Self::default()
        }
    }
}

impl View {
    /// The spectral readings of one average.
    pub fn spectral(&self, averaging: Averaging) -> &Spectral {
        &self.averages[averaging.place()]
    }

    /// Whether positions are song time.
    pub fn on_song_time(&self) -> bool {
        self.clock.position.grid == Grid::Song
    }

    /// The moment shown: a past one, else the present. Absent before the first block.
    pub fn moment(&self) -> Option<Mark> {
        let now = || {
            let (position, rate) = (self.clock.position, SampleRate::new(self.clock.rate_hz).ok()?);
            Some(Mark { grid: position.grid, index: rate.tenth_of(position.sample) })
        };
        self.past.map(|past| past.at).or_else(now)
    }

    /// Seconds from the past moment shown to the newest tenth, negative where it is ahead of that. Absent without a past
    /// moment, or where the two are on different clocks.
    pub fn past_secs(&self) -> Option<f64> {
        let (past, lanes) = (self.past?, &self.lanes);
        let on_lanes = lanes.grid == past.at.grid && !lanes.columns.is_empty();
        let newest = past.newest.get().or(on_lanes.then_some(lanes.newest as f64));
        newest.map(|newest| (newest - past.at.index as f64) / 10.0).filter(|secs| secs.is_finite())
    }

    /// True peak of the louder channel since reset, dBTP; absent without a reading.
    pub fn true_peak_dbtp(&self) -> Option<f64> {
        highest(self.loudness.true_peak_dbtp)
    }

    /// True peak less integrated loudness, dB; absent without either.
    pub fn peak_to_loudness_db(&self) -> Option<f64> {
        Some(self.true_peak_dbtp()? - self.loudness.integrated_lufs?)
    }

    /// Samples at or over full scale since reset, both channels.
    pub fn clipped(&self) -> u64 {
        self.meters.overs[0].saturating_add(self.meters.overs[1])
    }

    /// DC offset of the channel that has more, as a share of full scale; absent without a reading.
    pub fn dc(&self) -> Option<f64> {
        self.meters.dc.iter().flatten().filter(|dc| dc.is_finite()).map(|dc| dc.abs()).reduce(f64::max)
    }
}
