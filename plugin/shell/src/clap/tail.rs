//! The tail that a VST3 host gets.
//!
//! A VST3 host asks for the tail when it starts, before a repair is tried out, and a later change does not reach it. The
//! answer is therefore the longest tail of any trial: a host that sleeps on silence would otherwise cut off up to that
//! much sound.

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
