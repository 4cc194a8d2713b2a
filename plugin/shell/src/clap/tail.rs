//! The tail that a VST3 host is told of.
//!
//! A VST3 host asks for the tail when it starts, before any repair is tried out, and is not told of a change. So it is
//! told of the longest that a trial can have; a host that sleeps on silence before would swallow up to that.

use super::instance::Instance;
use super::processing::longest_tail;
use clap_sys::ext::tail::clap_plugin_tail;
use clap_sys::plugin::clap_plugin;

/// `tail` for the VST3 wrapper.
pub(super) static TABLE: clap_plugin_tail = clap_plugin_tail { get: Some(get) };

unsafe extern "C" fn get(plugin: *const clap_plugin) -> u32 {
    // SAFETY: the host's pointer to this instance.
    unsafe { Instance::of(plugin) }.map_or(0, |instance| longest_tail(instance.processing.rate_hz()))
}
