//! Audio files in and out. Knows no measure: samples, channels, rates and times as the files tell them.
//!
//! - [`Reader`] hands out an audio file in blocks, with memory that does not grow with the file.
//! - [`Stems`] puts several on one time line, brings them to one rate, and hands them out in step.
//! - [`copy_with_marks`] puts cue points and labels into a copy of a WAV.
#![forbid(unsafe_code)]

mod cue;
mod reader;
mod riff;
mod stems;

pub use cue::{CueError, GoOn, Mark, copy_with_marks};
pub use reader::{CHANNELS_MOST, RATES_HZ, ReadError, Reader};
pub use stems::{Options, StemFile, StemInfo, Stems, StemsError};
