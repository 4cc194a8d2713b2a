//! The functions of an instance that replace the framework's.

use super::gui_calls::gui;
use super::instance::Instance;
use super::processing::Processing;
use super::{ports, process, state, tail, vst3};
use crate::requests::Requests;
use clap_sys::ext::configurable_audio_ports::{
    CLAP_EXT_CONFIGURABLE_AUDIO_PORTS, CLAP_EXT_CONFIGURABLE_AUDIO_PORTS_COMPAT,
};
use clap_sys::ext::gui::CLAP_EXT_GUI;
use clap_sys::ext::latency::CLAP_EXT_LATENCY;
use clap_sys::ext::params::CLAP_EXT_PARAMS;
use clap_sys::ext::state::CLAP_EXT_STATE;
use clap_sys::ext::tail::CLAP_EXT_TAIL;
use clap_sys::host::clap_host;
use clap_sys::plugin::clap_plugin;
use nice_plug::wrapper::clap::{ClapPlugin, Wrapper};
use plumbline_live::guarded;
use std::ffi::{CStr, c_char, c_void};
use std::sync::{Arc, OnceLock};

/// Makes an instance for the host, which returns it with `destroy`.
///
/// # Safety
/// The host outlives the instance.
pub(super) unsafe fn create<P: ClapPlugin>(host: *const clap_host) -> *const clap_plugin {
    // SAFETY: the caller's promise.
    let wrapper = unsafe { vst3::is_wrapper(host).then(|| vst3::Wrapper::before(host)) };
    let theirs = wrapper.as_deref().map_or(host, vst3::Wrapper::table);
    // SAFETY: the caller's promise; the copy of the table is dropped after the framework's instance.
    let (requests, made) = Requests::making(host, || unsafe { Wrapper::<P>::new(theirs) });
    // SAFETY: the instance is leaked here, as the framework's own factory does; its `destroy` takes it back.
    let inner: *const clap_plugin = unsafe { (*Arc::into_raw(made)).clap_plugin.as_ptr() };
    // SAFETY: it lives as long as the framework's instance.
    let table = clap_plugin {
        destroy: Some(destroy),
        activate: Some(process::activate),
        deactivate: Some(process::deactivate),
        process: Some(process::process),
        get_extension: Some(get_extension),
        on_main_thread: Some(on_main_thread),
        ..unsafe { *inner }
    };
    let (processing, gui, parameters) = (Processing::default(), OnceLock::new(), OnceLock::new());
    Box::into_raw(Box::new(Instance { table, inner, host, wrapper, requests, gui, processing, parameters }))
        .cast()
}

unsafe extern "C" fn destroy(plugin: *const clap_plugin) {
    // SAFETY: the host's pointer to this instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return };
    let _ = guarded(|| instance.requests.leave());
    let inner = instance.inner;
    // SAFETY: the host uses neither after this call.
    unsafe {
        if let Some(destroy) = (*inner).destroy {
            destroy(inner);
        }
        drop(Box::from_raw(plugin.cast_mut().cast::<Instance>()));
    }
}

unsafe extern "C" fn get_extension(plugin: *const clap_plugin, id: *const c_char) -> *const c_void {
    // SAFETY: the host's pointer to this instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return std::ptr::null() };
    if id.is_null() {
        return std::ptr::null();
    }
    // SAFETY: a C string, not null.
    let id = unsafe { CStr::from_ptr(id) };
    if id == CLAP_EXT_GUI {
        gui(instance, plugin).map_or(std::ptr::null(), |gui| gui.table().cast())
    } else if id == CLAP_EXT_STATE && instance.wrapper.is_some() {
        (&raw const state::TABLE).cast()
    } else if id == CLAP_EXT_LATENCY && instance.wrapper.is_some() {
        // The latency is always 0, which a host assumes if this extension is missing.
        std::ptr::null()
    } else if id == CLAP_EXT_PARAMS {
        // SAFETY: the host's pointer to this instance.
        unsafe { process::parameters(instance, plugin) }
            .map_or(std::ptr::null(), |t| std::ptr::from_ref(t).cast())
    } else if id == CLAP_EXT_TAIL && instance.wrapper.is_some() {
        (&raw const tail::TABLE).cast()
    } else if id == CLAP_EXT_CONFIGURABLE_AUDIO_PORTS || id == CLAP_EXT_CONFIGURABLE_AUDIO_PORTS_COMPAT {
        (&raw const ports::TABLE).cast()
    } else {
        instance.extension(plugin, id)
    }
}

unsafe extern "C" fn on_main_thread(plugin: *const clap_plugin) {
    // SAFETY: the host's pointer to this instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return };
    if instance.gui.get().is_none_or(|gui| gui.is_of_this_thread(plugin)) {
        // SAFETY: the framework's function, on the thread that its editor is bound to.
        unsafe {
            if let Some(run) = (*instance.inner).on_main_thread {
                run(plugin);
            }
        }
    }
    // SAFETY: this is the host's main thread.
    unsafe { instance.serve() };
}
