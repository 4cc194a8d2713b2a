//! The audio thread's end of a queue: copies the host's blocks into chunks, and alters audio only while a trial is set.

use crate::audio_queue::{AudioQueue, Counts};
use crate::chunk::{Bus, CHUNK_FRAMES, Chunk};
use crate::trial::Alteration;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

/// Largest difference in frames between a host's position and the expected one that still counts as continuous. Hosts
/// that count musical time round it to samples (common practice, no source).
pub(crate) const SLIP_FRAMES: u64 = 8;

/// Positions from here on are ignored, as if the host gave none. 2^52 samples are 372 years at 384 kHz, and leave room
/// for sums without overflow.
const FARTHEST: u64 = 1 << 52;

/// Longest wait for queue space in an offline render. A worker that takes nothing for this long is dead, and the host
/// must not hang.
const LONGEST_WAIT: Duration = Duration::from_secs(10);
/// Pause between two looks at a full queue, offline only.
const WAIT_STEP: Duration = Duration::from_micros(500);

/// The position of a block.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Stamp {
    /// Song position of the block's first frame in samples, if the host gives one.
    pub song: Option<i64>,
    /// Whether the transport plays.
    pub playing: bool,
}

/// Hands audio from the audio thread to the worker.
///
/// Made by [`Layer::open`](crate::Layer::open). Drop it where the host deactivates the plug-in, not in the audio
/// callback: the drop hands over the audio it still holds. Drop it before the layer is opened again: the new opening
/// retires this tap, which then measures nothing.
#[derive(Debug)]
pub struct Tap {
    queue: Arc<AudioQueue>,
    main: Chunk,
    side: Chunk,
    /// Free-running count of frames, lost ones included: the worker moves it to the clock.
    count: i64,
    /// Expected song position of the next block; `None` on the clock grid.
    expected: Option<i64>,
    playing: bool,
    /// Whether the next block starts a stretch: the first one, or after [`Self::restart`].
    fresh: bool,
    /// Frames lost since the last chunk that was sent.
    lost: u64,
    /// How long to wait for queue space; zero after a failed wait, until there is space again.
    patience: Duration,
    alteration: Alteration,
}

impl Tap {
    pub(crate) fn new(queue: Arc<AudioQueue>) -> Self {
        Self {
            alteration: Alteration::new(&queue.format, &queue.trial),
            queue,
            main: Chunk::EMPTY,
            side: Chunk { bus: Bus::Side, ..Chunk::EMPTY },
            count: 0,
            expected: None,
            playing: false,
            fresh: true,
            lost: 0,
            patience: LONGEST_WAIT,
        }
    }

    /// Alters a block in place, one slice per channel, while a [trial](plumbline_programme::Trial) is set. Call it
    /// before [`Self::push`], so that the output is measured. Without a trial the samples are not touched. Channels
    /// beyond the format, and frames that not every slice has, pass unchanged.
    ///
    /// # Realtime Safety
    /// Memory is allocated beforehand, and trials come by value. No allocation, lock, log, wait, system call or panic.
    /// Costs one atomic load with no trial set, else at most 128 products a sample.
    pub fn alter(&mut self, channels: &mut [&mut [f32]]) {
        self.alteration.run(&self.queue.trial, channels);
    }

    /// Tail of [`Self::alter`] in frames: 0 unless a trial delays.
    ///
    /// # Realtime Safety
    /// Compares numbers.
    pub fn tail_frames(&self) -> u32 {
        self.alteration.tail_frames()
    }

    /// Takes one block. `main` holds one slice per channel of the main bus, `side` one per channel of the side-chain.
    ///
    /// Slices need not fit the format: frames that not every main channel has are counted as lost, a missing channel is
    /// silence, further channels are ignored, and [`Layer::misfits`](crate::Layer::misfits) counts the block.
    ///
    /// # Realtime Safety
    /// Copies into a lock-free queue that was allocated beforehand. No allocation, lock, log, wait, system call or
    /// panic; the cost is proportional to the block's length. Only in an offline render does it wait while the queue is
    /// full, for at most 10 s.
    pub fn push(&mut self, stamp: Stamp, main: &[&[f32]], side: &[&[f32]]) {
        if self.queue.retired.load(Ordering::Relaxed) {
            return;
        }
        let channels = usize::from(self.queue.format.channels);
        let side_channels = usize::from(self.queue.format.side_channels);
        let heard = &main[..channels.min(main.len())];
        let frames = heard.iter().map(|c| c.len()).min().unwrap_or(0);
        let longest = heard.iter().map(|c| c.len()).max().unwrap_or(0);
        if longest > 0 {
            self.join(stamp);
        }
        self.copy(heard, &side[..side_channels.min(side.len())], frames);
        self.lose(longest - frames);
        let side_fits =
            side_channels == 0 || (side.len() == side_channels && side.iter().all(|c| c.len() == frames));
        if main.len() != channels || longest != frames || !side_fits {
            Counts::add(&self.queue.counts.misfits, 1);
        }
    }

    /// Starts a new stretch with the next block, after a host reset or a jump that the host announces. The delay line
    /// of a trial starts again from silence.
    ///
    /// # Realtime Safety
    /// Sets a flag; while a trial is set, clears its delay line.
    pub fn restart(&mut self) {
        self.alteration.restart();
        self.fresh = true;
    }

    /// Starts the delay line of a trial again from silence, after a host has left out blocks: what the line holds would
    /// sound late. The measurement goes on.
    ///
    /// # Realtime Safety
    /// While a trial is set, clears memory.
    pub fn clear_delayed(&mut self) {
        self.alteration.restart();
    }

    /// Resets readings, at the user's request through a host parameter: averages, holds, maxima, programme and health
    /// start afresh with the next frame pushed, or soon if none comes.
    ///
    /// # Realtime Safety
    /// Sets an atomic flag.
    pub fn reset(&self) {
        self.queue.reset.store(true, Ordering::Release);
    }

    /// Begins a passage with the next frame pushed, at the user's request through a host parameter.
    ///
    /// # Realtime Safety
    /// Sets an atomic flag.
    pub fn mark(&self) {
        self.queue.mark.store(true, Ordering::Release);
    }

    /// Hands over the remaining audio and ends, as dropping does.
    ///
    /// # Realtime Safety
    /// Not real-time safe: wakes the worker, and may free the queue. For the thread that deactivates the plug-in.
    pub fn close(self) {}

    /// Decides whether a block continues the previous one, and ends the current chunk if it does not.
    fn join(&mut self, stamp: Stamp) {
        let song = stamp.song.filter(|s| stamp.playing && s.unsigned_abs() < FARTHEST);
        let jumped = match (song, self.expected) {
            (Some(now), Some(expected)) => now.abs_diff(expected) > SLIP_FRAMES,
            _ => false,
        };
        let start = jumped
            || self.fresh
            || self.playing != stamp.playing
            || song.is_some() != self.expected.is_some();
        let reset =
            self.queue.reset.load(Ordering::Relaxed) && self.queue.reset.swap(false, Ordering::AcqRel);
        let mark = self.queue.mark.load(Ordering::Relaxed) && self.queue.mark.swap(false, Ordering::AcqRel);
        if start || reset || mark {
            self.emit();
        }
        if start {
            self.expected = song;
        }
        // A dropped chunk passes its tags on to the next one.
        if jumped {
            Counts::add(&self.queue.counts.jumps, 1);
            self.main.jumps = self.main.jumps.saturating_add(1);
        }
        self.main.start |= start;
        self.main.reset |= reset;
        self.main.mark |= mark;
        self.playing = stamp.playing;
        self.fresh = false;
    }

    /// Fills chunks from the first `frames` frames of every slice.
    fn copy(&mut self, main: &[&[f32]], side: &[&[f32]], frames: usize) {
        let mut done = 0;
        while done < frames {
            let at = self.main.len();
            if at == 0 {
                self.main.position = self.expected.unwrap_or(self.count);
                self.main.on_song = self.expected.is_some();
                self.main.playing = self.playing;
            }
            let n = (CHUNK_FRAMES - at).min(frames - done);
            fill(&mut self.main, main, usize::from(self.queue.format.channels), at, done, n);
            if self.queue.format.side_channels > 0 {
                fill(&mut self.side, side, usize::from(self.queue.format.side_channels), at, done, n);
            }
            done += n;
            self.advance(n);
            self.main.frames += u8::try_from(n).unwrap_or(0);
            if self.main.len() == CHUNK_FRAMES {
                self.emit();
            }
        }
    }

    /// Counts frames missing from the host's slices.
    fn lose(&mut self, frames: usize) {
        if frames > 0 {
            self.emit();
            self.count_loss(frames as u64);
            self.advance(frames);
        }
    }

    fn advance(&mut self, frames: usize) {
        let frames = i64::try_from(frames).unwrap_or(i64::MAX);
        self.count = self.count.saturating_add(frames);
        self.expected = self.expected.map(|p| p.saturating_add(frames));
    }

    fn count_loss(&mut self, frames: u64) {
        if self.lost == 0 {
            Counts::add(&self.queue.counts.gaps, 1);
        }
        self.lost += frames;
        Counts::add(&self.queue.counts.lost_frames, frames);
    }

    /// Sends the current chunk, or drops and counts it.
    fn emit(&mut self) {
        if self.main.frames == 0 {
            return;
        }
        let step = self.queue.format.chunks_a_step();
        let sent = self.has_room(step) && {
            self.main.lost = u32::try_from(self.lost).unwrap_or(u32::MAX);
            self.side.frames = self.main.frames;
            self.side.position = self.main.position;
            self.side.on_song = self.main.on_song;
            self.side.playing = self.main.playing;
            // There is space for both, and nothing else pushes: neither can fail.
            self.queue.chunks.push(self.main).is_ok()
                && (step == 1 || self.queue.chunks.push(self.side).is_ok())
        };
        if sent {
            self.lost = 0;
            self.main.start = false;
            self.main.jumps = 0;
            self.main.reset = false;
            self.main.mark = false;
        } else {
            self.count_loss(u64::from(self.main.frames));
        }
        self.main.frames = 0;
    }

    /// Whether `step` chunks fit; offline it waits for room while a worker measures, up to `patience`.
    fn has_room(&mut self, step: usize) -> bool {
        let queue = &*self.queue;
        if !queue.fits(step) {
            if !queue.format.offline || self.patience.is_zero() || !queue.worker.measures() {
                return false;
            }
            let start = Instant::now();
            while !queue.fits(step) {
                if !queue.worker.measures() {
                    return false;
                }
                if start.elapsed() >= self.patience || queue.retired.load(Ordering::Relaxed) {
                    self.patience = Duration::ZERO;
                    return false;
                }
                queue.worker.wake();
                std::thread::sleep(WAIT_STEP);
            }
        }
        self.patience = LONGEST_WAIT;
        true
    }

    /// Shortens the offline wait, so that the test of a dead worker does not take ten seconds.
    #[cfg(test)]
    pub(crate) fn wait_at_most(&mut self, patience: Duration) {
        self.patience = patience;
    }
}

/// Copies `n` frames, starting at frame `from` of the slices, into a chunk at `at`; missing samples are silence.
fn fill(chunk: &mut Chunk, slices: &[&[f32]], channels: usize, at: usize, from: usize, n: usize) {
    for (c, to) in chunk.samples.iter_mut().take(channels).enumerate() {
        let to = &mut to[at..at + n];
        let given = slices.get(c).and_then(|s| s.get(from..)).unwrap_or(&[]);
        let m = given.len().min(n);
        to[..m].copy_from_slice(&given[..m]);
        to[m..].fill(0.0);
    }
}

impl Drop for Tap {
    fn drop(&mut self) {
        self.emit();
        if self.main.reset {
            self.queue.reset.store(true, Ordering::Relaxed);
        }
        self.queue.lost_at_end.store(self.lost, Ordering::Relaxed);
        self.queue.jumps_at_end.store(u64::from(self.main.jumps), Ordering::Relaxed);
        // Publishes everything above: a thread that sees `closed` sees all of it.
        self.queue.closed.store(true, Ordering::Release);
        self.queue.worker.wake();
    }
}

#[cfg(test)]
mod tests;
