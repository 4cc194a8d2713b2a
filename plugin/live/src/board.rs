//! The board: how layers of any process and any plug-in format find and hear each other.
//!
//! Each layer owns one memory-mapped file in a folder of the user ([`folder`]), which holds who it is, its newest
//! [`Digest`]s and its newest audio ([`layout`]). It holds a lock on the file as long as it lives, so whoever can take
//! that lock knows that the owner is dead, and removes the file. The worker of each process writes its layers' files
//! ([`Publisher`]) and reads all of them, its own too, so that all layers have the same latency ([`BoardReader`]). The audio
//! thread has no hand in it.
//!
//! # Limits
//! - Whoever runs as the same user can write anything into the files. Readers check every number and every bound, so
//!   they come to no harm; a forger who also makes the checksums fit can lie.
//! - Audio has no checksum: what is no number is silence, other damage is heard.
//! - A file that is cut short by somebody in the microseconds between the check of its length and its use ends the
//!   process on Unix, as any memory-mapped file does.
//! - The clocks of two processes are set beside each other once, when each starts: a computer whose time of day is
//!   set in between shifts tenths of the clock grid by as much. Song time is not concerned.
//! - Paths and locks on Windows are tested under Wine 8; those on macOS are written with the same care, and untested.

mod digests;
mod file;
mod folder;
mod head;
mod layout;
mod mapping;
mod numbers;
mod peer;
mod publisher;
mod reader;
mod ring;
mod seqlock;
mod writer;

pub(crate) use folder::Folder;
pub(crate) use head::{Head, clean_name};
pub(crate) use numbers::Numbers;
pub(crate) use publisher::{Born, Publisher, State};
pub(crate) use reader::{BoardEntry, BoardReader};

#[cfg(test)]
mod tests;
