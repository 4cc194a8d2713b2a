//! Requests for a new frame of a window, from any thread, never before the window has drawn.
//!
//! On X11 a window is visible when the server maps it, not when the host's call to show it returns: a host may
//! intercept the request and map the window later. The windowing library then draws a first frame, and may be asked for
//! others only after that. If asked earlier, it would draw into an unmapped window, or wait for an answer that it
//! missed. The framework's own notifier asks as soon as the window's thread runs, so it is slowed down ([`RARELY`]) and
//! this replaces it.

use nice_plug_egui::baseview::WindowWaker;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

/// The interval of the framework's own notifier: a day, because the timers of some systems reach only 2³¹ milliseconds.
pub(super) const RARELY: Duration = Duration::from_secs(24 * 3_600);

/// Requests for frames of one window. Clones share it.
#[derive(Clone, Default)]
pub(super) struct Repaint(Arc<Way>);

#[derive(Default)]
struct Way {
    waker: Mutex<Option<WindowWaker>>,
    drawn: AtomicBool,
}

impl Repaint {
    /// The window is made; `waker` wakes it.
    pub(super) fn made(&self, waker: WindowWaker) {
        *self.0.waker.lock().unwrap_or_else(PoisonError::into_inner) = Some(waker);
    }

    /// The window has drawn, so it may now be asked for frames.
    pub(super) fn drawn(&self) {
        self.0.drawn.store(true, Ordering::Release);
    }

    /// The host has asked to show the window. On X11 the server may map it later.
    pub(super) fn shown(&self) {
        if !cfg!(target_os = "linux") {
            self.drawn();
        }
        self.request();
    }

    /// The window is hidden: it is not asked again until it draws, which it does when shown.
    pub(super) fn hidden(&self) {
        self.0.drawn.store(false, Ordering::Release);
    }

    /// The window is closing: it is no longer asked for frames.
    pub(super) fn gone(&self) {
        *self.0.waker.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }

    /// Asks for a frame, if a window can show one.
    pub(super) fn request(&self) {
        if !self.0.drawn.load(Ordering::Acquire) {
            return;
        }
        if let Some(waker) = &*self.0.waker.lock().unwrap_or_else(PoisonError::into_inner) {
            waker.request_redraw();
        }
    }
}
