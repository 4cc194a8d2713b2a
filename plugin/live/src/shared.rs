//! The state shared by a layer and the worker: settings and commands go one way, views and history the other. The audio
//! thread never uses it.

use crate::audio_queue::{AudioQueue, Counts};
use crate::board::Born;
use plumbline_programme::{Command, History, Mark, Settings, View};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// The callback that follows each new view.
pub(crate) type Notify = Arc<dyn Fn() + Send + Sync>;

/// Requests to the worker.
#[derive(Default)]
pub(crate) struct Inbox {
    /// Queues that the worker has not taken yet, oldest first.
    pub(crate) opened: Vec<Arc<AudioQueue>>,
    /// The latest queue.
    pub(crate) current: Option<Arc<AudioQueue>>,
    pub(crate) settings: Settings,
    /// Commands that the worker has not taken yet, oldest first.
    pub(crate) commands: Vec<Command>,
    pub(crate) notify: Option<Notify>,
}

/// One layer's shared state.
pub(crate) struct SharedState {
    /// The layer's id, and when it was made.
    pub(crate) born: Born,
    inbox: Mutex<Inbox>,
    /// Whether the inbox has anything new; saves locking the inboxes of idle layers.
    asked: AtomicBool,
    /// Whether all requests are done, all audio handed over is measured, and no tap is open.
    settled: AtomicBool,
    /// Resets and openings so far: each is an attempt to get a failed part going again.
    attempts: AtomicU64,
    pub(crate) view: Mutex<Arc<View>>,
    pub(crate) serial: AtomicU64,
    pub(crate) history: Mutex<History>,
    /// The worker's marks. Marks from commands are added with the inbox locked, so that a reader finds each in one of
    /// the two.
    pub(crate) marks: Mutex<Vec<Mark>>,
    pub(crate) trouble: Mutex<Option<String>>,
    pub(crate) counts: Arc<Counts>,
}

impl SharedState {
    pub(crate) fn new() -> Self {
        Self {
            born: Born::now(),
            inbox: Mutex::default(),
            asked: AtomicBool::new(true),
            settled: AtomicBool::new(false),
            attempts: AtomicU64::new(0),
            view: Mutex::default(),
            serial: AtomicU64::new(0),
            history: Mutex::default(),
            marks: Mutex::default(),
            trouble: Mutex::default(),
            counts: Arc::default(),
        }
    }

    /// Changes the inbox; the worker sees the change in its next round.
    pub(crate) fn ask<R>(&self, change: impl FnOnce(&mut Inbox) -> R) -> R {
        let mut inbox = lock(&self.inbox);
        let result = change(&mut inbox);
        self.asked.store(true, Ordering::Release);
        self.settled.store(false, Ordering::Release);
        result
    }

    /// Offers the latest queue once more, if it may still have audio: the engine that had taken it may be gone.
    pub(crate) fn offer_current(&self) {
        self.ask(|inbox| {
            let Inbox { opened, current, .. } = inbox;
            let open =
                |queue: &&Arc<AudioQueue>| !queue.closed.load(Ordering::Acquire) || !queue.chunks.is_empty();
            if let Some(queue) = current.as_ref().filter(open)
                && !opened.iter().any(|other| Arc::ptr_eq(other, queue))
            {
                opened.push(Arc::clone(queue));
            }
        });
    }

    /// Notes a reset or an opening.
    pub(crate) fn attempt(&self) {
        self.attempts.fetch_add(1, Ordering::AcqRel);
    }

    /// Resets and openings so far.
    pub(crate) fn attempts(&self) -> u64 {
        self.attempts.load(Ordering::Acquire)
    }

    /// Reads the inbox.
    pub(crate) fn look<R>(&self, look: impl FnOnce(&Inbox) -> R) -> R {
        look(&lock(&self.inbox))
    }

    /// Takes from the inbox, for the worker; `None` if nothing was asked since the last call.
    pub(crate) fn take<R>(&self, take: impl FnOnce(&mut Inbox) -> R) -> Option<R> {
        if !self.asked.load(Ordering::Acquire) {
            return None;
        }
        let mut inbox = lock(&self.inbox);
        self.asked.store(false, Ordering::Release);
        Some(take(&mut inbox))
    }

    /// Notes that the worker has nothing left to do, unless something was asked meanwhile.
    pub(crate) fn settle(&self) {
        if !self.is_settled() {
            let _inbox = lock(&self.inbox);
            self.settled.store(!self.asked.load(Ordering::Acquire), Ordering::Release);
        }
    }

    /// Notes that the worker has something to do.
    pub(crate) fn unsettle(&self) {
        self.settled.store(false, Ordering::Release);
    }

    pub(crate) fn is_settled(&self) -> bool {
        self.settled.load(Ordering::Acquire)
    }

    /// The callback; call it with no lock held.
    pub(crate) fn notify(&self) -> Option<Notify> {
        lock(&self.inbox).notify.clone()
    }

    pub(crate) fn set_trouble(&self, words: Option<String>) {
        *lock(&self.trouble) = words;
    }
}

/// Locks a mutex, and ignores poisoning: the values behind these locks are valid at every moment.
pub(crate) fn lock<T: ?Sized>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
