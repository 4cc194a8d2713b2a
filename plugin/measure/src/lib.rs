//! Loudness, spectrum and stereo readings of one sound of one or two channels: samples in, readings out.
//!
//! - **In**: [`Analyzer::push`] takes `f32` samples, one slice per channel, in blocks of any length, each with the
//!   [`Position`] of its first sample on the song's time grid.
//! - **Out, over time**: a [`Tenth`] for each 100 ms of song time. Everything slower is a sum of tenths ([`TimeSums`],
//!   [`StereoPower`], [`loudness`]). Only coherence and out of step, averages over 2 s, are values that a tenth
//!   carries.
//! - **Out, now**: a [`Glance`] whenever [`Analyzer::fill`] is called: spectrum, [`Readings`] per third and band,
//!   [`Meters`], [`Loudness`].
//! - **Units**: full scale is 1.0. Levels are mean squares against a full-scale sine (AES17-2020: in both channels, or
//!   in a mono sound, it reads 0 dBFS). Suffixes name units: `_db`, `_dbfs`, `_lufs`, `_lu`, `_dbtp`, `_hz`, `_secs`.
//! - **Absent**: a reading without enough signal is `None`: never 0, −∞ or NaN. The one infinite reading of this crate
//!   is a mono loss of −∞ dB: the sound cancels in mono.
//!
//! No host, clock, thread, file or unsafe code. Any split of the input into blocks gives bit-equal tenths.
//! `docs/measures.md` documents each reading with its source, its accuracy and the test that proves it.
//!
//! # Example
//! Two seconds of a full-scale sine at 997 Hz in one channel: 0 dBFS (AES17) and −3.01 LUFS (BS.1770-5 Annex 1).
//! ```
//! use plumbline_measure::loudness::{Energy, TENTHS_PER_BLOCK, block_mean_squares, integrated_lufs};
//! use plumbline_measure::{Analyzer, BandEdges, Glance, Grid, Position, SampleRate};
//!
//! let rate = SampleRate::new(48_000)?;
//! let sine: Vec<f32> = (0..96_000).map(|n| (std::f32::consts::TAU * 997.0 / 48_000.0 * n as f32).sin()).collect();
//! let mut analyzer = Analyzer::new(rate, 1, BandEdges::default());
//! let (mut tenths, mut glance) = (Vec::new(), Glance::default());
//! analyzer.push(Position { grid: Grid::Song, sample: 0 }, &[&sine], &mut tenths);
//! analyzer.fill(&mut glance);
//! analyzer.flush(&mut tenths);
//!
//! let near = |got: Option<f64>, expected: f64| got.is_some_and(|got| (got - expected).abs() < 0.01);
//! assert!(near(glance.meters.level_fast_dbfs, 0.0));
//! assert!(near(glance.loudness.momentary_lufs, -3.01));
//!
//! let energies: Vec<_> = tenths.iter().map(|tenth| (tenth.index, Energy::from(tenth))).collect();
//! let blocks = block_mean_squares(&energies, TENTHS_PER_BLOCK);
//! assert!(near(integrated_lufs(blocks.iter().copied()), -3.01));
//! # Ok::<(), plumbline_measure::RateError>(())
//! ```
//! `examples/measure_file.rs` measures a WAV file, `examples/thirds.rs` prints its thirds.
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
mod flat_tops;
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
pub use flat_tops::FLAT_RUN;
pub use glance::{Averaging, Glance, Loudness, Meters, SPANS, Spectral, WHOLE_SPAN};
pub use rate::{RateError, SampleRate};
pub use reading::{Coherent, Gate, Maybe, Readings};
pub use tenth::{Faults, Grid, Onset, Position, Tenth, TimeSums};
pub use timecode::{FrameRate, Timecode};
