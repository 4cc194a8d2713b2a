//! What travels from the audio thread to the worker: a fixed-size, plain piece of audio with its tags.

/// Frames in a full chunk.
///
/// 64 is the smallest block that hosts commonly use (common practice, no source): smaller chunks would cost more
/// tags than audio, larger ones would hold sound back from the screen.
pub(crate) const CHUNK_FRAMES: usize = 64;

/// Which bus a chunk holds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Bus {
    /// The main input.
    #[default]
    Main,
    /// The side-chain input of the same frames; follows its main chunk at once.
    Side,
}

/// Up to 64 frames of one bus.
///
/// # Shape
/// Two channels of [`CHUNK_FRAMES`] samples, of which the first [`frames`](Self::frames) count. A mono bus uses
/// the first channel.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Chunk {
    /// Samples by channel.
    pub(crate) samples: [[f32; CHUNK_FRAMES]; 2],
    /// Position of the first frame: in the song, or on the tap's free count (`on_song` says which).
    pub(crate) position: i64,
    /// Frames lost right before this chunk.
    pub(crate) lost: u32,
    /// Jumps of the transport since the chunk before: several, where chunks between were dropped.
    pub(crate) jumps: u16,
    /// Frames used, 1 to 64.
    pub(crate) frames: u8,
    /// Which bus.
    pub(crate) bus: Bus,
    /// Whether `position` is the song's.
    pub(crate) on_song: bool,
    /// Whether the transport plays.
    pub(crate) playing: bool,
    /// Whether it starts a stretch of audio: first block, play, stop, host reset, jump.
    pub(crate) start: bool,
    /// Whether the user's reset takes effect before this chunk.
    pub(crate) reset: bool,
    /// Whether a passage begins with this chunk.
    pub(crate) mark: bool,
}

impl Chunk {
    /// A chunk without a frame in it.
    pub(crate) const EMPTY: Self = Self {
        samples: [[0.0; CHUNK_FRAMES]; 2],
        position: 0,
        lost: 0,
        jumps: 0,
        frames: 0,
        bus: Bus::Main,
        on_song: false,
        playing: false,
        start: false,
        reset: false,
        mark: false,
    };

    /// Frames used, as a length.
    pub(crate) fn len(&self) -> usize {
        usize::from(self.frames).min(CHUNK_FRAMES)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tags_cost_little_beside_the_audio() {
        // The queue's memory is this size times its room, and the budget of memory rests on it.
        let audio = size_of::<[[f32; CHUNK_FRAMES]; 2]>();
        assert_eq!(audio, 512);
        assert!(size_of::<Chunk>() <= audio + 24, "{}", size_of::<Chunk>());
    }
}
