//! The mappings of this process's own files: its reader uses them, and opens and maps only the files of other processes.

use super::mapping::Mapping;
use crate::owner_process::OwnerProcess;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};

/// The mappings by path, each with the process that made it: a forked child inherits this list, but not the layers.
type Offers = BTreeMap<PathBuf, (u32, Weak<Mapping>)>;

fn offers() -> MutexGuard<'static, Offers> {
    static OFFERS: Mutex<Offers> = Mutex::new(BTreeMap::new());
    OFFERS.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The mapping of a file that a layer of this process writes.
pub(super) fn find(path: &Path) -> Option<Arc<Mapping>> {
    let offers = offers();
    let (process, mapping) = offers.get(path)?;
    mapping.upgrade().filter(|_| *process == std::process::id())
}

/// Offers a mapping to the readers of this process, until it is dropped.
#[derive(Debug)]
pub(super) struct Offer {
    path: PathBuf,
    owner: OwnerProcess,
}

impl Offer {
    pub(super) fn new(path: &Path, mapping: &Arc<Mapping>) -> Self {
        offers().insert(path.to_owned(), (std::process::id(), Arc::downgrade(mapping)));
        Self { path: path.to_owned(), owner: OwnerProcess::current() }
    }
}

impl Drop for Offer {
    /// Does nothing in a forked child: the lock may have been held at the fork.
    fn drop(&mut self) {
        if !self.owner.is_current() {
            return;
        }
        let mut offers = offers();
        offers.remove(&self.path);
        if offers.is_empty() {
            // An empty map keeps memory, which nobody would free when the host unloads the binary.
            *offers = BTreeMap::new();
        }
    }
}
