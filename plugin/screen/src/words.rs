//! Verdicts in words that only a live session needs; those that files need too are in [`plumbline_report::words`].

mod balance;
mod delivery;
mod layers;
mod log;
mod mics;

pub use balance::balance;
pub use delivery::delivery;
pub use layers::{Flag, MatchWords, flags, loss, matched, note};
pub(crate) use layers::{no_layers, note_in_short, session, session_in_short, without_roles};
pub use log::dropped;
pub use mics::{mic_name, mics, pair};
pub use plumbline_report::words::{
    Context, State, VerdictText, aim_words, capital, gain_db, mono, phase, unaccounted, width, with_sigma,
};

#[cfg(test)]
#[path = "words/tests.rs"]
mod tests;
