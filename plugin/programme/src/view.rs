//! All that a screen or a report shows of one layer at one moment: plain data, owned, cheap to copy.

use crate::balance::Mark;
use crate::log::{Log, Past};
use crate::mics::{Mics, Trial};
use crate::role::highest;
use crate::session::Session;
use crate::time_lanes::Lanes;
use crate::verdict::Verdicts;
use plumbline_measure::{
    Averaging, BandEdges, Glance, Grid, Loudness, Meters, Position, SampleRate, Spectral, Tenth,
};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// Faults of the signal since reset; all zero is good.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Health {
    /// Number of times audio was lost between host and analyser.
    pub gaps: u64,
    /// Samples lost in them.
    pub lost_frames: u64,
    /// Samples that were NaN or infinite and were measured as silence.
    pub not_finite: u64,
    /// Number of jumps of the transport.
    pub jumps: u64,
}

/// Time and transport of the measurement.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Clock {
    /// Position of the latest sample measured.
    pub position: Position,
    /// Sample rate in Hz; 0 before the first block.
    pub rate_hz: u32,
    /// Whether the transport plays.
    pub playing: bool,
    /// Whether audio arrived recently.
    pub running: bool,
    /// Channels of the main bus, 1 or 2.
    pub channels: u8,
}

/// One layer at one moment.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct View {
    /// Increases with every new view; equal serials mean equal views.
    pub serial: u64,
    /// Time and transport.
    pub clock: Clock,
    /// Frequency of each line of the spectra in Hz, ascending, 120 per octave.
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
    /// The latest samples for the stereo scope, left and right, oldest first.
    pub scope: Vec<[f32; 2]>,
    /// The verdicts, as data.
    pub verdicts: Verdicts,
    /// Faults of the signal since reset.
    pub health: Health,
    /// All layers of the session, this one included.
    pub session: Arc<Session>,
    /// The pairs of microphones compared.
    pub mics: Arc<Mics>,
    /// A repair being tried out on this layer; it alters the sound heard and measured.
    pub trial: Option<Trial>,
    /// The latest tenths, oldest first.
    pub recent: Vec<Tenth>,
    /// The time lanes.
    pub lanes: Arc<Lanes>,
    /// Findings, joins, marks and statistics.
    pub log: Arc<Log>,
    /// The past moment that the rest of this view describes; `None` for the present. Lanes, log, clock and health are
    /// always those of the present.
    pub past: Option<Past>,
}

impl From<Glance> for View {
    /// A view with the readings of an analyser only.
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

    /// The moment shown: the past one if set, otherwise the present. `None` before the first block.
    pub fn moment(&self) -> Option<Mark> {
        let now = || {
            let (position, rate) = (self.clock.position, SampleRate::new(self.clock.rate_hz).ok()?);
            Some(Mark { grid: position.grid, index: rate.tenth_of(position.sample) })
        };
        self.past.map(|past| past.at).or_else(now)
    }

    /// Seconds from the past moment shown to the latest tenth; negative if the moment is later. Absent without a past
    /// moment, or if the latest tenth on its clock is unknown.
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

    /// True peak minus integrated loudness, dB; absent if either is.
    pub fn peak_to_loudness_db(&self) -> Option<f64> {
        Some(self.true_peak_dbtp()? - self.loudness.integrated_lufs?)
    }

    /// Samples in flat tops since reset, both channels together.
    pub fn clipped(&self) -> u64 {
        self.meters.flat[0].saturating_add(self.meters.flat[1])
    }

    /// The larger DC offset of both channels, as a share of full scale; absent without a reading.
    pub fn dc(&self) -> Option<f64> {
        self.meters.dc.iter().flatten().filter(|dc| dc.is_finite()).map(|dc| dc.abs()).reduce(f64::max)
    }
}
