//! Audio files in and out: samples, channels, rates and times as the files state them. Measures nothing.
//!
//! - [`Reader`] reads one file in blocks. Memory does not grow with the file.
//! - [`Stems`] puts several files on one time line at one rate and reads them in step.
//! - [`copy_with_marks`] writes a copy of a WAV with cue points and labels; [`cue_points`] reads them.
//!
//! # Example
//! ```
//! # let path = std::env::temp_dir().join(format!("plumbline-audio-{}.wav", std::process::id()));
//! # let spec = hound::WavSpec { channels: 2, sample_rate: 48_000, bits_per_sample: 16, sample_format: hound::SampleFormat::Int };
//! # let mut wav = hound::WavWriter::create(&path, spec)?;
//! # for _ in 0..1_000 { wav.write_sample(16_384_i16)?; wav.write_sample(-8_192_i16)?; }
//! # wav.finalize()?;
//! use plumbline_audio::Reader;
//!
//! let mut reader = Reader::open(&path)?;
//! assert_eq!((reader.rate_hz(), reader.channels(), reader.frames()), (48_000, 2, Some(1_000)));
//! let mut block = vec![vec![0.0; 256]; reader.channels()];
//! let mut frames = 0;
//! loop {
//!     let count = reader.read(&mut block)?;
//!     if count == 0 {
//!         break;
//!     }
//!     assert!(block[0][..count].iter().all(|sample| *sample == 0.5));
//!     assert!(block[1][..count].iter().all(|sample| *sample == -0.25));
//!     frames += count;
//! }
//! assert_eq!(frames, 1_000);
//! # std::fs::remove_file(path)?;
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![forbid(unsafe_code)]

mod cue;
mod reader;
mod riff;
mod stems;

pub use cue::{CueError, CuePoints, CueReadError, GoOn, Mark, copy_with_marks, cue_points};
pub use reader::{CHANNELS_MOST, RATES_HZ, ReadError, Reader};
pub use stems::{Options, StemFile, StemInfo, Stems, StemsError};
