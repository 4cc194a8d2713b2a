//! The state of an instance whose host is the VST3 wrapper.

use super::instance::Instance;
use clap_sys::ext::params::{CLAP_EXT_PARAMS, clap_plugin_params};
use clap_sys::ext::state::{CLAP_EXT_STATE, clap_plugin_state};
use clap_sys::plugin::clap_plugin;
use clap_sys::stream::{clap_istream, clap_ostream};

/// The most parameters compared.
const MOST: usize = 16;

/// `state` for the VST3 wrapper.
pub(super) static TABLE: clap_plugin_state = clap_plugin_state { save: Some(save), load: Some(load) };

unsafe extern "C" fn save(plugin: *const clap_plugin, stream: *const clap_ostream) -> bool {
    // SAFETY: the host's own arguments, passed to the function that they are for.
    unsafe {
        let Some(instance) = Instance::of(plugin) else { return false };
        let state = instance.extension(plugin, CLAP_EXT_STATE).cast::<clap_plugin_state>();
        state.as_ref().and_then(|state| state.save).is_some_and(|save| save(plugin, stream))
    }
}

/// Loads a state, and asks the host to reread the values if any changed.
unsafe extern "C" fn load(plugin: *const clap_plugin, stream: *const clap_istream) -> bool {
    // SAFETY: the host's own arguments; the framework's tables live as long as the instance.
    unsafe {
        let Some(instance) = Instance::of(plugin) else { return false };
        let Some(wrapper) = &instance.wrapper else { return false };
        let state = instance.extension(plugin, CLAP_EXT_STATE).cast::<clap_plugin_state>();
        let Some(load) = state.as_ref().and_then(|state| state.load) else { return false };
        let before = values(instance, plugin);
        let loaded = load(plugin, stream);
        if values(instance, plugin) != before {
            wrapper.tell_values();
        }
        loaded
    }
}

/// The values of the first parameters; absent ones are 0.
///
/// # Safety
/// The host's pointer to an instance.
unsafe fn values(instance: &Instance, plugin: *const clap_plugin) -> [f64; MOST] {
    let mut values = [0.0; MOST];
    // SAFETY: the caller's promise, and the framework's own table.
    unsafe {
        let params = instance.extension(plugin, CLAP_EXT_PARAMS).cast::<clap_plugin_params>();
        let Some(params) = params.as_ref() else { return values };
        let (Some(count), Some(info), Some(value)) = (params.count, params.get_info, params.get_value) else {
            return values;
        };
        for (index, slot) in (0..count(plugin)).zip(&mut values) {
            let mut about = std::mem::zeroed();
            if info(plugin, index, &raw mut about) {
                value(plugin, about.id, slot);
            }
        }
    }
    values
}
