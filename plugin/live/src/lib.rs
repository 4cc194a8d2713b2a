//! From the audio callback to the newest view.
//!
//! # The way of the data
//! ```text
//! host buffer ─ Tap ─► AudioQueue ─► LayerEngine: intake ─ Analyzer ─┬► audio, Digest ─► this layer's board file
//! (audio thread: copies, nothing else)       (one worker a process)  ├► Tenth ─► record ────┐
//!                                                                    └► Glance ────────────┴► View ◄─┐
//!                              board files of all layers ─► BoardReader ─► session, pairs ───────────┘
//! ```
//! Back go [`Settings`](plumbline_programme::Settings) and [`Command`](plumbline_programme::Command)s alone. What is
//! worked out of tenths and digests is `plumbline_programme`.
//!
//! # Several layers
//! Each open layer has one memory-mapped file in a folder of the user, which the workers of all processes read: that
//! is how layers of any process and plug-in format find each other. `docs/architecture.md` says what is in it and where it
//! is. The environment variable `PLUMBLINE_BOARD_DIR`, read when the worker starts, names another folder (an absolute
//! path; `{pid}` in it is the number of the process): for tests. Tested on Linux and under Wine 8; macOS is written and
//! untested.
//!
//! A file that somebody of the same user cuts short within the microseconds between the check of its length and its use
//! ends the process on Unix. Nothing else in a file can do harm.
//!
//! A balance of the session is kept while somebody looks at the layer, and by a mix while there are layers with another
//! role. A layer that is looked at again starts with the 6.4 s that board files keep.
//!
//! # Trying a repair out
//! While the user wants it (`Settings::trial`), and only then, the layer delays its channels or inverts their polarity
//! ([`Tap::alter`]) before it measures: what is measured is what goes out. `audition` says how that stays free of clicks,
//! waits and latency.
//!
//! # Microphones
//! While somebody looks at a layer, its left is compared with its right, its bus with its side-chain, and up to eight
//! layers of the session with each other: the own audio as it comes, that of others in their files, a few steps a round.
//!
//! # Who runs where
//! - [`Tap`]: the audio thread, and nobody else. Every method says what it may cost under `# Realtime Safety`.
//! - [`Layer`]: any other thread of the host. Its locks are never taken by the audio thread.
//! - The worker: one named thread for the whole process, of ordinary urgency whoever started it. It begins with the first
//!   layer and is joined when the last one goes, because hosts unload the binary afterwards.
//!
//! # What is never silent
//! Audio that does not reach the analyser is counted where it is lost, shown in [`Health`](plumbline_programme::Health), and marked in the
//! tenth it belongs to. A layer whose analysis fails says so in [`Layer::trouble`] and counts what it could not
//! measure; the other layers go on.
//!
//! # Positions
//! While the transport plays and the host gives a song position, samples lie on the song's grid. In every other
//! case they lie on the clock grid: samples counted freely by the tap, moved once at the start of each stretch of
//! audio to the computer's monotonic clock. The worker reads that clock, never the audio thread. All layers of a
//! process share its zero, so tenths of two layers cover the same span to within a round of the worker (8 ms) and
//! a host block; on the song's grid they cover it exactly. Between processes the zeros are set beside each other by the
//! time of day when each process starts, so the clock grid is as exact as that.
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
//! | name, role or colour changes | nothing | the board file says so; peers see it within their next round |
//! | session letter changes | nothing | the board file says so; the balance starts over in the other session, marks stay |
//! | a peer comes | nothing | seen with the next look into the folder (100 ms); its newest 6.4 s are taken along |
//! | a peer goes in order | nothing | its file loses its magic first: gone with the next round, and taken out of the balance |
//! | a peer's process is killed | nothing | the lock of its file is free: found within 500 ms, the file is removed |
//! | a peer's worker hangs | nothing | its beat publishers: after 2 s it counts as not running, and is not waited for |
//! | a peer plays, stops, jumps, loops | nothing | its digests carry grid and index; a later pass replaces the earlier tenths in the balance |
//! | a peer says more than is read (offline render) | nothing | rounds come quickly; what was missed is counted for that peer |
//! | own file removed or cut by somebody | nothing | made anew within 100 ms |
//! | no room for a file | nothing | the layer is alone and says why; tried again after 5 s |
//! | a mark of the user's (`Command::Mark`) | nothing | a passage begins at the tenth of the newest sample measured; the joins measure both sides of it |
//! | a mark of the host's, the parameter `mark` ([`Tap::mark`]) | the next chunk carries it | a passage begins at the tenth of that chunk's first sample |
//! | a project is loaded | nothing | its marks take the place of those there are (`Command::ReplaceMarks`) |
//! | another stretch of time is looked at, or a moment that has passed (`Settings::window`, `Settings::rewound`) | nothing | the views to come show it; measuring goes on, and a closed window returns to now |
//! | a trial is set, changed or ended | takes the new plan with its next block: the delay line takes in as much as it needs, then 20 ms of fade; a change while it fades waits for its end, and the newest wins | the view and the board file say so |
//! | a trial with a fraction, and shorter than 32 samples | rounds the delay to whole samples: no trial adds latency | the view says what was asked |
//! | activate again with a trial on | new delay line; the trial is in force from the first frame, silence before it | as with any activation |
//! | offline render with a trial on | a wire, unless the trial is meant for renders; a host that turns to offline and does not activate anew, though it is asked to, is not noticed | the view says that nothing is tried |
//! | host reset with a trial on | the delay line is silence, a fade is done | as with any reset |
//! | NaN, ∞, denormals | copied as they are; a delay that is tried passes them on and keeps nothing of them | measured as silence and counted (NaN, ∞), or as they are |
//! | slices of unequal length | the shorter counts; the rest is a loss | loss noted |
//! | too few slices | the missing channel is silence; counted as a misfit | nothing |
#![deny(unsafe_code)]

mod audio_queue;
mod audition;
mod board;
mod chunk;
mod clock;
mod engine;
mod guard;
mod layer;
mod marks;
mod measure;
mod priority;
mod registry;
mod shared;
mod since_reset;
mod tap;
mod worker;

pub use audio_queue::ROOM_SECS;
pub use engine::MOST_MOMENTS;
pub use guard::guarded;
pub use layer::{Format, Layer};
pub use plumbline_measure::RateError;
pub use tap::{Stamp, Tap};
