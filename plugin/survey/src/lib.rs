//! Plumbline off line: reads audio files, and makes the bell-tower scene that the demo and the tests listen to.
//!
//! - [`Reader`] hands out a WAV, FLAC or AIFF file in blocks, with memory that does not grow with the file.
//! - [`scene`] synthesises stems and a mix whose faults are known from how they were made.
//!
//! The command `plumbline` is a thin shell around this library.
#![forbid(unsafe_code)]

mod reader;
pub mod scene;

pub use reader::{ReadError, Reader};
