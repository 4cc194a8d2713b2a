//! The layers of this process, and the life of their one worker.
//!
//! The lock here is held while the worker is started and while it is joined, so that there is never a second one.
//! The worker itself never takes it, except where a callback drops the last layer from within the worker: then
//! nobody can wait for the thread, and the next layer to come does.

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
    /// A worker that was told to stop by itself and is not joined yet.
    leaving: Option<JoinHandle<()>>,
}

/// Adds a layer. Returns the worker's handle for waking it; none where the system gives no thread.
pub(crate) fn join(shared: &Arc<SharedState>) -> Option<Thread> {
    let mut registry = lock(&REGISTRY);
    let registry = &mut *registry;
    if let Some(left) = registry.leaving.take() {
        // It was stopped, and does not panic: there is nothing to learn from its result.
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
                    "expected a thread for the measurement, the system gave none ({error}); audio passes, nothing \
                     is measured. Close some programs or other plug-ins, then insert this one again"
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

/// Removes a layer; with the last one the worker ends, and has ended when this returns.
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
            // As above: nothing to learn from the result.
            let _ = handle.join();
        }
    }
}
