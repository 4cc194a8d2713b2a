//! A tenth: the measurements of one 100 ms cell of the song's own time grid.

use crate::bands::{BANDS, THIRDS, WINDOWS};
use crate::cross::{StereoPower, Stored};
use crate::reading::{Coherent, Maybe};
use serde::{Deserialize, Serialize};

/// Which clock a position counts on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Grid {
    /// The host's song position.
    Song,
    /// The computer's monotonic clock, while the transport is stopped or the host gives no position.
    #[default]
    Clock,
}

/// A position: which grid, and the sample on it. Song positions may be negative (pre-roll).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Position {
    /// The grid.
    pub grid: Grid,
    /// The sample, 0 at the start of the song.
    pub sample: i64,
}

/// Power sums of the time domain over one tenth or cell, not divided by its length.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TimeSums {
    /// Σ left².
    pub ll: f64,
    /// Σ right².
    pub rr: f64,
    /// Σ left·right.
    pub lr: f64,
    /// Σ left and Σ right, for the DC offset.
    pub dc: [f64; 2],
    /// Σ of the K-weighted squares of all channels, channel weights applied (BS.1770-5).
    pub k: f64,
    /// Samples summed.
    pub frames: u32,
}

impl TimeSums {
    /// The matrix of mean squares.
    pub fn mean_squares(&self) -> StereoPower {
        let frames = f64::from(self.frames.max(1));
        StereoPower { ll: self.ll / frames, rr: self.rr / frames, re: self.lr / frames }
    }

    /// The matrix of mean squares without DC, which would count as common sound. A sum that is not finite becomes 0.
    pub fn without_dc(&self) -> StereoPower {
        let frames = f64::from(self.frames.max(1));
        let [l, r] = self.dc.map(|dc| dc / frames);
        let finite = |x: f64| if x.is_finite() { x } else { 0.0 };
        StereoPower {
            ll: finite(self.ll / frames - l * l).max(0.0),
            rr: finite(self.rr / frames - r * r).max(0.0),
            re: finite(self.lr / frames - l * r),
        }
    }
}

impl std::ops::AddAssign for TimeSums {
    fn add_assign(&mut self, other: Self) {
        self.ll += other.ll;
        self.rr += other.rr;
        self.lr += other.lr;
        self.dc = [self.dc[0] + other.dc[0], self.dc[1] + other.dc[1]];
        self.k += other.k;
        self.frames += other.frames;
    }
}

/// Faults in the input of a tenth; all zero if there were none.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Faults {
    /// Samples lost before they reached the analyser (a full queue).
    pub lost: u32,
    /// Samples that were NaN or infinite; measured as silence.
    pub not_finite: u32,
}

/// The strongest onset in a tenth.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Onset {
    /// Samples after the start of the tenth.
    pub at: u32,
    /// Ratio of the spectral flux to its adaptive threshold; 0 when there is no onset.
    pub strength: f32,
}

/// One tenth: sums, from which everything slower is made, and a few values that are not sums.
///
/// # Shape
/// Spectral matrices are sums over the analysis frames whose centre is in the tenth; divide by the window's count in
/// `frames_of`. Where the audio starts or jumps, a tenth may have no frame of the longest window.
///
/// # Example
/// A second is the sum of ten tenths.
/// ```
/// use plumbline_measure::{Tenth, TimeSums};
///
/// let tenth = |index: i64| {
///     let loud = if index < 5 { 0.2 } else { 0.0 };
///     let sums = TimeSums { ll: 4_800.0 * loud, rr: 4_800.0 * loud, frames: 4_800, ..TimeSums::default() };
///     Tenth { index, length: 4_800, sums, ..Tenth::default() }
/// };
/// let mut second = TimeSums::default();
/// (0..10).for_each(|index| second += tenth(index).sums);
/// assert_eq!(second.frames, 48_000);
/// assert!((second.mean_squares().level_dbfs() - 10.0 * 0.2_f64.log10()).abs() < 1e-9);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Tenth {
    /// Which clock `index` counts on.
    pub grid: Grid,
    /// Index of the tenth: it covers song time index/10 s to (index+1)/10 s.
    pub index: i64,
    /// Time-domain sums. `sums.frames` less than `length` marks a tenth that was heard only in part.
    pub sums: TimeSums,
    /// Length of the tenth in samples.
    pub length: u32,
    /// Channels of the layer, 1 or 2; 0 in a tenth that no analyser made. One channel is measured as two equal ones,
    /// except that `sums.k` counts it once.
    pub channels: u8,
    /// Faults in the input.
    pub faults: Faults,
    /// Largest sample magnitude, left and right, linear.
    pub sample_peak: [f32; 2],
    /// Largest true peak (BS.1770-5 Annex 2), left and right, linear.
    pub true_peak: [f32; 2],
    /// Samples at or over full scale, left and right.
    pub overs: [u32; 2],
    /// Samples in flat tops, left and right: runs of [`FLAT_RUN`](crate::FLAT_RUN) or more at full scale. A run that
    /// reaches over the end of a tenth continues in the next.
    pub flat: [u16; 2],
    /// Longest run of samples that are digital silence in all channels; a run that began in an earlier tenth counts
    /// from its own beginning.
    pub zeros: u32,
    /// The strongest onset.
    pub onset: Onset,
    /// Largest momentary loudness among the 10 ms cells that end in the tenth, LUFS.
    pub max_momentary: Maybe,
    /// Short-term loudness at the end of the tenth, LUFS: the last thirty tenths heard.
    pub short_term: Maybe,
    /// Lowest time-domain correlation (300 ms) among the cells that end in the tenth.
    pub lowest_correlation: Maybe,
    /// Analysis frames summed, longest window first.
    pub frames_of: [u16; WINDOWS],
    /// Thirds, 20 Hz to 20 kHz: sums over frames.
    pub thirds: [Stored; THIRDS],
    /// Named bands: sums over frames.
    pub bands: [Stored; BANDS],
    /// 20 Hz to 20 kHz from the longest window: sum over frames.
    pub whole: Stored,
    /// Coherence of the thirds, as of the last long frame of the tenth: averaged over the 2 s before.
    pub coherent_thirds: [Coherent; THIRDS],
    /// Coherence of the named bands.
    pub coherent_bands: [Coherent; BANDS],
    /// Coherence of 20 Hz to 20 kHz.
    pub coherent_whole: Coherent,
}

impl Tenth {
    /// Whether all of the tenth was heard, and none of it lost.
    pub fn is_whole(&self) -> bool {
        self.sums.frames == self.length && self.faults.lost == 0
    }
}
