//! What an instance asks of its host, from any thread.
//!
//! A host lets itself be asked for most things on its main thread alone. So a request is noted here, the host is asked
//! to call back, which any thread may do, and [`Requests::serve`] carries it out from there.

use clap_sys::ext::state::{CLAP_EXT_STATE, clap_host_state};
use clap_sys::host::clap_host;
use std::cell::RefCell;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// A host's callbacks, valid as long as its instance is.
#[derive(Clone, Copy)]
struct Host(*const clap_host);

// SAFETY: of a host only `request_callback` is called from other threads, which CLAP marks as thread-safe.
unsafe impl Send for Host {}

/// The requests of one instance. One without a host, as in a test, keeps them to itself.
#[derive(Default)]
pub struct Requests {
    /// `None` once the instance goes: the host may go too.
    host: Mutex<Option<Host>>,
    changed: AtomicBool,
}

thread_local! {
    /// The requests of the instance that this thread is making: the framework makes the plug-in itself, by `Default`.
    static IN_THE_MAKING: RefCell<Option<Arc<Requests>>> = const { RefCell::new(None) };
}

impl Requests {
    /// Runs `make`, in which [`Self::of_this_instance`] finds what is made here for `host`.
    pub(crate) fn making<R>(host: *const clap_host, make: impl FnOnce() -> R) -> (Arc<Self>, R) {
        let requests = Arc::new(Self { host: Mutex::new(Some(Host(host))), changed: AtomicBool::new(false) });
        IN_THE_MAKING.set(Some(requests.clone()));
        let made = make();
        IN_THE_MAKING.set(None);
        (requests, made)
    }

    /// The requests of the instance that is being made; without a host where none is.
    pub fn of_this_instance() -> Arc<Self> {
        IN_THE_MAKING.with_borrow(Clone::clone).unwrap_or_default()
    }

    /// The user changed what a project keeps: the host is to offer to save it.
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

    /// Carries out what was asked for. Not under the lock: a host may answer by calling the instance.
    ///
    /// # Safety
    /// On the host's main thread, with a host that is there.
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

    /// The host is not asked for anything any more.
    pub(crate) fn leave(&self) {
        *self.host.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }
}
