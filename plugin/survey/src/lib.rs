//! Plumbline off line: [`engine`] measures audio files as the plug-in would measure them live, and gives what a report is
//! made of. The command `plumbline` is a thin shell around this library.
#![forbid(unsafe_code)]

pub mod engine;
