//! The atomics of the lock-free code: the standard library's, or with `--cfg loom` those of the model checker.
//!
//! Only the code that the models explore takes its atomics from here: the board's files and the mailbox of trials.

#[cfg(loom)]
mod modelled;

#[cfg(not(loom))]
pub(crate) use {
    atomic_float::AtomicF32,
    std::hint::spin_loop,
    std::sync::atomic::{AtomicU32, AtomicU64, fence},
};
#[cfg(loom)]
pub(crate) use {
    loom::hint::spin_loop,
    modelled::{AtomicF32, AtomicU32, AtomicU64, fence},
};
