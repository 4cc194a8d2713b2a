//! The layers of this process, and the life of their one worker.
//!
//! The lock is held while the worker starts and while it is joined, so there is never a second one. The worker takes
//! it only if a callback drops the last layer on the worker's own thread. That thread cannot join itself, so the next
//! layer joins it.

use crate::fault::{self, Stage};
use crate::instances::Instances;
use crate::owner_process::OwnerProcess;
use crate::shared::{SharedState, lock};
use crate::worker;
use crate::worker_signal::WorkerSignal;
use std::io;
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;

/// Name of the worker's thread.
pub(crate) const WORKER_NAME: &str = "plumbline";

static REGISTRY: Mutex<Registry> = Mutex::new(Registry::EMPTY);

struct Registry {
    /// The process whose threads and layers these are.
    owner: Option<OwnerProcess>,
    instances: Option<Arc<Instances>>,
    worker: Option<JoinHandle<()>>,
    /// A worker that stopped on its own thread and is not joined yet.
    leaving: Option<JoinHandle<()>>,
}

/// Adds a layer. Returns how to wake the worker.
pub(crate) fn join(shared: &Arc<SharedState>) -> Arc<WorkerSignal> {
    lock(&REGISTRY).join(shared)
}

/// Removes a layer. After the last one it stops the worker and waits for it to end.
pub(crate) fn leave(shared: &Arc<SharedState>) {
    lock(&REGISTRY).leave(shared);
}

impl Registry {
    const EMPTY: Self = Self { owner: None, instances: None, worker: None, leaving: None };

    fn join(&mut self, shared: &Arc<SharedState>) -> Arc<WorkerSignal> {
        if !self.owner.is_some_and(OwnerProcess::is_current) {
            // In a forked child the threads behind the handles do not exist: dropping a handle would touch them.
            std::mem::forget(std::mem::replace(self, Self::EMPTY));
            self.owner = Some(OwnerProcess::current());
        }
        if let Some(left) = self.leaving.take() {
            // The worker does not panic, so its result says nothing.
            let _ = left.join();
        }
        let instances = Arc::clone(self.instances.get_or_insert_with(Arc::default));
        instances.add(Arc::clone(shared));
        if self.worker.as_ref().is_none_or(JoinHandle::is_finished) {
            match spawn(&instances, shared) {
                Ok(handle) => {
                    // That of a worker which has ended: there is nothing to wait for.
                    drop(self.worker.replace(handle));
                }
                Err(error) => shared.set_trouble(Some(format!(
                    "the system gave no thread for measuring ({error}). Audio passes, but nothing is measured. \
                     Close some programs or plug-ins, then insert this plug-in again"
                ))),
            }
        }
        instances.signal.wake();
        Arc::clone(&instances.signal)
    }

    fn leave(&mut self, shared: &Arc<SharedState>) {
        let Some(instances) = &self.instances else { return };
        if instances.remove(shared) > 0 {
            return;
        }
        instances.stop.store(true, Ordering::Release);
        self.instances = None;
        if let Some(handle) = self.worker.take() {
            handle.thread().unpark();
            if handle.thread().id() == std::thread::current().id() {
                self.leaving = Some(handle);
            } else {
                // As above, the result says nothing.
                let _ = handle.join();
            }
        }
    }
}

fn spawn(instances: &Arc<Instances>, shared: &SharedState) -> io::Result<JoinHandle<()>> {
    if fault::strikes(Stage::Spawn, shared.born.id) {
        return Err(io::ErrorKind::WouldBlock.into());
    }
    let own = Arc::clone(instances);
    // Before the thread runs: it may end at once, and says so last.
    instances.signal.set_measures(true);
    let spawned = std::thread::Builder::new().name(WORKER_NAME.into()).spawn(move || worker::run(&own));
    match &spawned {
        Ok(handle) => instances.signal.set_thread(handle.thread().clone()),
        Err(_) => instances.signal.set_measures(false),
    }
    spawned
}

#[cfg(test)]
mod tests;
