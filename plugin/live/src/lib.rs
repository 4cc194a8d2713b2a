//! From the audio callback to the newest view.
//!
//! # The way of the data
//! ```text
//! host buffer ─ Tap ──► ArrayQueue<Chunk> ──► worker ─ Analyzer ─┬► Tenth ─► History, Programme
//! (audio thread: copies, nothing else)        (one per process)  └► View, made only while watched
//! ```
//!
//! # Who runs where
//! - [`Tap`]: the audio thread, and nobody else. Every method says what it may cost under `# Realtime Safety`.
//! - [`Layer`]: any other thread of the host. Its locks are never taken by the audio thread.
//! - The worker: one named thread for the whole process, started with the first layer and joined when the last
//!   one goes, because hosts unload the binary afterwards.
//!
//! # What is never silent
//! Audio that does not reach the analyser is counted where it is lost, shown in [`Health`], and marked in the
//! tenth it belongs to. A layer whose analysis fails says so in [`Layer::trouble`] and counts what it could not
//! measure; the other layers go on.
//!
//! # Positions
//! While the transport plays and the host gives a song position, samples lie on the song's grid. In every other
//! case they lie on the clock grid: samples counted freely by the tap, moved once at the start of each stretch of
//! audio to the computer's monotonic clock. The worker reads that clock, never the audio thread. All layers of a
//! process share its zero, so tenths of two layers cover the same span to within a round of the worker (8 ms) and
//! a host block; on the song's grid they cover it exactly.
//!
//! # Events of a host
//!
//! | event | tap | worker |
//! |---|---|---|
//! | block size changes | nothing: chunks are 64 frames whatever the blocks are | nothing |
//! | play or stop | ends the chunk, starts a stretch | the grid changes (song, clock), and the tenths that waited for more come out |
//! | jump, loop (position off by more than 8 frames while playing) | ends the chunk, starts a stretch, counts a jump | analyser gets a position that does not continue; a later pass replaces the earlier tenths unless less of them was heard |
//! | position off by 8 frames or fewer | counts on by itself | nothing |
//! | host reset ([`Tap::restart`]) | ends the chunk, starts a stretch | song positions that continue are the song's sound going on, whatever the host reset; the clock grid is moved to the clock anew |
//! | host stops calling | nothing | after 300 ms the view says that no audio runs; the newest tenths wait, so that going on gives what an unbroken run gives |
//! | queue full, real time | drops the chunk, counts its frames; the next chunk that fits tells | loss noted before that chunk |
//! | queue full, offline render | waits for room, 10 s at most, then drops and counts as above | empties the queue |
//! | deactivate, close (tap dropped) | hands over the part-filled chunk and the count of a last loss | queue emptied, loss noted, analyser flushed |
//! | activate again, same rate and channels | new queue | analyser, averages and counts go on; a tenth cut by the pause is kept in its larger part |
//! | rate or channels change | new queue | new analyser; history, programme, maxima and counts stay (tenths are time, not samples); averages start afresh |
//! | band edges move | nothing | new analyser, as above |
//! | user's reset | the next chunk carries it, so the cut lies between two samples; what is gathered by 10 ms cell or by tenth belongs to the side where the cell ends | averages, holds, maxima, programme and health start afresh; history stays, its epoch counts up |
//! | NaN, ∞, denormals | copied as they are | measured as silence and counted (NaN, ∞), or as they are |
//! | slices of unequal length | the shorter counts; the rest is a loss | loss noted |
//! | too few slices | the missing channel is silence; counted as a misfit | nothing |
#![deny(unsafe_code)]

mod board;
mod carried;
mod chunk;
mod clock;
mod desk;
mod guard;
pub mod history;
mod hub;
mod layer;
mod link;
mod measure;
mod seat;
mod tap;
mod worker;

pub use history::History;
pub use layer::{Format, Layer};
pub use link::ROOM_SECS;
pub use plumbline_measure::{Health, RateError, View};
pub use tap::{Stamp, Tap};
