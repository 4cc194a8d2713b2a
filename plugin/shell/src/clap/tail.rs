//! The tail that a VST3 host is told of.
//!
//! A VST3 host asks for the tail when it starts, before any repair is tried out, and is not told of a change. So it is
//! told of the longest that a trial can have; a host that sleeps on silence before would swallow up to that.

use super::instance::Instance;
use clap_sys::ext::tail::clap_plugin_tail;
use clap_sys::plugin::clap_plugin;
use plumbline_programme::mics::{LEAST_FRACTION_SAMPLES, LONGEST_TRIAL_SECS};

/// `tail` for the VST3 wrapper.
pub(super) static TABLE: clap_plugin_tail = clap_plugin_tail { get: Some(get) };

unsafe extern "C" fn get(plugin: *const clap_plugin) -> u32 {
    // SAFETY: the host's pointer to this instance.
    unsafe { Instance::of(plugin) }.map_or(0, |instance| frames(instance.processing.rate_hz()))
}

/// The longest tail at a rate: the longest delay, and the reach of the kernel beyond it.
pub(super) fn frames(rate_hz: u32) -> u32 {
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
        assert_eq!(frames(48_000), 4_832);
        assert_eq!(frames(0), 32);
        assert_eq!(frames(u32::MAX), 429_496_762);
    }
}
