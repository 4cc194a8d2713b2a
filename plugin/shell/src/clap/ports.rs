//! The choice of a layout with the channels that a host asks for.

use super::instance::Instance;
use clap_sys::ext::audio_ports_config::{
    CLAP_EXT_AUDIO_PORTS_CONFIG, clap_audio_ports_config, clap_plugin_audio_ports_config,
};
use clap_sys::ext::configurable_audio_ports::{
    clap_audio_port_configuration_request as Request, clap_plugin_configurable_audio_ports,
};
use clap_sys::id::clap_id;
use clap_sys::plugin::clap_plugin;

/// `configurable-audio-ports`, answered by the layouts of `audio-ports-config`.
pub(super) static TABLE: clap_plugin_configurable_audio_ports = clap_plugin_configurable_audio_ports {
    can_apply_configuration: Some(can_apply),
    apply_configuration: Some(apply),
};

/// The most requests read: two ports in each direction, and spare room for repeats.
const MOST_REQUESTS: u32 = 16;

unsafe extern "C" fn can_apply(plugin: *const clap_plugin, requests: *const Request, count: u32) -> bool {
    // SAFETY: the host's own arguments.
    unsafe { find(plugin, requests, count) }.is_some()
}

unsafe extern "C" fn apply(plugin: *const clap_plugin, requests: *const Request, count: u32) -> bool {
    // SAFETY: the host's own arguments, and a layout that the framework has.
    unsafe {
        let Some((configs, id)) = find(plugin, requests, count) else { return false };
        configs.select.is_some_and(|select| select(plugin, id))
    }
}

/// The first layout with the requested channels and, besides the main ports, only requested ones.
///
/// # Safety
/// The host's pointer to an instance, and `count` requests or null.
unsafe fn find<'a>(
    plugin: *const clap_plugin,
    requests: *const Request,
    count: u32,
) -> Option<(&'a clap_plugin_audio_ports_config, clap_id)> {
    if requests.is_null() || count == 0 || count > MOST_REQUESTS {
        return None;
    }
    // SAFETY: the caller's promise; the framework's tables live as long as the instance.
    unsafe {
        let requests = std::slice::from_raw_parts(requests, count as usize);
        let configs = Instance::of(plugin)?.extension(plugin, CLAP_EXT_AUDIO_PORTS_CONFIG);
        let configs = configs.cast::<clap_plugin_audio_ports_config>().as_ref()?;
        let (all, get) = (configs.count?(plugin), configs.get?);
        (0..all).find_map(|index| {
            let mut config: clap_audio_ports_config = std::mem::zeroed();
            (get(plugin, index, &raw mut config) && fits(&config, requests)).then_some((configs, config.id))
        })
    }
}

/// Whether a layout has the requested channels. A side-chain is as wide as the main input.
fn fits(config: &clap_audio_ports_config, requests: &[Request]) -> bool {
    let has = |request: &Request| match (request.is_input, request.port_index) {
        (true, 0) => request.channel_count == config.main_input_channel_count,
        (false, 0) => request.channel_count == config.main_output_channel_count,
        (true, 1) => config.input_port_count > 1 && request.channel_count == config.main_input_channel_count,
        _ => false,
    };
    let side_chain = requests.iter().any(|request| request.is_input && request.port_index == 1);
    requests.iter().all(has) && side_chain == (config.input_port_count > 1)
}
