//! Why stems cannot be placed on one time line: one line that names the files and says what to do.

use crate::reader::RATES_HZ;
use crate::reader::ReadError;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Why stems cannot be read together. Unless [`ReadError`] says otherwise, nothing was measured.
#[derive(Debug, Error)]
pub enum StemsError {
    /// One of the files cannot be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// No files were given.
    #[error("no files were given; name at least one")]
    NoFiles,
    /// More than two channels, but none chosen.
    #[error("{}: has {got} channels, and a stem is 1 or 2 of them; choose which. Nothing was measured", path.display())]
    ChannelsNotChosen {
        /// The file.
        path: PathBuf,
        /// Number of channels in the file.
        got: usize,
    },
    /// No channels, or more than two, were chosen.
    #[error("{}: {chosen} channels were chosen, and a stem is 1 or 2; choose one or a pair. Nothing was measured", path.display())]
    ChannelCount {
        /// The file.
        path: PathBuf,
        /// Number of channels chosen.
        chosen: usize,
    },
    /// A channel that the file does not have.
    #[error("{}: has no channel {channel}; choose among 1 to {got}. Nothing was measured", path.display())]
    NoSuchChannel {
        /// The file.
        path: PathBuf,
        /// The channel, counted from 1.
        channel: usize,
        /// Number of channels in the file.
        got: usize,
    },
    /// Different sample rates.
    #[error("{}: has {} Hz, and {}; convert them to one rate, or have them resampled. Nothing was measured", first.0.display(), first.1, listed(others))]
    Rates {
        /// The first file and its rate.
        first: (PathBuf, u32),
        /// Files with another rate, and their rates.
        others: Vec<(PathBuf, u32)>,
    },
    /// A rate to resample to that is outside [`RATES_HZ`].
    #[error("cannot resample: sample rate {got_hz} Hz is outside {} to {} Hz; nothing was measured; 48000 Hz suits most", RATES_HZ.start(), RATES_HZ.end())]
    Rate {
        /// The rate asked for.
        got_hz: u32,
    },
    /// Two rates with too few common divisors.
    #[error("{}: cannot be brought from {from_hz} to {to_hz} Hz; convert it first. Nothing was measured", path.display())]
    Resampling {
        /// The file.
        path: PathBuf,
        /// Its rate.
        from_hz: u32,
        /// The rate asked for.
        to_hz: u32,
    },
    /// Time references that cannot belong to one day.
    #[error("{}: starts more than 24 hours after {} by their time references; take them apart, or correct one. Nothing was measured", last.display(), first.display())]
    FarApart {
        /// The file with the earliest time reference.
        first: PathBuf,
        /// The file with the latest time reference.
        last: PathBuf,
    },
}

/// Most files named in a message; the rest are counted.
const NAMED_MOST: usize = 4;

fn listed(files: &[(PathBuf, u32)]) -> String {
    let one = |(path, hz): &(PathBuf, u32)| format!("{} has {hz} Hz", Path::display(path));
    let mut text = files.iter().take(NAMED_MOST).map(one).collect::<Vec<_>>().join(", ");
    if files.len() > NAMED_MOST {
        text += &format!(" and {} more", files.len() - NAMED_MOST);
    }
    text
}
