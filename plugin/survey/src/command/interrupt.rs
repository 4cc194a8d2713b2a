//! Ctrl-C and termination: the work ends at the next block, and unfinished files are removed.

use super::error;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// Whether to stop, and what to remove when stopping.
#[derive(Clone, Debug, Default)]
pub(crate) struct Stop {
    asked: Arc<AtomicBool>,
    /// The folder with the unfinished files.
    unfinished: Arc<Mutex<Option<PathBuf>>>,
}

impl Stop {
    /// Listens for the signals from now on. If the system refuses, Ctrl-C ends the process at once, as usual.
    pub(crate) fn listen() -> Self {
        let stop = Self::default();
        let heard = stop.clone();
        let _ = ctrlc::set_handler(move || {
            if heard.asked.swap(true, Ordering::SeqCst) {
                // The second time: the work hangs, perhaps on a network share.
                heard.leave();
            }
        });
        stop
    }

    /// Whether a stop was requested.
    pub(crate) fn asked(&self) -> bool {
        self.asked.load(Ordering::SeqCst)
    }

    /// Sets the folder to remove if the process has to end.
    pub(crate) fn unfinished(&self, folder: Option<&Path>) {
        *self.unfinished.lock().unwrap_or_else(PoisonError::into_inner) = folder.map(Path::to_owned);
    }

    /// Holds off a second Ctrl-C while files get their names, so that no set is left half done. `work` may alter the
    /// folder to remove.
    pub(crate) fn hold_off<T>(&self, work: impl FnOnce(&mut Option<PathBuf>) -> T) -> T {
        work(&mut self.unfinished.lock().unwrap_or_else(PoisonError::into_inner))
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
