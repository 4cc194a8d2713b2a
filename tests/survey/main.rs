//! The built command `plumbline`: exit codes, messages, and files written, on synthetic files.
#![expect(clippy::cast_possible_truncation, reason = "files are made byte by byte")]

mod cues;
mod files;
mod folder;
mod formats;
mod loudness;
mod marks;
mod microphones;
mod pipes;
mod refused;
mod report;
mod rig;
mod stop;
mod words;
