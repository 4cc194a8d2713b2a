//! Marks from other programs: where the sound was cut.
//!
//! # Data flow
//! The bytes of a file become [`Entry`]s, each with a line number, a label or seconds, and perhaps a name:
//! [`read_table`] for CSV, [`read_edit_list`] for CMX 3600, [`from_cues`] for the cue points of a WAV. [`place`] puts
//! them on the time line of a survey. No bytes make any of this panic.

mod cues;
mod edit_list;
mod entry;
mod fault;
mod label;
mod place;
mod table;
mod text;

pub use cues::from_cues;
pub use edit_list::read_edit_list;
pub use entry::Entry;
pub use fault::MarksFault;
pub(crate) use place::nearest_tenth;
pub use place::{Line, Placed, place};
pub use table::read_table;

#[cfg(test)]
mod tests;
