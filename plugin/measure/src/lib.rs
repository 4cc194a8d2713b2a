//! The arithmetic of Plumbline: samples in, readings out.
//!
//! # The way of the data
//! [`Analyzer`] takes samples with their [`Position`] and gives a [`Tenth`] for every 100 ms cell of the song's
//! own time grid; everything slower is a sum of tenths, coherence apart, which is an average over 2 s that the tenth
//! carries as a value. [`Analyzer::fill`] writes the newest readings into a [`Glance`]. What follows from tenths is the
//! part of `plumbline_programme`.
//!
//! # Conventions
//! - Samples are `f32` with full scale 1.0. Levels are mean squares against a full-scale sine (AES17): a
//!   full-scale sine in both channels reads 0 dBFS.
//! - Suffixes carry units: `_db`, `_dbfs`, `_lufs`, `_lu`, `_dbtp`, `_hz`, `_secs`.
//! - An absent reading is `None`: never 0, −∞ or NaN. The one infinite reading is a mono loss of −∞ dB, which
//!   means that mono cancels the sound altogether.
//! - No host, clock, thread, file or pixel here, and no unsafe code. Any split of the input into blocks gives
//!   bit-equal tenths.
//!
//! `docs/measures.md` documents each reading with its source, tolerance and the test that proves it.
#![forbid(unsafe_code)]

mod analyzer;
mod averages;
pub mod bands;
mod cells;
mod coherence;
pub mod cross;
mod digest;
mod effective_averages;
mod filter_bank;
mod glance;
pub mod loudness;
mod meters;
mod onsets;
mod powers;
pub mod rate;
pub mod reading;
mod stft;
mod tenth;
#[cfg(any(test, feature = "test-support"))]
pub mod test_support;
pub mod timecode;
mod window;

pub use analyzer::{Analyzer, LARGEST_SAMPLE};
pub use bands::{BandEdges, Span};
pub use cross::StereoPower;
pub use digest::Digest;
pub use glance::{Averaging, Glance, Loudness, Meters, SPANS, Spectral, WHOLE_SPAN};
pub use rate::{RateError, SampleRate};
pub use reading::{Coherent, Gate, Maybe, Readings};
pub use tenth::{Faults, Grid, Onset, Position, Tenth, TimeSums};
pub use timecode::{FrameRate, Timecode};
