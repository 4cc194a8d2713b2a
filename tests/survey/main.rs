//! The built command `plumbline`: exit codes, messages, what is written and what is not, on files made here.

mod files;
mod folder;
mod formats;
mod microphones;
mod pipes;
mod refused;
mod report;
mod rig;
mod stop;
mod words;
