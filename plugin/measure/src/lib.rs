//! The arithmetic of Plumbline: samples in, readings out.
//!
//! # The way of the data
//! [`Analyzer`] takes samples with their [`Position`] and gives a [`Tenth`] for every 100 ms cell of the song's
//! own time grid; everything slower is a sum of tenths ([`Programme`] for loudness), coherence apart, which is
//! an average over 2 s that the tenth carries as a value. [`Analyzer::fill`] writes the newest readings into a
//! [`View`], which is all that a screen or a report needs.
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
mod balance;
pub mod bands;
pub mod cells;
mod coherence;
pub mod cross;
pub mod delivery;
mod digest;
pub mod findings;
pub mod joins;
mod lanes;
pub mod leave_out;
mod log;
pub mod loudness;
mod meters;
pub mod mics;
pub mod moment;
mod onsets;
pub mod pair;
mod plan;
mod powers;
pub mod presence;
mod programme;
pub mod rate;
pub mod reading;
mod role;
pub mod session;
mod spread;
mod stats;
mod stft;
mod tenth;
pub mod timecode;
mod timeline;
pub mod verdict;
mod view;
pub mod window;

pub use analyzer::{Analyzer, LARGEST_SAMPLE};
pub use balance::{Balance, Mark, Over, Peer, Question, Reported, Together, Whole, WholeAnswer};
pub use bands::{BandEdges, Span};
pub use cross::Cross;
pub use digest::Digest;
pub use findings::{Finding, Kind, Rules};
pub use joins::{Join, Joiner};
pub use lanes::{Column, Lanes, Lens, MOST_COLUMNS, Reach};
pub use log::{Log, MOST_ENTRIES, PassageLine, Past};
pub use mics::{Mic, Mics, MicsVerdict, PairLine, Trial};
pub use moment::Moment;
pub use programme::Programme;
pub use rate::{RateError, SampleRate};
pub use reading::{Coherent, Gate, Maybe, Readings};
pub use role::{PARTS, Role};
pub use session::{BalanceTarget, Identity, LayerId, Session, Stretch};
pub use stats::Summary;
pub use tenth::{Faults, Grid, Onset, Position, Tenth, TimeSums};
pub use timecode::{FrameRate, Timecode};
pub use timeline::Timeline;
pub use view::{Averaging, Clock, Health, Loudness, Meters, Spectral, View};
