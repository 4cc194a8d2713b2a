//! The one thing that the audio thread and the worker share: a queue, and counters beside it.

use crate::audition::Mailbox;
use crate::chunk::{CHUNK_FRAMES, Chunk};
use crossbeam::queue::ArrayQueue;
use plumbline_measure::SampleRate;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread::Thread;

/// Seconds of audio that a queue holds before the audio thread has to drop any.
pub const ROOM_SECS: u32 = 4;

/// Counters of a layer that the audio thread adds to; they only grow, and outlive every queue of the layer.
#[derive(Debug, Default)]
pub(crate) struct Counts {
    /// Times that audio was lost.
    pub(crate) gaps: AtomicU64,
    /// Frames lost in them.
    pub(crate) lost_frames: AtomicU64,
    /// Jumps of the transport.
    pub(crate) jumps: AtomicU64,
    /// Blocks whose slices did not fit the format.
    pub(crate) misfits: AtomicU64,
    /// Frames of side-chain audio that reached the worker.
    pub(crate) side_frames: AtomicU64,
}

impl Counts {
    /// Adds to a counter. No order with other memory is needed: each figure publishers alone.
    pub(crate) fn add(counter: &AtomicU64, n: u64) {
        counter.fetch_add(n, Ordering::Relaxed);
    }
}

/// What a queue is made for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct StreamFormat {
    /// Sample rate.
    pub(crate) rate: SampleRate,
    /// Channels of the main bus, 1 or 2.
    pub(crate) channels: u8,
    /// Channels of the side-chain, 0 to 2.
    pub(crate) side_channels: u8,
    /// Whether the audio thread may wait for room.
    pub(crate) offline: bool,
}

impl StreamFormat {
    /// Chunks that make [`ROOM_SECS`] of full chunks, the side-chain's included.
    pub(crate) fn room(&self) -> usize {
        let frames = self.rate.hz() as usize * ROOM_SECS as usize;
        frames.div_ceil(CHUNK_FRAMES) * self.chunks_a_step()
    }

    /// Chunks that go into the queue together.
    pub(crate) fn chunks_a_step(&self) -> usize {
        if self.side_channels > 0 { 2 } else { 1 }
    }
}

/// One opening of a layer: made outside the audio thread, dropped by whoever lets go last.
#[derive(Debug)]
pub(crate) struct AudioQueue {
    /// Format.
    pub(crate) format: StreamFormat,
    /// Chunks on their way. The tap is the only one that pushes.
    pub(crate) chunks: ArrayQueue<Chunk>,
    /// The layer's counters.
    pub(crate) counts: Arc<Counts>,
    /// Set by the tap when it is gone; everything it pushed is in the queue by then.
    pub(crate) closed: AtomicBool,
    /// Set by the layer when another queue took over or the layer itself went: the tap measures no more.
    pub(crate) retired: AtomicBool,
    /// The user's reset asked for from the audio thread, not yet under way in a chunk.
    pub(crate) reset: AtomicBool,
    /// A mark asked for from the audio thread, not yet under way in a chunk.
    pub(crate) mark: AtomicBool,
    /// Frames lost, and jumps, behind the last chunk of a closed queue.
    pub(crate) lost_at_end: AtomicU64,
    pub(crate) jumps_at_end: AtomicU64,
    /// What is to be done to the audio, newest.
    pub(crate) trial: Mailbox,
    /// Whom to wake while waiting for room; `None` where no worker could be started.
    pub(crate) worker: Option<Thread>,
}

impl AudioQueue {
    /// Allocates the queue.
    pub(crate) fn new(format: StreamFormat, counts: Arc<Counts>, worker: Option<Thread>) -> Self {
        Self {
            format,
            chunks: ArrayQueue::new(format.room()),
            counts,
            closed: AtomicBool::new(false),
            retired: AtomicBool::new(false),
            reset: AtomicBool::new(false),
            mark: AtomicBool::new(false),
            trial: Mailbox::new(),
            lost_at_end: AtomicU64::new(0),
            jumps_at_end: AtomicU64::new(0),
            worker,
        }
    }

    /// Wakes the worker, if it sleeps. Not real-time: a system call.
    pub(crate) fn wake(&self) {
        if let Some(worker) = &self.worker {
            worker.unpark();
        }
    }
}
