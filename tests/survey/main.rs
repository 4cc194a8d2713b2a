//! The built command `plumbline`: exit codes, messages, what is written and what is not, on files made here.
#![expect(clippy::cast_possible_truncation, reason = "files are made byte by byte")]

mod cues;
mod files;
mod folder;
mod formats;
mod loudness;
mod microphones;
mod pipes;
mod refused;
mod report;
mod rig;
mod stop;
mod words;
