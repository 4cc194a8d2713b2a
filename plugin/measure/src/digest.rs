//! The part of a tenth that other layers need.

use crate::bands::{THIRDS, WINDOWS, third_centre_hz, window_for};
use crate::cross::{StereoPower, Stored};
use crate::tenth::{Grid, Tenth};
use serde::{Deserialize, Serialize};

/// One tenth of one layer, as its peers see it.
///
/// # Shape
/// Mean squares, not sums: full scale is 1.0, so a full-scale sine in both channels has `ll = rr = 0.5`. A third
/// whose window had no frame in the tenth is all zero, and the bit of its window in `heard` is 0.
///
/// ```
/// use plumbline_measure::{Digest, Tenth, TimeSums};
///
/// let sums = TimeSums { k: 480.0, frames: 4_800, ..TimeSums::default() };
/// let digest = Digest::from(&Tenth { sums, length: 4_800, ..Tenth::default() });
/// assert_eq!(digest.k, 0.1);
/// assert!(digest.is_whole() && !digest.has_third(17));
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Digest {
    /// Which clock `index` counts on.
    pub grid: Grid,
    /// Index of the tenth: it covers song time index/10 s to (index+1)/10 s.
    pub index: i64,
    /// Length of the tenth in samples.
    pub length: u32,
    /// Samples of it that were heard.
    pub frames: u32,
    /// Samples lost before they were measured.
    pub lost: u32,
    /// K-weighted mean square over the whole length, counting what was not heard as silence (BS.1770-5, channel weights
    /// applied). 0 in silence.
    pub k: f64,
    /// Bit w is set if window w (0 is the longest) had a frame in the tenth.
    pub heard: u8,
    /// The thirds, 20 Hz to 20 kHz: mean squares. A mono layer counts as panned to the centre by the equal-power law,
    /// −3.01 dB to either side, so that both sides add up to one channel's energy, as in `k`.
    pub thirds: [Stored; THIRDS],
}

impl Digest {
    /// The same tenth without sound.
    #[must_use]
    pub fn silent(&self) -> Self {
        Self { k: 0.0, thirds: [Stored::default(); THIRDS], ..*self }
    }

    /// Whether all of the tenth was heard, and none of it lost.
    pub fn is_whole(&self) -> bool {
        self.frames == self.length && self.lost == 0
    }

    /// Whether third `third` was measured in this tenth.
    pub fn has_third(&self, third: usize) -> bool {
        self.heard >> window_for(third_centre_hz(third)) & 1 == 1
    }
}

impl From<&Tenth> for Digest {
    fn from(tenth: &Tenth) -> Self {
        let heard = (0..WINDOWS).filter(|w| tenth.frames_of[*w] > 0).fold(0, |bits, w| bits | 1 << w);
        // BS.1770-5 counts a single channel once; measured as two equal channels, it has twice the energy.
        let pan = if tenth.channels == 1 { 0.5 } else { 1.0 };
        let mut thirds = tenth.thirds;
        for (third, sum) in thirds.iter_mut().enumerate() {
            let frames = tenth.frames_of[window_for(third_centre_hz(third))];
            *sum = if frames == 0 {
                Stored::default()
            } else {
                Stored::from(StereoPower::from(*sum) * (pan / f64::from(frames)))
            };
        }
        Self {
            grid: tenth.grid,
            index: tenth.index,
            length: tenth.length,
            frames: tenth.sums.frames,
            lost: tenth.faults.lost,
            k: if tenth.length == 0 { 0.0 } else { tenth.sums.k / f64::from(tenth.length) },
            heard,
            thirds,
        }
    }
}
