//! Asks a window for a new frame, from any thread, and never before the window is drawn.
//!
//! On X11 a window is shown when the server says so, not when the host's call to show it returns: a host may take the
//! request to itself and map the window at its leisure. The windowing library draws a first frame then, and only from
//! that frame on is it asked for others. Asked before, it would draw into a window that nobody sees, or wait for an answer
//! that it did not hear. The framework's own notifier asks as soon as the window's thread runs; so it is laid to rest
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
    drawn: AtomicBool,
}

impl Repaint {
    /// The window is made, and this wakes it.
    pub(super) fn made(&self, waker: WindowWaker) {
        *self.0.waker.lock().unwrap_or_else(PoisonError::into_inner) = Some(waker);
    }

    /// The window draws: from now on it may be asked.
    pub(super) fn drawn(&self) {
        self.0.drawn.store(true, Ordering::Release);
    }

    /// The host had the window shown. On X11 that says nothing of when the server will.
    pub(super) fn shown(&self) {
        if !cfg!(target_os = "linux") {
            self.drawn();
        }
        self.request();
    }

    /// The window is hidden: it is not asked before it draws again, which it does when it is shown.
    pub(super) fn hidden(&self) {
        self.0.drawn.store(false, Ordering::Release);
    }

    /// The window goes: it is not asked any more.
    pub(super) fn gone(&self) {
        *self.0.waker.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }

    /// Asks for a frame, if there is a window to show one.
    pub(super) fn request(&self) {
        if !self.0.drawn.load(Ordering::Acquire) {
            return;
        }
        if let Some(waker) = &*self.0.waker.lock().unwrap_or_else(PoisonError::into_inner) {
            waker.request_redraw();
        }
    }
}
