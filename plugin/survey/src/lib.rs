//! Plumbline offline: [`engine`] measures audio files as the plug-in would measure them live, and returns the data for
//! a report. [`marks`] reads marks at cuts from other programs. The command `plumbline` is a thin shell around this
//! library.
#![forbid(unsafe_code)]

pub mod engine;
pub mod marks;
