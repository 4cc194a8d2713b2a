//! A record with one writing process and any number of readers: a sequence lock with a checksum.
//!
//! A reader rejects a record that changed during the read, and one that is damaged. The checksum covers the record's
//! number and every word, and each of its steps is invertible, so a change of one word always shows. It does not stop
//! a forger; readers check the bounds of all values for that.

use crate::sync::{AtomicU64, fence, spin_loop};
use std::sync::atomic::Ordering;

/// How often a reader tries before it leaves a record until the next round. Once in a model: more tries would hide a
/// torn read.
const TRIES: u32 = if cfg!(loom) { 1 } else { 16 };

/// A numbered record of `N` words.
///
/// `turn` is 2·n + 1 while record n is being written, and 2·n + 2 once it is complete; 0 before the first.
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
    /// It was being written at every attempt. The next round may succeed.
    Torn,
    /// Nothing has been written yet.
    Empty,
    /// The checksum does not match.
    Damaged,
}

impl<const N: usize> Record<N> {
    /// Writes record `number`. There must be only one writer.
    pub(super) fn write(&self, number: u64, words: &[u64; N]) {
        let turn = number.wrapping_mul(2);
        self.turn.store(turn.wrapping_add(1), Ordering::Relaxed);
        // A reader that sees a word written below then sees the odd turn as well.
        fence(Ordering::Release);
        for (to, word) in self.words.iter().zip(words) {
            to.store(*word, Ordering::Relaxed);
        }
        self.check.store(checksum(number, words), Ordering::Relaxed);
        self.turn.store(turn.wrapping_add(2), Ordering::Release);
    }

    /// Reads the latest record and its number.
    pub(super) fn read(&self) -> Result<(u64, [u64; N]), Miss> {
        let mut miss = Miss::Torn;
        for _ in 0..TRIES {
            match self.read_once() {
                Err(Miss::Torn) => {
                    miss = Miss::Torn;
                    spin_loop();
                }
                Err(Miss::Damaged) => miss = Miss::Damaged,
                done => return done,
            }
        }
        Err(miss)
    }

    /// One attempt. Loads are relaxed and ordered by fences: read-only memory allows nothing else.
    pub(super) fn read_once(&self) -> Result<(u64, [u64; N]), Miss> {
        let turn = self.turn.load(Ordering::Relaxed);
        fence(Ordering::Acquire);
        let words: [u64; N] = std::array::from_fn(|i| self.words[i].load(Ordering::Relaxed));
        let check = self.check.load(Ordering::Relaxed);
        fence(Ordering::Acquire);
        if turn == 0 {
            return Err(Miss::Empty);
        }
        if turn % 2 == 1 || self.turn.load(Ordering::Relaxed) != turn {
            return Err(Miss::Torn);
        }
        let number = (turn - 2) / 2;
        if check == checksum(number, &words) { Ok((number, words)) } else { Err(Miss::Damaged) }
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
    /// Flips bits of one word.
    pub(super) fn spoil(&self, place: usize, bits: u64) {
        self.words[place].fetch_xor(bits, Ordering::Relaxed);
    }
}

/// A checksum. Every step is invertible in the word and in the state, so a change of one word always shows.
fn checksum(number: u64, words: &[u64]) -> u64 {
    // The golden ratio in 64 bits: odd, with well-mixed bits.
    const STIR: u64 = 0x9E37_79B9_7F4A_7C15;
    words.iter().fold(number ^ STIR, |state, word| {
        let mixed = (state ^ word).wrapping_mul(STIR);
        (mixed ^ (mixed >> 29)).wrapping_add(STIR)
    })
}
