//! One instance as seen by the host.

use super::gui::Gui;
use super::processing::Processing;
use super::vst3::Wrapper;
use crate::requests::Requests;
use clap_sys::ext::params::clap_plugin_params;
use clap_sys::host::clap_host;
use clap_sys::plugin::clap_plugin;
use std::ffi::{CStr, c_void};
use std::sync::{Arc, OnceLock};

/// The framework's instance with a table of our own in front of it.
///
/// The table comes first, so that the host's pointer to it is a pointer to this.
#[repr(C)]
pub(super) struct Instance {
    pub(super) table: clap_plugin,
    /// The framework's table.
    pub(super) inner: *const clap_plugin,
    pub(super) host: *const clap_host,
    /// The framework's host, if that is the VST3 wrapper.
    pub(super) wrapper: Option<Box<Wrapper>>,
    pub(super) requests: Arc<Requests>,
    /// Made when the host first asks for it.
    pub(super) gui: OnceLock<Gui>,
    pub(super) processing: Processing,
    /// Made when the host first asks for it.
    pub(super) parameters: OnceLock<clap_plugin_params>,
}

impl Instance {
    /// The instance behind a host's pointer.
    ///
    /// # Safety
    /// The pointer came from `plugin::create`, or is null.
    pub(super) unsafe fn of<'a>(plugin: *const clap_plugin) -> Option<&'a Self> {
        // SAFETY: the caller's promise, and the table comes first.
        unsafe { plugin.cast::<Self>().as_ref() }
    }

    /// The framework's table for an extension, or null.
    pub(super) fn extension(&self, plugin: *const clap_plugin, id: &CStr) -> *const c_void {
        // SAFETY: the framework's function, which reads only the plug-in's data.
        unsafe { (*self.inner).get_extension.map_or(std::ptr::null(), |get| get(plugin, id.as_ptr())) }
    }

    /// Carries out the requests that are waiting for the host's main thread.
    ///
    /// # Safety
    /// On the host's main thread.
    pub(super) unsafe fn serve(&self) {
        // SAFETY: the caller's promise; the host outlives the instance.
        unsafe { self.requests.serve(self.host) };
    }
}
