//! The queue between the audio thread and the worker, with its counters: all that they share.

use crate::chunk::Chunk;
use crate::stream_format::StreamFormat;
use crate::trial::Mailbox;
use crate::worker_signal::WorkerSignal;
use crossbeam::queue::ArrayQueue;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// Counters of a layer, shared by all its queues. They only grow.
#[derive(Debug, Default)]
pub(crate) struct Counts {
    /// Number of losses.
    pub(crate) gaps: AtomicU64,
    /// Frames lost.
    pub(crate) lost_frames: AtomicU64,
    /// Jumps of the transport.
    pub(crate) jumps: AtomicU64,
    /// Blocks with slices that did not fit the format.
    pub(crate) misfits: AtomicU64,
    /// Frames of side-chain audio that reached the worker.
    pub(crate) side_frames: AtomicU64,
}

impl Counts {
    /// Adds to a counter. Relaxed, because no counter depends on other memory.
    pub(crate) fn add(counter: &AtomicU64, n: u64) {
        counter.fetch_add(n, Ordering::Relaxed);
    }
}

/// The queue for one opening of a layer. Allocated outside the audio thread.
#[derive(Debug)]
pub(crate) struct AudioQueue {
    pub(crate) format: StreamFormat,
    /// Chunks on their way to the worker. Only the tap pushes, and only the worker pops: see [`Self::fits`].
    pub(crate) chunks: ArrayQueue<Chunk>,
    /// Counters of the layer.
    pub(crate) counts: Arc<Counts>,
    /// Set when the tap is dropped; by then the queue holds everything it pushed.
    pub(crate) closed: AtomicBool,
    /// Set by the layer when another queue replaces this one or the layer is dropped: the tap then measures nothing.
    pub(crate) retired: AtomicBool,
    /// A reset requested on the audio thread and not yet sent with a chunk.
    pub(crate) reset: AtomicBool,
    /// A mark requested on the audio thread and not yet sent with a chunk.
    pub(crate) mark: AtomicBool,
    /// Frames lost and jumps after the last chunk of a closed queue.
    pub(crate) lost_at_end: AtomicU64,
    pub(crate) jumps_at_end: AtomicU64,
    /// The latest trial, precomputed for the audio thread.
    pub(crate) trial: Mailbox,
    /// The worker to wake while waiting for room, if there is one.
    pub(crate) worker: Arc<WorkerSignal>,
}

impl AudioQueue {
    /// Allocates the queue.
    pub(crate) fn new(format: StreamFormat, counts: Arc<Counts>, worker: Arc<WorkerSignal>) -> Self {
        Self {
            format,
            chunks: ArrayQueue::new(format.room() + 1),
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

    /// Whether `step` chunks can be pushed without waiting, one slot left free.
    ///
    /// `ArrayQueue::pop` gives its slot back in two steps: it advances the head, then stamps the slot. If the worker is
    /// preempted in between, `len` no longer counts the slot, but a push into it spins until the stamp comes. There is
    /// one consumer, so there is one such slot at most, always the last free one: it is never used. A second consumer
    /// would need a second spare slot.
    ///
    /// # Realtime Safety
    /// A few atomic loads; nothing else pushes, so none is repeated.
    pub(crate) fn fits(&self, step: usize) -> bool {
        leaves_one_free(self.chunks.capacity(), self.chunks.len(), step)
    }
}

/// Whether one slot stays free after `step` pushes.
fn leaves_one_free(capacity: usize, len: usize, step: usize) -> bool {
    capacity - len > step
}

#[cfg(all(test, loom))]
mod models;
