//! The readings of an analyser at one moment: plain, owned data.

use crate::bands::{BANDS, BandEdges, THIRDS};
use crate::cross::StereoPower;
use crate::reading::{Coherent, Gate, Readings};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// Index of the whole range among the spans; the thirds come first, then the bands.
pub const WHOLE_SPAN: usize = THIRDS + BANDS;
/// Number of spans: thirds, named bands, and 20 Hz to 20 kHz.
pub const SPANS: usize = WHOLE_SPAN + 1;

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
    /// All three, quickest first; the order of [`Glance::averages`].
    pub const ALL: [Self; 3] = [Self::Fast, Self::Slow, Self::SinceReset];

    /// Index in an array of averages.
    pub fn place(self) -> usize {
        match self {
            Self::Fast => 0,
            Self::Slow => 1,
            Self::SinceReset => 2,
        }
    }
}

/// Spectral readings over one kind of average.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Spectral {
    /// Line spectrum in dBFS: power in the cell about each frequency of [`Glance::line_hz`], so that a steady tone
    /// reads its level and noise its power in 1/24 octave; −∞ where there is nothing. Mean of the channels: 10·lg of
    /// the sum of both mean squares.
    pub lines_dbfs: Vec<f32>,
    /// The thirds, 20 Hz to 20 kHz.
    pub thirds: [Readings; THIRDS],
    /// The named bands.
    pub bands: [Readings; BANDS],
    /// 20 Hz to 20 kHz.
    pub whole: Readings,
}

impl Spectral {
    /// Sets the readings of all spans from their sums, each under the gate of its kind. The lines do not change.
    pub fn read(&mut self, cross: &[StereoPower; SPANS], coherent: impl Fn(usize) -> Coherent) {
        let loudest = |spans: &[StereoPower]| spans.iter().map(StereoPower::total).fold(0.0, f64::max);
        let third_gate = Gate::bands(loudest(&cross[..THIRDS]));
        let band_gate = Gate::bands(loudest(&cross[THIRDS..WHOLE_SPAN]));
        for (third, slot) in self.thirds.iter_mut().enumerate() {
            *slot = Readings::of(&cross[third], coherent(third), third_gate);
        }
        for (band, slot) in self.bands.iter_mut().enumerate() {
            *slot = Readings::of(&cross[THIRDS + band], coherent(THIRDS + band), band_gate);
        }
        self.whole = Readings::of(&cross[WHOLE_SPAN], coherent(WHOLE_SPAN), Gate::broadband());
    }
}

/// The latest readings of the time domain.
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
    /// Samples at or over full scale since reset, for left and right.
    pub overs: [u64; 2],
    /// Samples in flat tops since reset, left and right: runs of [`FLAT_RUN`](crate::FLAT_RUN) or more at full scale.
    pub flat: [u64; 2],
    /// DC offset over the last 3 s, left and right, as a share of full scale.
    pub dc: [Option<f64>; 2],
}

/// Loudness now and since reset, in LUFS, LU, dBTP.
///
/// [`Analyzer::fill`](crate::Analyzer::fill) writes all but `integrated_lufs`, `range_lu` and `measured_secs`, which
/// take the tenths of the whole programme: see [`loudness`](crate::loudness).
///
/// # Example
/// ```
/// use plumbline_measure::{Analyzer, BandEdges, Glance, Grid, Position, SampleRate};
///
/// // A square wave of 100 Hz at half of full scale: its samples are at −6.02 dBFS, its true peak is higher.
/// let square: Vec<f32> = (0..24_000).map(|n| if n / 240 % 2 == 0 { 0.5 } else { -0.5 }).collect();
/// let mut analyzer = Analyzer::new(SampleRate::new(48_000)?, 1, BandEdges::default());
/// analyzer.push(Position { grid: Grid::Song, sample: 0 }, &[&square], &mut Vec::new());
/// let mut glance = Glance::default();
/// analyzer.fill(&mut glance);
/// assert!(glance.meters.max_peak_dbfs[0].is_some_and(|peak| (peak + 6.02).abs() < 0.01));
/// assert!(glance.loudness.true_peak_dbtp[0].is_some_and(|peak| peak > -5.5));
/// // 0.5 s is enough for momentary loudness, not for short-term.
/// assert!(glance.loudness.momentary_lufs.is_some() && glance.loudness.short_term_lufs.is_none());
/// # Ok::<(), plumbline_measure::RateError>(())
/// ```
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

/// The newest readings of one layer.
///
/// # Example
/// ```
/// use plumbline_measure::{Analyzer, Averaging, BandEdges, Glance, Grid, Position, SampleRate};
///
/// let sine: Vec<f32> = (0..96_000).map(|n| (std::f32::consts::TAU / 48.0 * n as f32).sin()).collect();
/// let mut analyzer = Analyzer::new(SampleRate::new(48_000)?, 2, BandEdges::default());
/// analyzer.push(Position { grid: Grid::Song, sample: 0 }, &[&sine, &sine], &mut Vec::new());
/// let mut glance = Glance::default();
/// analyzer.fill(&mut glance);
///
/// // 1 kHz is in third 17 of 31. Both channels are equal: no width, nothing lost in mono.
/// let third = glance.spectral(Averaging::Slow).thirds[17];
/// assert!(third.level_dbfs.is_some_and(|level| level.abs() < 0.05));
/// assert!(third.side_share.is_some_and(|share| share < 1e-6));
/// assert!(third.mono_loss_db.is_some_and(|loss| loss > -1e-6));
/// // Nothing sounds at 100 Hz.
/// assert_eq!(glance.spectral(Averaging::Slow).thirds[7].level_dbfs, None);
/// # Ok::<(), plumbline_measure::RateError>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Glance {
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
    /// Channels of the sound, 1 or 2.
    pub channels: u8,
    /// Samples that were NaN or infinite and were measured as silence, since reset.
    pub not_finite: u64,
}

impl Glance {
    /// The spectral readings of one average.
    pub fn spectral(&self, averaging: Averaging) -> &Spectral {
        &self.averages[averaging.place()]
    }
}
