//! The layers of this process, and the life of their one worker.
//!
//! The lock is held while the worker starts and while it is joined, so there is never a second one. The worker takes
//! it only if a callback drops the last layer on the worker's own thread. That thread cannot join itself, so the next
//! layer joins it.

use crate::shared::{SharedState, lock};
use crate::worker::{self, Instances};
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex};
use std::thread::{JoinHandle, Thread};

/// Name of the worker's thread.
pub(crate) const WORKER_NAME: &str = "plumbline";

static REGISTRY: Mutex<Registry> = Mutex::new(Registry { instances: None, worker: None, leaving: None });

struct Registry {
    instances: Option<Arc<Instances>>,
    worker: Option<JoinHandle<()>>,
    /// A worker that stopped on its own thread and is not joined yet.
    leaving: Option<JoinHandle<()>>,
}

/// Adds a layer. Returns the worker's thread, for waking it; `None` if the system refused a thread.
pub(crate) fn join(shared: &Arc<SharedState>) -> Option<Thread> {
    let mut registry = lock(&REGISTRY);
    let registry = &mut *registry;
    if let Some(left) = registry.leaving.take() {
        // The worker does not panic, so its result is of no use.
        let _ = left.join();
    }
    let instances = registry.instances.get_or_insert_with(Arc::default);
    instances.add(Arc::clone(shared));
    if registry.worker.is_none() {
        let instances = Arc::clone(instances);
        let started =
            std::thread::Builder::new().name(WORKER_NAME.into()).spawn(move || worker::run(&instances));
        match started {
            Ok(handle) => registry.worker = Some(handle),
            Err(error) => {
                *lock(&shared.trouble) = Some(format!(
                    "the system gave no thread for measuring ({error}). Audio passes, but nothing is measured. \
                     Close some programs or plug-ins, then insert this plug-in again"
                ));
            }
        }
    }
    let worker = registry.worker.as_ref().map(|handle| handle.thread().clone());
    if let Some(worker) = &worker {
        worker.unpark();
    }
    worker
}

/// Removes a layer. After the last one it stops the worker and waits for it to end.
pub(crate) fn leave(shared: &Arc<SharedState>) {
    let mut registry = lock(&REGISTRY);
    let Some(instances) = &registry.instances else { return };
    if instances.remove(shared) > 0 {
        return;
    }
    instances.stop.store(true, Ordering::Release);
    registry.instances = None;
    if let Some(handle) = registry.worker.take() {
        handle.thread().unpark();
        if handle.thread().id() == std::thread::current().id() {
            registry.leaving = Some(handle);
        } else {
            // As above, the result is of no use.
            let _ = handle.join();
        }
    }
}
