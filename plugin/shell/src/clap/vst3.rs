//! The VST3 wrapper as a host.
//!
//! It answers a call to read parameters anew by telling the VST3 host, whether that listens yet or not: one that loads a
//! state before it listens, as scanners do, is ended by a null pointer. The framework makes that call after every load. So
//! here it gets a copy of the wrapper's table in which that call does nothing, and the host is told from here, where a load
//! has changed a value. Of the values only *Hold* is anything but a pulse, so that is rare; a host that does not listen and
//! loads a project with *Hold* on is still ended.

use super::instance::Instance;
use clap_sys::ext::params::{
    CLAP_EXT_PARAMS, CLAP_PARAM_RESCAN_VALUES, clap_host_params, clap_param_clear_flags,
    clap_param_rescan_flags, clap_plugin_params,
};
use clap_sys::ext::state::{CLAP_EXT_STATE, clap_plugin_state};
use clap_sys::host::clap_host;
use clap_sys::id::clap_id;
use clap_sys::plugin::clap_plugin;
use clap_sys::stream::clap_istream;
use std::ffi::{CStr, c_char, c_void};

/// Most parameters that are compared.
const MOST: usize = 16;

/// Whether a host is the VST3 wrapper: it adds this to the name of its own host.
///
/// # Safety
/// A host that is there.
pub(super) unsafe fn is_wrapper(host: *const clap_host) -> bool {
    // SAFETY: the caller's promise; a host names itself by a C string or nothing.
    unsafe {
        let name = (*host).name;
        !name.is_null()
            && CStr::from_ptr(name).to_string_lossy().to_ascii_lowercase().contains("clap-as-vst3")
    }
}

/// The wrapper's table with one function replaced. The table comes first: the framework's pointer to it is a pointer to
/// this. The wrapper finds itself by the table's data, not by its address.
#[repr(C)]
pub(super) struct Wrapper {
    table: clap_host,
    host: *const clap_host,
}

impl Wrapper {
    /// A copy of the wrapper's table.
    ///
    /// # Safety
    /// A host that is there, and outlives this.
    pub(super) unsafe fn before(host: *const clap_host) -> Box<Self> {
        // SAFETY: the caller's promise.
        let table = clap_host { get_extension: Some(get_extension), ..unsafe { *host } };
        Box::new(Self { table, host })
    }

    /// What the framework gets as its host.
    pub(super) fn table(&self) -> *const clap_host {
        std::ptr::from_ref(self).cast()
    }

    /// Loads a state, and has values read anew if that changed one.
    ///
    /// # Safety
    /// The host's own arguments of `load`.
    pub(super) unsafe fn load(&self, plugin: *const clap_plugin, stream: *const clap_istream) -> bool {
        // SAFETY: the framework's tables live as long as the instance.
        unsafe {
            let Some(instance) = Instance::of(plugin) else { return false };
            let state = instance.extension(plugin, CLAP_EXT_STATE).cast::<clap_plugin_state>();
            let Some(load) = state.as_ref().and_then(|state| state.load) else { return false };
            let before = values(instance, plugin);
            let loaded = load(plugin, stream);
            if values(instance, plugin) != before
                && let Some(rescan) = params(self.table()).and_then(|(_, params)| params.rescan)
            {
                rescan(self.host, CLAP_PARAM_RESCAN_VALUES);
            }
            loaded
        }
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

/// The wrapper that the framework's pointer means.
///
/// # Safety
/// A pointer of [`Wrapper::table`], or null.
unsafe fn of<'a>(host: *const clap_host) -> Option<&'a Wrapper> {
    // SAFETY: the caller's promise, and the table comes first.
    unsafe { host.cast::<Wrapper>().as_ref() }
}

static PARAMS: clap_host_params =
    clap_host_params { rescan: Some(rescan), clear: Some(clear), request_flush: Some(request_flush) };

unsafe extern "C" fn get_extension(host: *const clap_host, id: *const c_char) -> *const c_void {
    // SAFETY: the framework's own pointer and a C string.
    unsafe {
        let (Some(wrapper), false) = (of(host), id.is_null()) else { return std::ptr::null() };
        let Some(get) = (*wrapper.host).get_extension else { return std::ptr::null() };
        let found = get(wrapper.host, id);
        if !found.is_null() && CStr::from_ptr(id) == CLAP_EXT_PARAMS {
            (&raw const PARAMS).cast()
        } else {
            found
        }
    }
}

/// The wrapper's own table for parameters.
///
/// # Safety
/// The framework's pointer.
unsafe fn params<'a>(host: *const clap_host) -> Option<(&'a Wrapper, &'a clap_host_params)> {
    // SAFETY: the caller's promise; a host's tables live as long as it does.
    unsafe {
        let wrapper = of(host)?;
        let get = (*wrapper.host).get_extension?;
        let params = get(wrapper.host, CLAP_EXT_PARAMS.as_ptr()).cast::<clap_host_params>();
        Some((wrapper, params.as_ref()?))
    }
}

/// Nothing: [`Wrapper::load`] tells what a load has changed.
unsafe extern "C" fn rescan(_host: *const clap_host, _flags: clap_param_rescan_flags) {}

unsafe extern "C" fn clear(host: *const clap_host, param: clap_id, flags: clap_param_clear_flags) {
    // SAFETY: the framework's pointer.
    unsafe {
        if let Some((wrapper, params)) = params(host)
            && let Some(clear) = params.clear
        {
            clear(wrapper.host, param, flags);
        }
    }
}

unsafe extern "C" fn request_flush(host: *const clap_host) {
    // SAFETY: the framework's pointer.
    unsafe {
        if let Some((wrapper, params)) = params(host)
            && let Some(request) = params.request_flush
        {
            request(wrapper.host);
        }
    }
}

/// `state` for the VST3 wrapper.
pub(super) static STATE: clap_plugin_state = clap_plugin_state { save: Some(save), load: Some(load) };

unsafe extern "C" fn save(plugin: *const clap_plugin, stream: *const clap_sys::stream::clap_ostream) -> bool {
    // SAFETY: the host's own arguments, handed to the function that they mean.
    unsafe {
        let Some(instance) = Instance::of(plugin) else { return false };
        let state = instance.extension(plugin, CLAP_EXT_STATE).cast::<clap_plugin_state>();
        state.as_ref().and_then(|state| state.save).is_some_and(|save| save(plugin, stream))
    }
}

unsafe extern "C" fn load(plugin: *const clap_plugin, stream: *const clap_istream) -> bool {
    // SAFETY: the host's own arguments.
    unsafe {
        Instance::of(plugin).and_then(Instance::wrapper).is_some_and(|wrapper| wrapper.load(plugin, stream))
    }
}
