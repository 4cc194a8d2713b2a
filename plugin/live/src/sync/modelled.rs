//! Atomics and fences of the model checker `loom`, explored in full, and weakened on request.
//!
//! # In full
//! `loom` 0.7 remembers one access to each atomic. If a thread loads an atomic before it stores to it, its own load
//! covers that of another thread, and the checker never tries the store before the other's load
//! (<https://github.com/tokio-rs/loom/issues/392>, <https://github.com/tokio-rs/loom/issues/166>). So each load here
//! first stores to an atomic beside the value, which nothing loads: loads are then tried in both orders too, and no
//! access synchronises with another because of it.
//!
//! # Weakened
//! If the environment variable `PLUMBLINE_WEAKEN` names a line, as in `seqlock.rs:46`, the fence of that line is left
//! out, or its ordering is relaxed. A model of that file must then fail.

use loom::sync::atomic;
use std::panic::Location;
use std::sync::LazyLock;
use std::sync::atomic::Ordering;

/// Whether the caller's line is to be weakened.
#[track_caller]
fn is_weakened() -> bool {
    static LINE: LazyLock<Option<String>> = LazyLock::new(|| std::env::var("PLUMBLINE_WEAKEN").ok());
    let caller = Location::caller();
    LINE.as_ref().is_some_and(|line| format!("{}:{}", caller.file(), caller.line()).ends_with(line.as_str()))
}

/// A fence.
#[track_caller]
pub(crate) fn fence(order: Ordering) {
    if !is_weakened() {
        atomic::fence(order);
    }
}

#[track_caller]
fn given(order: Ordering) -> Ordering {
    if order != Ordering::Relaxed && is_weakened() { Ordering::Relaxed } else { order }
}

/// Makes an atomic of an integer.
macro_rules! atomic {
    ($name:ident, $value:ty) => {
        #[doc = concat!("An atomic `", stringify!($value), "`.")]
        #[derive(Debug)]
        pub(crate) struct $name {
            value: atomic::$name,
            touched: atomic::AtomicBool,
        }

        impl $name {
            pub(crate) fn new(value: $value) -> Self {
                Self { value: atomic::$name::new(value), touched: atomic::AtomicBool::new(false) }
            }

            #[track_caller]
            pub(crate) fn load(&self, order: Ordering) -> $value {
                self.touched.store(true, Ordering::Relaxed);
                self.value.load(given(order))
            }

            #[track_caller]
            pub(crate) fn store(&self, value: $value, order: Ordering) {
                self.value.store(value, given(order));
            }
        }
    };
}

atomic!(AtomicU32, u32);
atomic!(AtomicU64, u64);

#[cfg(test)]
impl AtomicU64 {
    pub(crate) fn fetch_xor(&self, bits: u64, order: Ordering) -> u64 {
        self.value.fetch_xor(bits, order)
    }

    #[track_caller]
    pub(crate) fn compare_exchange(
        &self,
        current: u64,
        new: u64,
        success: Ordering,
        failure: Ordering,
    ) -> Result<u64, u64> {
        self.value.compare_exchange(current, new, given(success), failure)
    }
}

/// An atomic `f32`, as `atomic_float` makes one of the standard library's integers.
#[derive(Debug)]
pub(crate) struct AtomicF32(AtomicU32);

impl AtomicF32 {
    #[cfg(test)]
    pub(crate) fn new(value: f32) -> Self {
        Self(AtomicU32::new(value.to_bits()))
    }

    pub(crate) fn load(&self, order: Ordering) -> f32 {
        f32::from_bits(self.0.load(order))
    }

    pub(crate) fn store(&self, value: f32, order: Ordering) {
        self.0.store(value.to_bits(), order);
    }
}
