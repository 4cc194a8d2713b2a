//! Ctrl-C, and a system that wants the process gone: the work ends at the next block, and what is half written goes.

use super::error;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// Whether to stop, and what has to go then.
#[derive(Clone, Debug, Default)]
pub(crate) struct Stop {
    asked: Arc<AtomicBool>,
    /// The folder that holds what is not finished yet.
    unfinished: Arc<Mutex<Option<PathBuf>>>,
}

impl Stop {
    /// Listens for the signals from now on. Where the system does not let us, Ctrl-C ends the process as it always did.
    pub(crate) fn listen() -> Self {
        let stop = Self::default();
        let heard = stop.clone();
        let _ = ctrlc::set_handler(move || {
            if heard.asked.swap(true, Ordering::SeqCst) {
                // The second time: the work hangs somewhere, a share of the network perhaps.
                heard.leave();
            }
        });
        stop
    }

    /// Whether somebody said stop.
    pub(crate) fn asked(&self) -> bool {
        self.asked.load(Ordering::SeqCst)
    }

    /// From now on this folder has to go if the process has to.
    pub(crate) fn unfinished(&self, folder: Option<&Path>) {
        *self.unfinished.lock().unwrap_or_else(PoisonError::into_inner) = folder.map(Path::to_owned);
    }

    /// Keeps a second Ctrl-C out while files get their names: between two of them the set would be half.
    pub(crate) fn hold_off<T>(&self, work: impl FnOnce() -> T) -> T {
        let _held = self.unfinished.lock().unwrap_or_else(PoisonError::into_inner);
        work()
    }

    /// Ends the process now.
    fn leave(&self) {
        let unfinished = self.unfinished.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(folder) = unfinished.as_deref() {
            let _ = std::fs::remove_dir_all(folder);
        }
        std::process::exit(i32::from(error::STOPPED));
    }
}
