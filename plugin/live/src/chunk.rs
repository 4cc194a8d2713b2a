//! A chunk: a fixed-size piece of audio with tags, on its way from the audio thread to the worker.

/// Frames in a full chunk.
///
/// 64 is the smallest block that hosts commonly use (common practice, no source). Smaller chunks would spend more
/// memory on tags; larger ones would delay the screen.
pub(crate) const CHUNK_FRAMES: usize = 64;

/// The bus that a chunk holds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Bus {
    /// The main input.
    #[default]
    Main,
    /// The side-chain input for the same frames; directly follows its main chunk.
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
    /// Position of the first frame: in the song if `on_song`, else on the tap's free-running count.
    pub(crate) position: i64,
    /// Frames lost directly before this chunk.
    pub(crate) lost: u32,
    /// Jumps of the transport since the previous chunk; several if chunks in between were dropped.
    pub(crate) jumps: u16,
    /// Frames used, 1 to 64.
    pub(crate) frames: u8,
    /// The bus that it holds.
    pub(crate) bus: Bus,
    /// Whether `position` is the song's.
    pub(crate) on_song: bool,
    /// Whether the transport plays.
    pub(crate) playing: bool,
    /// Whether it starts a stretch of audio: at the first block, play, stop, a host reset or a jump.
    pub(crate) start: bool,
    /// Whether the user's reset takes effect before this chunk.
    pub(crate) reset: bool,
    /// Whether a passage begins with this chunk.
    pub(crate) mark: bool,
}

impl Chunk {
    /// A chunk of no frames.
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

    /// Number of frames used.
    pub(crate) fn len(&self) -> usize {
        usize::from(self.frames).min(CHUNK_FRAMES)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tags_cost_little_beside_the_audio() {
        // A queue takes this size times its capacity, so the memory budget depends on it.
        let audio = size_of::<[[f32; CHUNK_FRAMES]; 2]>();
        assert_eq!(audio, 512);
        assert!(size_of::<Chunk>() <= audio + 24, "{}", size_of::<Chunk>());
    }
}
