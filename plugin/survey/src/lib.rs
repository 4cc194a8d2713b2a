//! Plumbline off line: reads audio files, and makes the bell-tower scene that the demo and the tests listen to.
//!
//! - [`Reader`] hands out an audio file in blocks, with memory that does not grow with the file.
//! - [`Stems`] puts several on one time line and hands them out in step.
//! - [`engine`] measures them as the plug-in would, and gives what a report is made of.
//! - [`copy_with_marks`] puts cue points and labels into a copy of a WAV.
//! - [`scene`] synthesises stems and a mix whose faults are known from how they were made.
//!
//! The command `plumbline` is a thin shell around this library.
#![forbid(unsafe_code)]

mod cue;
pub mod engine;
mod reader;
mod riff;
pub mod scene;
mod stems;

pub use cue::{CueError, GoOn, Mark, copy_with_marks};
pub use reader::{CHANNELS_MOST, ReadError, Reader};
pub use stems::{Options, StemFile, StemInfo, Stems, StemsError};
