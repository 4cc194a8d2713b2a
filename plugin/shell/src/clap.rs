//! The CLAP boundary: the library's entry, its factory, and the additions between the framework and a host.
//!
//! The framework makes a `clap_plugin`, a table of functions with a pointer to its own data. An instance
//! (`clap::instance`) is a copy of that table with a few functions replaced; a host calls the others directly:
//!
//! | added | why |
//! |---|---|
//! | [`Requests`](crate::requests::Requests) | an edit marks the project as changed; the framework never does that |
//! | gui calls are bound to the thread that opened the editor | the framework ends the host's process otherwise |
//! | `configurable-audio-ports` | on a mono track, the host gets the mono layout instead of two copies of one signal |
//! | no `latency` for the VST3 wrapper | always 0; if it is there, the wrapper asks for a restart at each activation |
//! | the wrapper rereads values only if a load changed one | a host that loads before it sets a handler would crash |
//! | a size of 0 is adjusted to the present one | the wrapper asks with 0 at first, and would shrink the editor |
//!
//! # Safety
//! A host keeps the CLAP contract: pointers that it passes are valid for the call, and an instance is not used after
//! `destroy`.

mod channels;
mod events;
mod gui;
mod gui_calls;
mod instance;
mod plugin;
mod ports;
mod process;
mod processing;
mod state;
mod tail;
mod vst3;

use crate::bus::Bus;
use crate::identity::{Mono, Stereo};
use clap_sys::entry::clap_plugin_entry;
use clap_sys::factory::plugin_factory::{CLAP_PLUGIN_FACTORY_ID, clap_plugin_factory};
use clap_sys::host::clap_host;
use clap_sys::plugin::{clap_plugin, clap_plugin_descriptor};
use clap_sys::version::CLAP_VERSION;
use nice_plug::wrapper::clap::PluginDescriptor;
use plumbline_live::guarded;
use std::ffi::{CStr, c_char, c_void};
use std::sync::OnceLock;

/// The library's CLAP entry; the VST3 wrapper finds it by this name as well.
#[unsafe(no_mangle)]
#[used]
pub static clap_entry: clap_plugin_entry = clap_plugin_entry {
    clap_version: CLAP_VERSION,
    init: Some(init),
    deinit: Some(deinit),
    get_factory: Some(get_factory),
};

static FACTORY: clap_plugin_factory = clap_plugin_factory {
    get_plugin_count: Some(get_plugin_count),
    get_plugin_descriptor: Some(get_plugin_descriptor),
    create_plugin: Some(create_plugin),
};

/// The classes in the order of the host's list.
fn descriptors() -> &'static [PluginDescriptor; 2] {
    static DESCRIPTORS: OnceLock<[PluginDescriptor; 2]> = OnceLock::new();
    DESCRIPTORS.get_or_init(|| {
        [PluginDescriptor::for_plugin::<Bus<Stereo>>(), PluginDescriptor::for_plugin::<Bus<Mono>>()]
    })
}

unsafe extern "C" fn init(_path: *const c_char) -> bool {
    guarded(nice_plug::wrapper::setup_logger::<Bus<Stereo>>).is_ok()
}

unsafe extern "C" fn deinit() {}

unsafe extern "C" fn get_factory(id: *const c_char) -> *const c_void {
    // SAFETY: a host passes a C string or nothing.
    if !id.is_null() && unsafe { CStr::from_ptr(id) } == CLAP_PLUGIN_FACTORY_ID {
        (&raw const FACTORY).cast()
    } else {
        std::ptr::null()
    }
}

unsafe extern "C" fn get_plugin_count(_factory: *const clap_plugin_factory) -> u32 {
    2
}

unsafe extern "C" fn get_plugin_descriptor(
    _factory: *const clap_plugin_factory,
    index: u32,
) -> *const clap_plugin_descriptor {
    let class = usize::try_from(index).ok().and_then(|index| descriptors().get(index));
    class.map_or(std::ptr::null(), |class| std::ptr::from_ref(class.clap_plugin_descriptor()))
}

unsafe extern "C" fn create_plugin(
    _factory: *const clap_plugin_factory,
    host: *const clap_host,
    id: *const c_char,
) -> *const clap_plugin {
    if host.is_null() || id.is_null() {
        return std::ptr::null();
    }
    // SAFETY: a C string, not null.
    let id = unsafe { CStr::from_ptr(id) };
    let [stereo, mono] = descriptors();
    let made = guarded(|| {
        if id == stereo.clap_id() {
            // SAFETY: the host outlives its instances.
            unsafe { plugin::create::<Bus<Stereo>>(host) }
        } else if id == mono.clap_id() {
            // SAFETY: as above.
            unsafe { plugin::create::<Bus<Mono>>(host) }
        } else {
            std::ptr::null()
        }
    });
    made.unwrap_or(std::ptr::null())
}
