//! A model of the rule that keeps the audio thread from waiting in a push: see [`crate::models`].
//!
//! The queue's own atomics cannot be exchanged, so this is a copy of its protocol: the file `src/array_queue.rs` of the
//! crate `crossbeam-queue` 0.3.14, the functions `new`, `push_or_else`, `push`, `pop` and `len`, with the orderings of
//! that file. A branch that waits there is reported here.

use super::leaves_one_free;
use crate::models::explore;
use crate::sync::{AtomicU64, fence};
use loom::cell::UnsafeCell;
use loom::thread;
use std::sync::Arc;
use std::sync::atomic::Ordering;

/// A slot: its stamp, the value in it, and the checker's guard against two accesses at once.
struct Slot {
    stamp: AtomicU64,
    value: std::sync::atomic::AtomicU64,
    access: UnsafeCell<()>,
}

/// The copy of `ArrayQueue`.
struct Stamps {
    head: AtomicU64,
    tail: AtomicU64,
    buffer: Vec<Slot>,
    one_lap: u64,
}

#[derive(Debug, PartialEq, Eq)]
enum Pushed {
    Done,
    Full,
    /// `ArrayQueue` spins here until the consumer stamps the slot.
    Waits,
}

impl Stamps {
    fn new(capacity: u64) -> Self {
        let slot = |i| Slot {
            stamp: AtomicU64::new(i),
            value: std::sync::atomic::AtomicU64::new(0),
            access: UnsafeCell::new(()),
        };
        Self {
            head: AtomicU64::new(0),
            tail: AtomicU64::new(0),
            buffer: (0..capacity).map(slot).collect(),
            one_lap: (capacity + 1).next_power_of_two(),
        }
    }

    /// The slot of a head or tail, and the head or tail that follows.
    fn slot_and_next(&self, stamp: u64) -> (&Slot, u64) {
        let index = (stamp & (self.one_lap - 1)) as usize;
        let lap = stamp & !(self.one_lap - 1);
        let next = if index + 1 < self.buffer.len() { stamp + 1 } else { lap.wrapping_add(self.one_lap) };
        (&self.buffer[index], next)
    }

    fn push(&self, value: u64) -> Pushed {
        let tail = self.tail.load(Ordering::Relaxed);
        let (slot, next) = self.slot_and_next(tail);
        let stamp = slot.stamp.load(Ordering::Acquire);
        if tail == stamp {
            let moved = self.tail.compare_exchange(tail, next, Ordering::SeqCst, Ordering::Relaxed);
            moved.expect("there is one producer");
            slot.access.with_mut(|_| slot.value.store(value, Ordering::Relaxed));
            slot.stamp.store(tail + 1, Ordering::Release);
            Pushed::Done
        } else if stamp.wrapping_add(self.one_lap) == tail + 1 {
            fence(Ordering::SeqCst);
            let head = self.head.load(Ordering::Relaxed);
            if head.wrapping_add(self.one_lap) == tail { Pushed::Full } else { Pushed::Waits }
        } else {
            Pushed::Waits
        }
    }

    fn pop(&self) -> Option<u64> {
        let head = self.head.load(Ordering::Relaxed);
        loop {
            let (slot, next) = self.slot_and_next(head);
            let stamp = slot.stamp.load(Ordering::Acquire);
            if head + 1 == stamp {
                let moved = self.head.compare_exchange(head, next, Ordering::SeqCst, Ordering::Relaxed);
                moved.expect("there is one consumer");
                let value = slot.access.with_mut(|_| slot.value.load(Ordering::Relaxed));
                slot.stamp.store(head.wrapping_add(self.one_lap), Ordering::Release);
                return Some(value);
            }
            assert_eq!(stamp, head, "nobody else moves the head");
            fence(Ordering::SeqCst);
            if self.tail.load(Ordering::Relaxed) == head {
                return None;
            }
            // The worker may wait for the audio thread.
            thread::yield_now();
        }
    }

    fn len(&self) -> usize {
        loop {
            let tail = self.tail.load(Ordering::SeqCst);
            let head = self.head.load(Ordering::SeqCst);
            if self.tail.load(Ordering::SeqCst) == tail {
                let head_index = (head & (self.one_lap - 1)) as usize;
                let tail_index = (tail & (self.one_lap - 1)) as usize;
                return if head_index < tail_index {
                    tail_index - head_index
                } else if head_index > tail_index {
                    self.buffer.len() - head_index + tail_index
                } else if tail == head {
                    0
                } else {
                    self.buffer.len()
                };
            }
        }
    }
}

/// Explores a tap that hands over a step of `step` values, and `steps` more while the worker takes up to `pops` values.
fn explore_queue(name: &str, capacity: u64, step: usize, steps: usize, pops: usize) {
    explore(name, &["sent", "dropped", "a slot used again"], move |reached| {
        let queue = Arc::new(Stamps::new(capacity));
        let mut sent = Vec::new();
        for value in 0..step as u64 {
            assert_eq!(queue.push(value), Pushed::Done);
            sent.push(value);
        }
        let theirs = Arc::clone(&queue);
        let worker = thread::spawn(move || (0..pops).filter_map(|_| theirs.pop()).collect::<Vec<_>>());
        for n in 1..=steps {
            if !leaves_one_free(queue.buffer.len(), queue.len(), step) {
                reached.note("dropped");
                continue;
            }
            reached.note("sent");
            for k in 0..step {
                let value = (n * step + k) as u64;
                assert_eq!(queue.push(value), Pushed::Done, "the audio thread waits, or loses a value");
                sent.push(value);
            }
        }
        if sent.len() > queue.buffer.len() {
            reached.note("a slot used again");
        }
        let mut taken = worker.join().unwrap();
        taken.extend(std::iter::from_fn(|| queue.pop()));
        assert_eq!(taken, sent);
    });
}

#[test]
fn a_push_never_waits_for_the_worker() {
    explore_queue("queue", 2, 1, 2, 2);
}

#[test]
fn a_step_with_side_chain_never_waits_for_the_worker() {
    explore_queue("queue with side-chain", 3, 2, 2, 4);
}
