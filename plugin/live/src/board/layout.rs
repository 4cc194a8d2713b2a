//! Layout of a board file: atomics only, so that any bytes are valid values and another process may write meanwhile.
//!
//! The audio ring follows the sheet: channels × capacity samples, one channel after the other.

use super::seqlock::Record;
use crate::sync::{AtomicF32, AtomicU32, AtomicU64};
use plumbline_measure::SampleRate;
use plumbline_measure::bands::THIRDS;

/// First word of a file that is ready to be read.
pub(super) const MAGIC: u64 = u64::from_le_bytes(*b"plumbob\n");
/// Version of the layout and meaning of everything after the magic. Counts up with every change of either.
pub(super) const VERSION: u32 = 4;

/// Digests kept: 6.4 s.
pub(super) const DIGESTS: usize = 64;
/// Stretches of audio kept.
pub(super) const STRETCHES: usize = 64;
/// Seconds of audio kept.
pub(super) const AUDIO_SECS: u32 = 4;

/// Words of a name: 64 bytes.
pub(super) const NAME_WORDS: usize = 8;
/// Words of a head.
pub(super) const HEAD_WORDS: usize = 5 + NAME_WORDS;
/// Words of a layer's present state.
pub(super) const LIVE_WORDS: usize = 3;
/// Words of a digest: four, and three `f32` per third, two to a word.
pub(super) const DIGEST_WORDS: usize = 4 + (THIRDS * 3).div_ceil(2);
/// Words of a stretch of audio.
pub(super) const STRETCH_WORDS: usize = 3;

/// The fixed part of a board file.
#[repr(C)]
#[derive(Debug)]
pub(super) struct Sheet {
    /// [`MAGIC`] while the layer lives; written last and cleared first.
    pub(super) magic: AtomicU64,
    /// [`VERSION`].
    pub(super) version: AtomicU32,
    /// Padding to a whole word; 0.
    pub(super) spare: AtomicU32,
    /// Identity and format.
    pub(super) head: Record<HEAD_WORDS>,
    /// Present state.
    pub(super) live: Record<LIVE_WORDS>,
    /// Digests written so far.
    pub(super) digest_count: AtomicU64,
    /// Digest n is at index n mod 64.
    pub(super) digests: [Record<DIGEST_WORDS>; DIGESTS],
    /// Stretches begun so far.
    pub(super) stretch_count: AtomicU64,
    /// Stretch n is at index n mod 64.
    pub(super) stretches: [Record<STRETCH_WORDS>; STRETCHES],
    /// Frames written or being written: the frames they replace must no longer be read.
    pub(super) frames_claimed: AtomicU64,
    /// Frames written so far; frame n is at index n mod capacity.
    pub(super) frame_count: AtomicU64,
}

/// Bytes of the fixed part.
pub(super) const SHEET_BYTES: usize = size_of::<Sheet>();

/// Frames of the audio ring at a sample rate.
pub(super) fn capacity(rate: SampleRate) -> usize {
    (rate.hz() * AUDIO_SECS) as usize
}

/// Bytes of a whole file.
pub(super) fn file_bytes(rate: SampleRate, channels: usize) -> u64 {
    (SHEET_BYTES + channels * capacity(rate) * size_of::<AtomicF32>()) as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_audio_behind_the_sheet_is_aligned_and_the_sheet_is_small_beside_it() {
        assert_eq!(SHEET_BYTES % align_of::<AtomicF32>(), 0);
        assert_eq!(align_of::<Sheet>(), 8);
        // 64 digests of 53 words and 64 stretches of 5 words, and little else.
        assert!((29_000..31_000).contains(&SHEET_BYTES), "{SHEET_BYTES}");
        let rate = SampleRate::new(48_000).unwrap();
        assert_eq!(file_bytes(rate, 2), SHEET_BYTES as u64 + 2 * 4 * 192_000);
    }
}
