//! Waits for the end of a window's own thread.
//!
//! On X11 the windowing library gives each window a thread, and may leave it running for a moment after the window is
//! closed: on drop it asks the thread for an answer, which an ending thread no longer gives, and then does not join it.
//! A host may unload the library right after, with that thread still in its code, and crash. So a closing editor waits
//! for the thread here.

use std::cell::RefCell;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Mutex, PoisonError};
use std::thread::ThreadId;
use std::time::Duration;

/// The longest wait for a thread to end; usually milliseconds, but a frame drawn without a graphics card may take a
/// second or two.
const PATIENCE: Duration = Duration::from_secs(10);

thread_local! {
    /// Dropped when the thread ends, which the other end of each channel notices.
    static UNTIL_THE_END: RefCell<Vec<Sender<()>>> = const { RefCell::new(Vec::new()) };
}

/// The end of the thread that draws a window.
pub(super) struct Ending {
    sender: Mutex<Option<Sender<()>>>,
    receiver: Mutex<Receiver<()>>,
    thread: Mutex<Option<ThreadId>>,
    begun: AtomicBool,
}

impl Ending {
    pub(super) fn new() -> Self {
        let (sender, receiver) = channel();
        Self {
            sender: Mutex::new(Some(sender)),
            receiver: Mutex::new(receiver),
            thread: Mutex::new(None),
            begun: AtomicBool::new(false),
        }
    }

    /// Ties this to the calling thread.
    pub(super) fn of_this_thread(&self) {
        let sender = self.sender.lock().unwrap_or_else(PoisonError::into_inner).take();
        *self.thread.lock().unwrap_or_else(PoisonError::into_inner) = Some(std::thread::current().id());
        UNTIL_THE_END.with_borrow_mut(|senders| senders.extend(sender));
    }

    /// Marks the window as closing: no more frames are drawn.
    pub(super) fn begin(&self) {
        self.begun.store(true, Ordering::Release);
    }

    /// Whether the window is closing.
    pub(super) fn has_begun(&self) -> bool {
        self.begun.load(Ordering::Acquire)
    }

    /// Waits up to the limit for the end of the thread, unless it is the calling thread. True if it has ended or never
    /// began.
    pub(super) fn wait(&self) -> bool {
        let thread = *self.thread.lock().unwrap_or_else(PoisonError::into_inner);
        if thread.is_none_or(|id| id == std::thread::current().id()) {
            return true;
        }
        let receiver = self.receiver.lock().unwrap_or_else(PoisonError::into_inner);
        receiver.recv_timeout(PATIENCE) == Err(RecvTimeoutError::Disconnected)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    #[test]
    fn waits_for_what_a_thread_does_last() {
        let (ending, done) = (Arc::new(Ending::new()), Arc::new(AtomicBool::new(false)));
        let begun = Arc::new(std::sync::Barrier::new(2));
        // Not joined, as with the windowing library.
        std::thread::spawn({
            let (ending, done, begun) = (ending.clone(), done.clone(), begun.clone());
            move || {
                ending.of_this_thread();
                begun.wait();
                std::thread::sleep(Duration::from_millis(50));
                done.store(true, Ordering::Release);
            }
        });
        begun.wait();
        assert!(ending.wait());
        assert!(done.load(Ordering::Acquire));
    }

    #[test]
    fn does_not_wait_for_its_own_thread_or_for_none() {
        let ending = Ending::new();
        assert!(ending.wait());
        ending.of_this_thread();
        assert!(ending.wait());
    }
}
