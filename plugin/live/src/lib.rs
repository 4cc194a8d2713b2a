//! From the audio callback to the latest view.
//!
//! # Data flow
//! ```text
//! host buffer ─ Tap ─► AudioQueue ─► LayerEngine: intake ─ Analyzer ─┬► audio, Digest ─► this layer's board file
//! (audio thread: copies, nothing else)       (one worker a process)  ├► Tenth ─► record ────┐
//!                                                                    └► Glance ────────────┴► View ◄─┐
//!                              board files of all layers ─► BoardReader ─► session, pairs ───────────┘
//! ```
//! Only [`Settings`](plumbline_programme::Settings) and [`Command`](plumbline_programme::Command)s travel the other
//! way. `plumbline_programme` draws the conclusions from tenths and digests.
//!
//! # Several layers
//! Each open layer has one memory-mapped file in a folder private to the user. The workers of all processes read these
//! files, so layers find each other across processes and plug-in formats. `docs/architecture.md` describes the files
//! and the folder. For tests, the environment variable `PLUMBLINE_BOARD_DIR` names another folder: an absolute path, in
//! which `{pid}` becomes the process number; it is read when the worker starts. Files are tested on Linux and under
//! Wine 8; untested on macOS.
//!
//! On Unix, the process ends if another program of the same user truncates a file in the microseconds between the check
//! of its length and its use. Nothing else in a file can crash a reader.
//!
//! A layer keeps the balance of its session while it is watched. The first two mixes of a session keep it all the time,
//! as long as the session has a layer with another role. A layer that is watched again starts with the 6.4 s that
//! board files keep.
//!
//! # Trying a repair
//! While a trial is set (`Settings::trial`), the layer delays its channels or inverts their polarity ([`Tap::alter`])
//! before it measures, so it measures what it outputs. `trial` explains how that avoids clicks, waits and latency.
//!
//! # Microphones
//! While a layer is watched, its left channel is compared with its right, its bus with its side-chain, and up to eight
//! layers of the session with each other. Pairs within the layer are compared as audio arrives; pairs of layers are
//! read from the board, a few steps a round.
//!
//! # Threads
//! - [`Tap`]: the audio thread only. Each method states its cost under `# Realtime Safety`.
//! - [`Layer`]: any other thread of the host. The audio thread never takes its locks.
//! - The worker: one named thread per process, at ordinary priority or below, whichever thread started it. It starts
//!   with the first layer and is joined when the last one goes, because hosts unload the binary afterwards.
//!
//! In a forked child a layer does nothing: the worker and the files are its parent's. A layer that joins there starts a
//! worker of its own.
//!
//! # Failures
//! A panic never reaches the host, and the audio never depends on the worker. Each part of a round catches its own
//! panics: the layer says what failed, the others go on, and a reset starts the part again. A panic between the layers
//! has all engines made anew; marks, history and the audio that waits are kept. After more than three of these in 10 s
//! the worker waits for a reset or an opening. A worker that has ended is replaced with the next layer.
//!
//! # No silent losses
//! Audio that does not reach the analyser is counted where it is lost, shown in
//! [`Health`](plumbline_programme::Health), and marked in its tenth. A layer whose analysis fails reports it in
//! [`Layer::trouble`] and counts what it could not measure; the other layers go on.
//!
//! # Positions
//! While the transport plays and the host gives a song position, samples are on the song grid. Otherwise they are on
//! the clock grid: the tap counts samples freely, and at the start of each stretch the worker moves that count to the
//! computer's monotonic clock. The audio thread never reads the clock. All layers of a process share one zero, so
//! tenths of two layers cover the same span to within a round of the worker (8 ms) and a host block; on the song grid
//! they match exactly. Between processes, the zeros are aligned by a clock of the kernel on Linux; elsewhere by the time
//! of day at which each process started, and the clock grid is only as exact as that.
//!
//! # Host events
//!
//! | event | tap | worker |
//! |---|---|---|
//! | block size changes | nothing: chunks are 64 frames at any block size | nothing |
//! | play or stop | ends the chunk, starts a stretch | the grid changes (song, clock); tenths that were waiting for more audio come out |
//! | jump, loop (position off by more than 8 frames while playing) | ends the chunk, starts a stretch, counts a jump | the analyser gets a position that does not continue; a later pass replaces earlier tenths, unless it holds less audio |
//! | position off by 8 frames or fewer | keeps its own count | nothing |
//! | host reset ([`Tap::restart`]) | ends the chunk, starts a stretch | song positions that continue are measured as unbroken sound; the clock grid is moved to the clock again |
//! | host stops calling | nothing | after 300 ms the view says that no audio runs; the latest tenths are held, so that resuming gives the same result as an unbroken run |
//! | queue full, real time | drops the chunk and counts its frames; the next chunk that fits carries the count | notes the loss before that chunk |
//! | queue full, offline render | waits up to 10 s for room, then drops and counts as above | empties the queue |
//! | deactivate, close (tap dropped) | hands over the part-filled chunk and the count of a last loss | empties the queue, notes the loss, flushes the analyser |
//! | activate again, same rate and channels | new queue | analyser, averages and counts go on; the larger part of a tenth cut by the pause is kept |
//! | rate or channels change | new queue | new analyser; history, programme, maxima and counts stay (tenths are time, not samples); averages start afresh |
//! | band edges move | nothing | new analyser, as above |
//! | user's reset | the next chunk carries it, so the cut falls between two samples; a 10 ms cell or a tenth belongs to the side on which it ends | averages, holds, maxima, programme and health start afresh; history stays, its epoch counts up |
//! | name, role or colour changes | nothing | written to the board file; peers see it in their next round |
//! | session letter changes | nothing | written to the board file; the balance starts over in the new session, marks stay |
//! | a peer joins | nothing | found at the next scan of the folder (100 ms), with its latest 6.4 s |
//! | a peer leaves | nothing | its file loses its magic first: gone in the next round, and removed from the balance |
//! | a peer's process is killed | nothing | its file is no longer locked: found within 500 ms, and the file is removed |
//! | a peer's worker hangs | nothing | its beat stops: after 2 s it counts as not running and is not waited for |
//! | a peer plays, stops, jumps, loops | nothing | its digests carry grid and index; a later pass replaces earlier tenths in the balance |
//! | a peer writes faster than it is read (offline render) | nothing | rounds follow quickly; missed digests are counted for that peer |
//! | own file removed or truncated | nothing | made again within 100 ms |
//! | no room for a file | nothing | the layer works alone and says why; tries again after 5 s |
//! | user's mark (`Command::Mark`) | nothing | a passage begins at the tenth of the latest sample measured; the joins measure both sides of it |
//! | host's mark, the parameter `mark` ([`Tap::mark`]) | the next chunk carries it | a passage begins at the tenth of that chunk's first sample |
//! | the analysis of a layer fails | nothing: audio is counted as lost until a reset | [`Layer::trouble`] says so; the other layers go on |
//! | the worker fails between the layers | nothing | engines are made anew, and the interruption is counted as a gap |
//! | no thread for the worker, or it waits after several failures | drops what finds no room and counts it; an offline render does not wait | the next layer tries again; a reset or an opening ends the wait |
//! | the host forks | nothing in the child | goes on in the parent; the child leaves the files alone |
//! | a project is loaded | nothing | its marks replace the existing ones (`Command::ReplaceMarks`) |
//! | another time window or a past moment is chosen (`Settings::window`, `Settings::rewound`) | nothing | later views show it; measuring goes on, and closing the window returns to now |
//! | a trial is set, changed or ended | takes the change with its next block: the delay line fills as far as needed, then the output fades for 20 ms; a change during a fade waits for its end, and the latest wins | the view and the board file show it |
//! | a trial with a fractional delay under 32 samples | rounds the delay to whole samples: no trial adds latency | the view shows the delay asked for |
//! | activate again with a trial on | new delay line; the trial applies from the first frame, with silence before it | as with any activation |
//! | offline render with a trial on | outputs its input, unless the trial is meant for renders; if a host goes offline without activating again, as it should, this is not noticed | the view shows no trial |
//! | host reset with a trial on | clears the delay line and ends any fade | as with any reset |
//! | NaN, ∞, denormals | copied as they are; a delay on trial passes them on and keeps nothing of them | NaN and ∞ are measured as silence and counted; denormals are measured as they are |
//! | slices of unequal length | uses the shortest; the rest is a loss | notes the loss |
//! | too few slices | the missing channel is silence; counted as a misfit | nothing |
#![deny(unsafe_code)]

mod audio_queue;
mod board;
mod chunk;
mod clock;
mod engine;
mod fault;
mod instances;
mod layer;
mod marks;
mod measure;
#[cfg(all(test, loom))]
mod models;
mod owner_process;
mod panic_guard;
mod priority;
mod registry;
mod restarts;
mod rounds;
mod shared;
mod since_reset;
mod stream_format;
mod sync;
mod tap;
mod trial;
mod worker;
mod worker_signal;

pub use engine::MOST_MOMENTS;
pub use layer::{Format, Layer};
pub use panic_guard::guarded;
pub use plumbline_measure::RateError;
pub use stream_format::ROOM_SECS;
pub use tap::{Stamp, Tap};
