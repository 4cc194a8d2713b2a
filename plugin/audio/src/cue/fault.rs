//! Why marks cannot be read, or a copy with marks cannot be made: one line that names the file and says what to do.

use std::io;
use std::path::PathBuf;
use thiserror::Error;

/// Why a copy with marks cannot be made. No partial copy is left.
#[derive(Debug, Error)]
pub enum CueError {
    /// Not a WAV file.
    #[error("{}: marks can be written into WAV files only (RIFF, RF64, BW64); export the mix as WAV", path.display())]
    NotWav {
        /// The file.
        path: PathBuf,
    },
    /// The sizes in the input do not fit its content.
    #[error("{}: cannot be copied with marks, its chunks are damaged or cut short; export it again", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
    },
    /// The marks would not fit 32-bit numbers.
    #[error("{}: is too long for marks, which count up to 4 GB or 4294967295 frames; export it as RF64, or in parts", path.display())]
    TooLong {
        /// The file.
        path: PathBuf,
    },
    /// The input cannot be read.
    #[error("{}: cannot be read ({cause}); check that it is there and that you may read it", path.display())]
    Input {
        /// The file.
        path: PathBuf,
        /// The system's error.
        cause: io::Error,
    },
    /// The copy's name is taken.
    #[error("{}: is there already, and nothing is replaced; move it away or give another name", path.display())]
    Exists {
        /// The copy.
        path: PathBuf,
    },
    /// The caller asked to stop.
    #[error("{}: was not finished, it was asked to stop; run it again", path.display())]
    Stopped {
        /// The copy.
        path: PathBuf,
    },
    /// The copy cannot be written.
    #[error("{}: cannot be written ({cause}); check the folder and the room on the disk", path.display())]
    Output {
        /// The copy.
        path: PathBuf,
        /// The system's error.
        cause: io::Error,
    },
}

/// Why the cue points of a file cannot be read.
#[derive(Debug, Error)]
pub enum CueReadError {
    /// Not a WAV file.
    #[error("{}: cue points are read from WAV files only (RIFF, RF64, BW64); export the marks as WAV, CSV or EDL", path.display())]
    NotWav {
        /// The file.
        path: PathBuf,
    },
    /// The sizes in the file do not fit its content, or it has more marks than are read.
    #[error("{}: its cue points cannot be read, its chunks are damaged or cut short; export it again", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
    },
    /// The system cannot read the file.
    #[error("{}: cannot be read ({cause}); check that it is there and that you may read it", path.display())]
    Input {
        /// The file.
        path: PathBuf,
        /// The system's error.
        cause: io::Error,
    },
}
