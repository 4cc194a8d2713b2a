//! One record that one process writes and any number read: a sequence lock with a checksum.
//!
//! A reader takes nothing that was being written meanwhile, and nothing that was damaged: the checksum covers the
//! number of the record and every word, and each of its steps can be undone, so a change of one word always shows.
//! It is no seal against somebody who means to deceive; against that stand the bounds that every reader checks.

use std::sync::atomic::{AtomicU64, Ordering, fence};

/// How often a reader tries before it leaves a record for the next round.
const TRIES: u32 = 16;

/// A numbered record of `N` words.
///
/// `turn` is odd while record n = turn / 2 is written, and 2·n + 2 when it is there; 0 before the first.
#[repr(C)]
#[derive(Debug)]
pub(super) struct Record<const N: usize> {
    turn: AtomicU64,
    check: AtomicU64,
    words: [AtomicU64; N],
}

/// Why a record could not be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Miss {
    /// It was being written whenever one looked. It may be there in the next round.
    Torn,
    /// Nothing has been written yet.
    Empty,
    /// The checksum does not fit.
    Damaged,
}

impl<const N: usize> Record<N> {
    /// Writes record `number`. There is one writer.
    pub(super) fn write(&self, number: u64, words: &[u64; N]) {
        let turn = number.wrapping_mul(2);
        self.turn.store(turn.wrapping_add(1), Ordering::Relaxed);
        // Whoever sees a word from below then sees the odd turn as well.
        fence(Ordering::Release);
        for (to, word) in self.words.iter().zip(words) {
            to.store(*word, Ordering::Relaxed);
        }
        self.check.store(checksum(number, words), Ordering::Relaxed);
        self.turn.store(turn.wrapping_add(2), Ordering::Release);
    }

    /// Reads the newest record with its number. Loads are relaxed and fences order them: that is what may be done to
    /// memory that is mapped for reading only.
    pub(super) fn read(&self) -> Result<(u64, [u64; N]), Miss> {
        let mut miss = Miss::Torn;
        for _ in 0..TRIES {
            let turn = self.turn.load(Ordering::Relaxed);
            fence(Ordering::Acquire);
            let words: [u64; N] = std::array::from_fn(|i| self.words[i].load(Ordering::Relaxed));
            let check = self.check.load(Ordering::Relaxed);
            fence(Ordering::Acquire);
            if turn == 0 {
                return Err(Miss::Empty);
            }
            if turn % 2 == 1 || self.turn.load(Ordering::Relaxed) != turn {
                miss = Miss::Torn;
                std::hint::spin_loop();
                continue;
            }
            let number = (turn - 2) / 2;
            if check == checksum(number, &words) {
                return Ok((number, words));
            }
            miss = Miss::Damaged;
        }
        Err(miss)
    }
}

#[cfg(test)]
impl<const N: usize> Default for Record<N> {
    fn default() -> Self {
        Self {
            turn: AtomicU64::new(0),
            check: AtomicU64::new(0),
            words: std::array::from_fn(|_| AtomicU64::new(0)),
        }
    }
}

#[cfg(test)]
impl<const N: usize> Record<N> {
    /// Damages one word.
    pub(super) fn spoil(&self, place: usize, bits: u64) {
        self.words[place].fetch_xor(bits, Ordering::Relaxed);
    }
}

/// Every step can be undone for a given word and for a given state, so no single changed word goes unseen.
fn checksum(number: u64, words: &[u64]) -> u64 {
    // Odd, and its bits look like chance: the golden ratio in 64 bits.
    const STIR: u64 = 0x9E37_79B9_7F4A_7C15;
    words.iter().fold(number ^ STIR, |state, word| {
        let mixed = (state ^ word).wrapping_mul(STIR);
        (mixed ^ (mixed >> 29)).wrapping_add(STIR)
    })
}
