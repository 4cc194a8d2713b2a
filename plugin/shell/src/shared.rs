//! What the parts of one instance share.

#[cfg(target_os = "linux")]
use crate::closing::Closings;
use crate::export::Exports;
use crate::memory::Memory;
use crate::parameters::Parameters;
use crate::requests::Requests;
use plumbline_live::Layer;
use std::sync::{Arc, Mutex, PoisonError};

/// What the host's calls, the editor and the readings port share of one instance.
pub struct Shared {
    /// The worker's side of this instance.
    pub layer: Arc<Layer>,
    /// Parameters and state.
    pub parameters: Arc<Parameters>,
    /// Why nothing is measured, when nothing is.
    trouble: Mutex<Option<String>>,
    /// How many look: open editors and whoever asked at the readings port.
    watchers: Mutex<u32>,
    /// What is written for the user; waits for its thread when the instance goes.
    pub(crate) exports: Exports,
    /// Windows that are still closing.
    #[cfg(target_os = "linux")]
    pub(crate) closings: Closings,
    /// What the host is asked for.
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

    /// Why nothing is measured, when nothing is: the format that the host asked for, or the worker.
    pub fn trouble(&self) -> Option<String> {
        let own = self.trouble.lock().unwrap_or_else(PoisonError::into_inner).clone();
        own.or_else(|| self.layer.trouble())
    }

    /// Asks for views, or no longer: they are made only while somebody looks.
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
