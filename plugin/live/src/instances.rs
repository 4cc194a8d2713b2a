//! The layers of one worker, as the host's threads and the worker share them.

use crate::shared::{SharedState, lock};
use crate::worker_signal::WorkerSignal;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};

/// The layers of the worker.
#[derive(Default)]
pub(crate) struct Instances {
    layers: Mutex<Vec<Arc<SharedState>>>,
    changed: AtomicBool,
    pub(crate) stop: AtomicBool,
    pub(crate) signal: Arc<WorkerSignal>,
}

impl Instances {
    pub(crate) fn add(&self, shared: Arc<SharedState>) {
        lock(&self.layers).push(shared);
        self.note_change();
    }

    /// Removes a layer and returns how many are left.
    pub(crate) fn remove(&self, shared: &Arc<SharedState>) -> usize {
        let mut layers = lock(&self.layers);
        layers.retain(|layer| !Arc::ptr_eq(layer, shared));
        self.note_change();
        layers.len()
    }

    /// All layers.
    pub(crate) fn list(&self) -> Vec<Arc<SharedState>> {
        lock(&self.layers).clone()
    }

    /// Has the layers compared with the engines once more.
    pub(crate) fn note_change(&self) {
        self.changed.store(true, Ordering::Release);
    }

    /// Whether layers came or left since the last call of [`Self::take_changed`].
    pub(crate) fn has_changed(&self) -> bool {
        self.changed.load(Ordering::Acquire)
    }

    /// As [`Self::has_changed`], and takes the change.
    pub(crate) fn take_changed(&self) -> bool {
        self.changed.swap(false, Ordering::AcqRel)
    }

    /// Resets and openings of all layers so far: each is an attempt to get a failed part going again.
    pub(crate) fn attempts(&self) -> u64 {
        lock(&self.layers).iter().map(|shared| shared.attempts()).sum()
    }

    /// Shows the same words at all layers.
    pub(crate) fn tell(&self, words: &str) {
        self.list().iter().for_each(|shared| shared.set_trouble(Some(words.to_owned())));
    }

    pub(crate) fn is_stopped(&self) -> bool {
        self.stop.load(Ordering::Acquire)
    }
}
