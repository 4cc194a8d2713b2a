//! The format of a layer's audio, and the queue space that it needs.

use crate::chunk::CHUNK_FRAMES;
use plumbline_measure::SampleRate;

/// Seconds of audio that a queue holds before the audio thread has to drop any.
pub const ROOM_SECS: u32 = 4;

/// The format for which a queue is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct StreamFormat {
    /// Sample rate.
    pub(crate) rate: SampleRate,
    /// Channels of the main bus, 1 or 2.
    pub(crate) channels: u8,
    /// Channels of the side-chain, 0 to 2.
    pub(crate) side_channels: u8,
    /// Whether the audio thread may wait for queue space.
    pub(crate) offline: bool,
}

impl StreamFormat {
    /// Chunks in [`ROOM_SECS`], those of the side-chain included.
    pub(crate) fn room(&self) -> usize {
        let frames = self.rate.hz() as usize * ROOM_SECS as usize;
        frames.div_ceil(CHUNK_FRAMES) * self.chunks_a_step()
    }

    /// Chunks pushed together.
    pub(crate) fn chunks_a_step(&self) -> usize {
        if self.side_channels > 0 { 2 } else { 1 }
    }
}
