//! What a layer and the worker share: orders one way, views and history the other. The audio thread has no hand
//! on any of it.

use crate::board::{Born, LETTERS};
use crate::history::History;
use crate::link::{Counts, Link};
use crate::marks::MarkOrders;
use plumbline_measure::BandEdges;
use plumbline_programme::delivery::Target;
use plumbline_programme::{BalanceTarget, Identity, LayerId, Lens, Mark, Mic, Rules, Trial, View};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Called after each new view.
pub(crate) type Notify = Arc<dyn Fn() + Send + Sync>;

/// What the host's side wants of the worker.
pub(crate) struct Orders {
    /// Openings the worker has not taken yet, oldest first.
    pub(crate) opened: Vec<Arc<Link>>,
    /// The newest opening.
    pub(crate) current: Option<Arc<Link>>,
    pub(crate) edges: BandEdges,
    pub(crate) target: Target,
    pub(crate) reset: bool,
    pub(crate) watched: bool,
    pub(crate) identity: Identity,
    pub(crate) letter: char,
    pub(crate) balance_target: BalanceTarget,
    pub(crate) pair: Option<(LayerId, LayerId)>,
    /// The pair of microphones that is compared in any case.
    pub(crate) mics: Option<[Mic; 2]>,
    pub(crate) trial: Option<Trial>,
    pub(crate) mark: bool,
    pub(crate) marks: MarkOrders,
    pub(crate) rules: Rules,
    pub(crate) lens: Lens,
    pub(crate) rewound: Option<Mark>,
    /// Findings that were seen to, or not.
    pub(crate) seen: Vec<(u64, bool)>,
    pub(crate) notify: Option<Notify>,
}

/// One layer's shared state.
pub(crate) struct Desk {
    /// The layer's number, and when it was made.
    pub(crate) born: Born,
    orders: Mutex<Orders>,
    /// Whether there is anything new in the orders: spares a hundred idle layers their locks.
    asked: AtomicBool,
    /// Whether all orders are carried out, all that was handed over is measured, and no tap is open.
    settled: AtomicBool,
    pub(crate) view: Mutex<Arc<View>>,
    pub(crate) serial: AtomicU64,
    pub(crate) history: Mutex<History>,
    /// The marks as the worker has them; written with the orders locked, so that no reader misses any.
    pub(crate) marks: Mutex<Vec<Mark>>,
    pub(crate) trouble: Mutex<Option<String>>,
    pub(crate) counts: Arc<Counts>,
}

impl Desk {
    pub(crate) fn new() -> Self {
        Self {
            born: Born::now(),
            orders: Mutex::new(Orders {
                opened: Vec::new(),
                current: None,
                edges: BandEdges::default(),
                target: Target::default(),
                reset: false,
                watched: false,
                identity: Identity::default(),
                letter: *LETTERS.start(),
                balance_target: BalanceTarget::default(),
                pair: None,
                mics: None,
                trial: None,
                mark: false,
                marks: MarkOrders::default(),
                rules: Rules::default(),
                lens: Lens::default(),
                rewound: None,
                seen: Vec::new(),
                notify: None,
            }),
            asked: AtomicBool::new(true),
            settled: AtomicBool::new(false),
            view: Mutex::default(),
            serial: AtomicU64::new(0),
            history: Mutex::default(),
            marks: Mutex::default(),
            trouble: Mutex::default(),
            counts: Arc::default(),
        }
    }

    /// Changes the orders; the worker sees it in its next round.
    pub(crate) fn order<R>(&self, change: impl FnOnce(&mut Orders) -> R) -> R {
        let mut orders = lock(&self.orders);
        let result = change(&mut orders);
        self.asked.store(true, Ordering::Release);
        self.settled.store(false, Ordering::Release);
        result
    }

    /// Looks at the orders and changes nothing.
    pub(crate) fn look<R>(&self, look: impl FnOnce(&Orders) -> R) -> R {
        look(&lock(&self.orders))
    }

    /// The worker's look at the orders; `None` when nothing was asked since the last one.
    pub(crate) fn read<R>(&self, look: impl FnOnce(&mut Orders) -> R) -> Option<R> {
        if !self.asked.load(Ordering::Acquire) {
            return None;
        }
        let mut orders = lock(&self.orders);
        self.asked.store(false, Ordering::Release);
        Some(look(&mut orders))
    }

    /// The worker has nothing left to do. It counts unless something was asked meanwhile.
    pub(crate) fn settle(&self) {
        if !self.is_settled() {
            let _orders = lock(&self.orders);
            self.settled.store(!self.asked.load(Ordering::Acquire), Ordering::Release);
        }
    }

    /// The worker found something to do by itself.
    pub(crate) fn unsettle(&self) {
        self.settled.store(false, Ordering::Release);
    }

    pub(crate) fn is_settled(&self) -> bool {
        self.settled.load(Ordering::Acquire)
    }

    /// Takes the callback out to be called without a lock held.
    pub(crate) fn notify(&self) -> Option<Notify> {
        lock(&self.orders).notify.clone()
    }
}

/// Locks, and goes on with what is there if another thread panicked while it held the lock: every value behind
/// these locks is whole at any moment.
pub(crate) fn lock<T: ?Sized>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
