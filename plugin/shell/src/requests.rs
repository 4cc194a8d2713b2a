//! Requests of an instance to its host, from any thread.
//!
//! A host takes most requests only on its main thread. So a request is noted here, and the host is asked to call back;
//! any thread may ask that. `Requests::serve` then carries the request out.

use clap_sys::ext::state::{CLAP_EXT_STATE, clap_host_state};
use clap_sys::host::clap_host;
use std::cell::RefCell;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// A host's callbacks, valid as long as its instance is.
#[derive(Clone, Copy)]
struct Host(*const clap_host);

// SAFETY: other threads call only `request_callback`, which CLAP marks as thread-safe.
unsafe impl Send for Host {}

/// The requests of one instance. Without a host, as in a test, they go nowhere.
#[derive(Default)]
pub struct Requests {
    /// `None` once the instance is being destroyed: the host may be gone after that.
    host: Mutex<Option<Host>>,
    changed: AtomicBool,
    /// Notes of the shield on the host's blocks.
    pub(crate) blocks: Blocks,
}

/// Notes on a host's blocks, from the audio thread to the rest of the instance.
#[derive(Debug, Default)]
pub(crate) struct Blocks {
    /// Blocks since the last reset that passed unmeasured because the host broke the rules of its format: other buses
    /// than announced, or at the wrong time.
    pub(crate) unfit: AtomicU64,
    /// Whether the host has slept, so that the delay line of a trial is out of date.
    pub(crate) slept: AtomicBool,
}

thread_local! {
    /// The requests of the instance that this thread is making: the framework makes the plug-in with `Default`, without
    /// arguments.
    static IN_THE_MAKING: RefCell<Option<Arc<Requests>>> = const { RefCell::new(None) };
}

impl Requests {
    /// Runs `make`; inside it, [`Self::of_this_instance`] returns the requests made here for `host`.
    pub(crate) fn making<R>(host: *const clap_host, make: impl FnOnce() -> R) -> (Arc<Self>, R) {
        let requests = Arc::new(Self { host: Mutex::new(Some(Host(host))), ..Self::default() });
        IN_THE_MAKING.set(Some(requests.clone()));
        let made = make();
        IN_THE_MAKING.set(None);
        (requests, made)
    }

    /// The requests of the instance that is being made, else new ones without a host.
    pub fn of_this_instance() -> Arc<Self> {
        IN_THE_MAKING.with_borrow(Clone::clone).unwrap_or_default()
    }

    /// Marks the project as changed, so that the host offers to save it.
    pub fn mark_changed(&self) {
        self.changed.store(true, Ordering::Release);
        self.call_back();
    }

    /// Asks the host to call back on its main thread.
    pub(crate) fn call_back(&self) {
        let host = self.host.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(Host(host)) = *host {
            // SAFETY: valid until `leave`, which waits for this lock.
            unsafe {
                if let Some(request) = (*host).request_callback {
                    request(host);
                }
            }
        }
    }

    /// Carries out the noted requests. Holds no lock while doing so: a host may answer by calling the instance.
    ///
    /// # Safety
    /// On the host's main thread, with a live host.
    pub(crate) unsafe fn serve(&self, host: *const clap_host) {
        if !self.changed.swap(false, Ordering::AcqRel) {
            return;
        }
        // SAFETY: the caller's promise; extensions of a host are static tables or nothing.
        unsafe {
            let Some(get) = (*host).get_extension else { return };
            let state = get(host, CLAP_EXT_STATE.as_ptr()).cast::<clap_host_state>();
            if let Some(mark) = state.as_ref().and_then(|state| state.mark_dirty) {
                mark(host);
            }
        }
    }

    /// Ends all requests to the host.
    pub(crate) fn leave(&self) {
        *self.host.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }
}
