//! What is known of an active instance, between its threads.

use clap_sys::process::clap_process;
use plumbline_programme::mics::{LEAST_FRACTION_SAMPLES, LONGEST_TRIAL_SECS};
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU32, Ordering};

/// What is known of an active instance.
#[derive(Debug, Default)]
pub(super) struct Processing {
    pub(super) active: AtomicBool,
    /// Whether a block or a flush runs.
    busy: AtomicBool,
    /// Channels of the main bus.
    pub(super) main: AtomicU32,
    /// Channels of the side-chain; 0 without one.
    pub(super) side: AtomicU32,
    /// The longest block for which the framework has room.
    pub(super) longest: AtomicU32,
    /// Sample rate, in whole hertz.
    pub(super) rate: AtomicU32,
    /// The host's steady time after the last block; negative if it gives none.
    pub(super) steady: AtomicI64,
}

impl Processing {
    /// Begins a block or a flush; false while another runs.
    pub(super) fn enter(&self) -> bool {
        !self.busy.swap(true, Ordering::Acquire)
    }

    /// Ends what [`Self::enter`] began.
    pub(super) fn leave(&self) {
        self.busy.store(false, Ordering::Release);
    }

    /// The sample rate; 0 before the first activation.
    pub(super) fn rate_hz(&self) -> u32 {
        self.rate.load(Ordering::Relaxed)
    }

    /// Whether the host has left out at least as much as a trial can hold since the last block.
    pub(super) fn has_slept(&self, block: &clap_process) -> bool {
        let now = block.steady_time;
        let next = if now >= 0 { now.saturating_add(i64::from(block.frames_count)) } else { -1 };
        let expected = self.steady.swap(next, Ordering::Relaxed);
        now >= 0 && expected >= 0 && now.saturating_sub(expected) >= i64::from(longest_tail(self.rate_hz()))
    }
}

/// The longest tail at a rate: the longest delay, and the reach of the kernel beyond it.
pub(super) fn longest_tail(rate_hz: u32) -> u32 {
    let frames = (LONGEST_TRIAL_SECS * f64::from(rate_hz) + LEAST_FRACTION_SAMPLES).ceil();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
    let frames = frames as u32;
    frames
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tail_is_the_longest_delay_and_the_kernels_reach() {
        assert_eq!(longest_tail(48_000), 4_832);
        assert_eq!(longest_tail(0), 32);
        assert_eq!(longest_tail(u32::MAX), 429_496_762);
    }
}
