//! The mailbox that passes a plan to the audio thread by value; the audio thread never waits.

use super::channel_delay::{ChannelDelay, ChannelDelays};
use super::fractional_delay::TAPS;
use crate::sync::{AtomicU32, fence, spin_loop};
use std::sync::atomic::Ordering;

/// Words of one channel: a head, and the weights.
const WORDS: usize = 1 + TAPS;
const FLIP: u32 = 1 << 31;
const KERNEL: u32 = 1 << 30;

/// The latest plan under a sequence lock. A reader that finds it mid-write tries again with its next block.
#[derive(Debug)]
pub(crate) struct Mailbox {
    /// Odd while a plan is being written; 0 before the first.
    turn: AtomicU32,
    words: [AtomicU32; 2 * WORDS],
}

impl Mailbox {
    pub(crate) fn new() -> Self {
        Self { turn: AtomicU32::new(0), words: std::array::from_fn(|_| AtomicU32::new(0)) }
    }

    /// Replaces the plan. One writer at a time: the lock of the layer's inbox ensures that.
    pub(crate) fn put(&self, plan: &ChannelDelays) {
        let turn = self.turn.load(Ordering::Relaxed);
        self.turn.store(turn.wrapping_add(1), Ordering::Relaxed);
        // A reader that sees a word written below then sees the odd turn as well.
        fence(Ordering::Release);
        for (words, way) in self.words.chunks_exact(WORDS).zip(&plan.ways) {
            let flip = if way.flip { FLIP } else { 0 };
            let kernel = if way.kernel.is_some() { KERNEL } else { 0 };
            words[0].store(way.delay | flip | kernel, Ordering::Relaxed);
            for (word, weight) in words[1..].iter().zip(way.kernel.iter().flatten()) {
                word.store(weight.to_bits(), Ordering::Relaxed);
            }
        }
        self.turn.store(turn.wrapping_add(2), Ordering::Release);
    }

    /// The latest plan, for a new tap; `None` before the first. Waits while one is being written, so not for the audio
    /// thread.
    pub(crate) fn first(&self, seen: &mut u32) -> Option<ChannelDelays> {
        loop {
            let plan = self.take(seen);
            if plan.is_some() || self.turn.load(Ordering::Acquire) == 0 {
                return plan;
            }
            spin_loop();
        }
    }

    /// The latest plan; `None` if `seen` shows it as taken, or while it is being written.
    ///
    /// # Realtime Safety
    /// Atomic loads; never retries.
    pub(crate) fn take(&self, seen: &mut u32) -> Option<ChannelDelays> {
        let turn = self.turn.load(Ordering::Acquire);
        if turn == *seen || turn % 2 == 1 {
            return None;
        }
        let way = |from: usize| {
            let words = &self.words[from..from + WORDS];
            let head = words[0].load(Ordering::Relaxed);
            let kernel = (head & KERNEL != 0)
                .then(|| std::array::from_fn(|k| f32::from_bits(words[1 + k].load(Ordering::Relaxed))));
            ChannelDelay { flip: head & FLIP != 0, delay: head & !(FLIP | KERNEL), kernel }
        };
        let plan = ChannelDelays { ways: [way(0), way(WORDS)] };
        fence(Ordering::Acquire);
        if self.turn.load(Ordering::Relaxed) != turn {
            return None;
        }
        *seen = turn;
        Some(plan)
    }
}

#[cfg(all(test, loom))]
mod models;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stream_format::StreamFormat;
    use plumbline_measure::SampleRate;
    use plumbline_programme::Trial;

    fn plan(samples: f64, flip: bool) -> ChannelDelays {
        let format = StreamFormat {
            rate: SampleRate::new(48_000).unwrap(),
            channels: 2,
            side_channels: 0,
            offline: false,
        };
        let secs = samples / 48_000.0;
        let trial = Trial { delay_secs: [secs, secs + 1e-3], flip: [flip, !flip], in_renders: false };
        ChannelDelays::of(Some(trial), &format)
    }

    #[test]
    fn each_plan_is_taken_once_and_the_newest_stands() {
        let mailbox = Mailbox::new();
        let mut seen = 0;
        assert_eq!(mailbox.take(&mut seen), None);
        mailbox.put(&plan(100.25, true));
        assert_eq!(mailbox.take(&mut seen), Some(plan(100.25, true)));
        assert_eq!(mailbox.take(&mut seen), None);
        mailbox.put(&plan(4_800.0, false));
        mailbox.put(&plan(7.0, true));
        assert_eq!(mailbox.take(&mut seen), Some(plan(7.0, true)));
        assert_eq!(mailbox.take(&mut seen), None);
    }

    #[test]
    fn no_plan_is_ever_half_of_two() {
        let mailbox = Mailbox::new();
        let plans = [plan(100.25, true), plan(300.75, false), plan(9.0, true)];
        // A call during a write takes no plan; any other must get a whole one.
        let (taken, left) = std::thread::scope(|scope| {
            let reader = scope.spawn(|| {
                let (mut seen, mut taken, mut left) = (0, 0, 0_u64);
                while taken < 20_000 {
                    match mailbox.take(&mut seen) {
                        Some(plan) => {
                            assert!(plans.contains(&plan), "{plan:?}");
                            taken += 1;
                        }
                        None => left += 1,
                    }
                }
                (taken, left)
            });
            let mut round = 0;
            while !reader.is_finished() {
                mailbox.put(&plans[round % plans.len()]);
                round += 1;
                // Time for a read between two writes.
                (0..round % 300).for_each(|_| std::hint::spin_loop());
            }
            reader.join().unwrap()
        });
        assert_eq!(taken, 20_000);
        assert!(left > 0, "no look met a writer: the case tested nothing");
    }
}
