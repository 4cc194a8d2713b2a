//! Why an audio file cannot be measured: one line that names the file and says what to do.

use std::path::PathBuf;
use symphonia::core::errors::Error as DecoderError;
use thiserror::Error;

/// Why an audio file cannot be read. Unless a variant says otherwise, nothing of the file was measured.
#[derive(Debug, Error)]
pub enum ReadError {
    /// No such file.
    #[error("{}: there is no such file; check the name and the folder", path.display())]
    Missing {
        /// The file.
        path: PathBuf,
    },
    /// A folder was given.
    #[error("{}: this is a folder; give an audio file in it", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
    },
    /// The system refuses to read it.
    #[error("{}: cannot be opened ({cause}); check that you may read it", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// The system's error.
        cause: std::io::Error,
    },
    /// An empty file.
    #[error("{}: the file is empty (0 bytes); export it again", path.display())]
    Empty {
        /// The file.
        path: PathBuf,
    },
    /// A WAV with 64-bit sizes that does not state them.
    #[error("{}: begins as an RF64 or BW64 file and does not tell its sizes; copy or export it again", path.display())]
    LongWav {
        /// The file.
        path: PathBuf,
    },
    /// A WAV with 32-bit sizes that is longer than they can express.
    #[error("{}: is over 4 GB with sizes that end there; export it as RF64, or in parts", path.display())]
    Overflown {
        /// The file.
        path: PathBuf,
    },
    /// A pipe, a device or a socket.
    #[error("{}: is a pipe or a device; give a file, since sound is looked at more than once", path.display())]
    NoFile {
        /// What was given.
        path: PathBuf,
    },
    /// A known audio format that ends before its sound can be found.
    #[error("{}: begins as an audio file and is cut short; copy or export it again", path.display())]
    CutShort {
        /// The file.
        path: PathBuf,
    },
    /// No known audio format, or its header is broken.
    #[error("{}: not a WAV, FLAC, AIFF or Ogg Vorbis file that can be read ({cause}); export it as WAV or FLAC", path.display())]
    NotAudio {
        /// The file.
        path: PathBuf,
        /// The decoder's error.
        cause: DecoderError,
    },
    /// A known format without a usable audio track, or with a coding that cannot be read.
    #[error("{}: holds no sound that can be read ({what}); export it as WAV with 16, 24 or 32 bits, or as FLAC", path.display())]
    NoSound {
        /// The file.
        path: PathBuf,
        /// What is missing or cannot be read.
        what: String,
    },
    /// A header and no samples.
    #[error("{}: holds no samples (length 0); export it again", path.display())]
    ZeroLength {
        /// The file.
        path: PathBuf,
    },
    /// A rate outside [`RATES_HZ`](super::RATES_HZ).
    #[error("{}: sample rate {got_hz} Hz is outside {} to {} Hz; nothing was measured; convert it to 48 kHz", path.display(), super::RATES_HZ.start(), super::RATES_HZ.end())]
    Rate {
        /// The file.
        path: PathBuf,
        /// Its rate.
        got_hz: u32,
    },
    /// No channels, or more than can be read.
    #[error("{}: has {got} channels, and 1 to {} are read; export it again or split it. Nothing was measured", path.display(), super::CHANNELS_MOST)]
    Channels {
        /// The file.
        path: PathBuf,
        /// Number of channels.
        got: usize,
    },
    /// The file ends earlier than its header says. All samples that it has were delivered.
    #[error("{}: ends after {got} of {expected} frames; copy or export it again. What is there was read", path.display())]
    Truncated {
        /// The file.
        path: PathBuf,
        /// Frames delivered.
        got: u64,
        /// Frames its header promises.
        expected: u64,
    },
    /// The file stops without the end that its format requires, and does not state its length. All samples that it has
    /// were delivered.
    #[error("{}: stops after {got} frames without its end; copy or export it again. What is there was read", path.display())]
    NoEnd {
        /// The file.
        path: PathBuf,
        /// Frames delivered.
        got: u64,
    },
    /// A damaged place. The samples before it were delivered.
    #[error("{}: damaged after frame {at} ({cause}); copy or export it again. What comes before was read", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// Frames delivered before it.
        at: u64,
        /// The decoder's error.
        cause: DecoderError,
    },
}
