//! The shared state of the parts of one instance.

#[cfg(target_os = "linux")]
use crate::closing::Closings;
use crate::export::Exports;
use crate::parameters::Parameters;
use crate::requests::Requests;
use crate::saved_state::Memory;
use plumbline_live::Layer;
use std::sync::{Arc, Mutex, PoisonError};

/// The state that the host's calls, the editor and the readings port of one instance share.
pub struct Shared {
    /// The worker's side of this instance.
    pub layer: Arc<Layer>,
    /// Parameters and state.
    pub parameters: Arc<Parameters>,
    /// Why nothing is measured; `None` while something is.
    trouble: Mutex<Option<String>>,
    /// The number of watchers: open editors and clients of the readings port.
    watchers: Mutex<u32>,
    /// Exports; waits for their thread when the instance is dropped.
    pub(crate) exports: Exports,
    /// Windows that are still closing.
    #[cfg(target_os = "linux")]
    pub(crate) closings: Closings,
    /// Requests to the host.
    pub(crate) requests: Arc<Requests>,
}

impl Shared {
    pub(crate) fn new() -> Self {
        let layer = Layer::join();
        let memory = Arc::new(Memory::new(layer.clone()));
        Self {
            layer,
            parameters: Arc::new(Parameters::new(memory)),
            trouble: Mutex::default(),
            watchers: Mutex::default(),
            exports: Exports::default(),
            #[cfg(target_os = "linux")]
            closings: Closings::default(),
            requests: Requests::of_this_instance(),
        }
    }

    /// Why nothing is measured, if so: the host's format, or the worker.
    pub fn trouble(&self) -> Option<String> {
        let own = self.trouble.lock().unwrap_or_else(PoisonError::into_inner).clone();
        own.or_else(|| self.layer.trouble())
    }

    /// Adds or removes a watcher. Views are made only while there is one.
    pub fn watch(&self, watch: bool) {
        let mut watchers = self.watchers.lock().unwrap_or_else(PoisonError::into_inner);
        *watchers = if watch { watchers.saturating_add(1) } else { watchers.saturating_sub(1) };
        let watched = *watchers > 0;
        self.layer.change(|settings| settings.watched = watched);
    }

    pub(crate) fn set_trouble(&self, trouble: Option<String>) {
        *self.trouble.lock().unwrap_or_else(PoisonError::into_inner) = trouble;
    }
}
