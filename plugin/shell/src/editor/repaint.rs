//! Asks a window for a new frame, from any thread, and never before the window is shown.
//!
//! On X11 the windowing library asks the display server to tell when the next frame is due, and listens for the
//! answer only from when the window is shown. Asked before, it waits for an answer that it did not hear, and the
//! window stays black for good. The framework's own notifier asks as soon as the window's thread runs, which is
//! too soon wherever the host takes more than a sixtieth of a second to show it; so it is laid to rest
//! ([`RARELY`]) and this stands in.

use nice_plug_egui::baseview::WindowWaker;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

/// How often the framework's own notifier is looked at: once a day, since timers of some systems count to
/// 2³¹ milliseconds only.
pub(super) const RARELY: Duration = Duration::from_secs(24 * 3_600);

/// The way to one window. Clones share it.
#[derive(Clone, Default)]
pub(super) struct Repaint(Arc<Way>);

#[derive(Default)]
struct Way {
    waker: Mutex<Option<WindowWaker>>,
    shown: AtomicBool,
}

impl Repaint {
    /// The window is made, and this wakes it.
    pub(super) fn made(&self, waker: WindowWaker) {
        *self.0.waker.lock().unwrap_or_else(PoisonError::into_inner) = Some(waker);
    }

    /// The window is shown: from now on it may be asked.
    pub(super) fn shown(&self) {
        self.0.shown.store(true, Ordering::Release);
    }

    /// The window goes: it is not asked any more.
    pub(super) fn gone(&self) {
        *self.0.waker.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }

    /// Asks for a frame, if there is a window to show one.
    pub(super) fn request(&self) {
        if !self.0.shown.load(Ordering::Acquire) {
            return;
        }
        if let Some(waker) = &*self.0.waker.lock().unwrap_or_else(PoisonError::into_inner) {
            waker.request_redraw();
        }
    }
}
