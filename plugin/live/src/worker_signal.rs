//! How other threads wake the worker, and whether there is one to wait for.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::thread::Thread;

/// The worker as other threads see it. It outlives a worker: the next one takes its place.
#[derive(Debug, Default)]
pub(crate) struct WorkerSignal {
    thread: Mutex<Option<Thread>>,
    measures: AtomicBool,
}

impl WorkerSignal {
    /// Sets the thread to wake.
    pub(crate) fn set_thread(&self, thread: Thread) {
        *self.thread() = Some(thread);
    }

    /// Notes whether the worker measures now.
    pub(crate) fn set_measures(&self, measures: bool) {
        self.measures.store(measures, Ordering::Release);
    }

    /// Whether a worker measures, so that waiting for room in a queue makes sense.
    pub(crate) fn measures(&self) -> bool {
        self.measures.load(Ordering::Acquire)
    }

    /// Wakes the worker if it sleeps. Not real-time safe: a lock and a system call.
    pub(crate) fn wake(&self) {
        if let Some(thread) = &*self.thread() {
            thread.unpark();
        }
    }

    fn thread(&self) -> MutexGuard<'_, Option<Thread>> {
        self.thread.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
