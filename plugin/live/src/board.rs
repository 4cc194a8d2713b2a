//! The board: how layers of any process and any plug-in format find and hear each other.
//!
//! Each layer owns one memory-mapped file in a folder private to the user ([`folder`]). The file holds the layer's
//! identity, its latest [`Digest`](plumbline_measure::Digest)s and its latest audio ([`layout`]). The layer locks the
//! file for life: another process that can take the lock knows that the owner is dead, and removes the file. The worker
//! of each process writes its layers' files ([`Publisher`]) and reads all files, its own included, so that all layers
//! have the same latency ([`BoardReader`]). The audio thread takes no part.
//!
//! # Limits
//! - Any program of the same user can write to the files. Readers check every number and bound, so a bad file cannot
//!   crash them; a forger who also matches the checksums can give false readings.
//! - Audio has no checksum: NaN and ∞ become silence, other damage is compared as it is.
//! - On Unix, truncating a file in the microseconds between the check of its length and its use ends the process, as
//!   with any memory-mapped file.
//! - On macOS and Windows the clocks of two processes are aligned once, when each starts: setting the computer's time of
//!   day in between shifts tenths of the clock grid by as much, and so does a sleep on macOS. Linux has one clock for all
//!   processes. Song time is not affected.
//! - Paths and locks on Windows are tested under Wine 8; those on macOS are untested.

mod digests;
mod file;
#[cfg(target_os = "linux")]
mod file_system;
mod folder;
mod identity;
mod layer_numbers;
mod layout;
mod mapping;
#[cfg(all(test, loom))]
mod models;
mod own_mappings;
mod peer;
mod publisher;
mod reader;
mod rights;
mod ring;
mod seqlock;
#[cfg(target_os = "linux")]
mod usual_folder;
mod writer;

pub(crate) use folder::Folder;
pub(crate) use identity::{Head, clean_name};
pub(crate) use layer_numbers::Numbers;
pub(crate) use publisher::{Born, Publisher, State};
pub(crate) use reader::{BoardEntry, BoardReader};

#[cfg(test)]
mod tests;
