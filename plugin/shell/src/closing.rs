//! Closes a window without blocking the host.
//!
//! On X11 a window closes when its thread ends, which it does between two frames. Without a graphics card a frame can
//! take seconds on a busy computer, and the windowing library waits for it. So a separate thread waits: a host waits
//! for [`PATIENCE`] at most when it closes an editor, and for the rest when it removes the instance, because it may
//! then unload the library.

use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::sync::{Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

/// The longest time for which a closing editor blocks the host; usually milliseconds.
pub(crate) const PATIENCE: Duration = Duration::from_millis(250);
/// The longest wait for each window when the instance is dropped. A frame that takes longer is never drawn, and a
/// hanging host is worse than a thread left running.
const LONGEST: Duration = Duration::from_secs(10);

/// One closing window. The other end of the channel is dropped when it has closed.
struct Closing {
    thread: JoinHandle<()>,
    done: Receiver<()>,
}

impl Closing {
    /// Waits until the window has closed; returns itself if it has not.
    fn wait(self, patience: Duration) -> Result<(), Self> {
        if self.done.recv_timeout(patience) == Err(RecvTimeoutError::Timeout) {
            return Err(self);
        }
        // The thread has nothing left to do; a failure was reported where it happened.
        let _ = self.thread.join();
        Ok(())
    }
}

/// The windows of one instance that are still closing.
#[derive(Default)]
pub(crate) struct Closings(Mutex<Vec<Closing>>);

impl Closings {
    /// Runs `close` on another thread, and waits for it for at most [`PATIENCE`]. If the system refuses a thread,
    /// `close` runs on this one.
    pub(crate) fn run(&self, close: impl FnOnce() + Send + 'static) {
        let (end, done) = channel::<()>();
        // Kept in a lock, so that it is still here if no thread starts.
        let close = std::sync::Arc::new(Mutex::new(Some(close)));
        let theirs = std::sync::Arc::clone(&close);
        let take = |close: &Mutex<Option<_>>| close.lock().unwrap_or_else(PoisonError::into_inner).take();
        let started = std::thread::Builder::new().name("plumbline-close".into()).spawn(move || {
            let _end = end;
            if let Some(close) = take(&theirs) {
                close();
            }
        });
        match started {
            Ok(thread) => {
                if let Err(closing) = (Closing { thread, done }).wait(PATIENCE) {
                    self.0.lock().unwrap_or_else(PoisonError::into_inner).push(closing);
                }
            }
            Err(_) => {
                if let Some(close) = take(&close) {
                    close();
                }
            }
        }
    }

    /// Waits until every window has closed.
    pub(crate) fn wait(&self) {
        let closings = std::mem::take(&mut *self.0.lock().unwrap_or_else(PoisonError::into_inner));
        for closing in closings {
            // A thread that does not end is left running: it owns everything it needs.
            let _ = closing.wait(LONGEST);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicBool, Ordering};
    use std::time::Instant;

    #[test]
    fn a_slow_window_holds_the_host_up_for_the_patience_and_is_gone_with_the_instance() {
        let (closings, gone) = (Closings::default(), Arc::new(AtomicBool::new(false)));
        let start = Instant::now();
        closings.run({
            let gone = gone.clone();
            move || {
                std::thread::sleep(4 * PATIENCE);
                gone.store(true, Ordering::Release);
            }
        });
        assert!(start.elapsed() >= PATIENCE && start.elapsed() < 3 * PATIENCE, "{:?}", start.elapsed());
        assert!(!gone.load(Ordering::Acquire));
        closings.wait();
        assert!(gone.load(Ordering::Acquire));
    }

    #[test]
    fn a_quick_window_is_gone_at_once_and_a_panic_in_it_ends_nothing() {
        let (closings, gone) = (Closings::default(), Arc::new(AtomicBool::new(false)));
        closings.run({
            let gone = gone.clone();
            move || gone.store(true, Ordering::Release)
        });
        assert!(gone.load(Ordering::Acquire));
        closings.run(|| panic!("the rope slipped"));
        closings.wait();
    }
}
