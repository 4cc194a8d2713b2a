//! A CLAP host without a library between it and the plug-in: it can break the rules that [`super::clap`] keeps.

use super::{RigError, doing};
use clap_sys::audio_buffer::clap_audio_buffer;
use clap_sys::entry::clap_plugin_entry;
use clap_sys::factory::plugin_factory::{CLAP_PLUGIN_FACTORY_ID, clap_plugin_factory};
use clap_sys::host::clap_host;
use clap_sys::plugin::clap_plugin;
use clap_sys::process::{clap_process, clap_process_status};
use clap_sys::version::CLAP_VERSION;
use std::ffi::{CStr, CString, c_char, c_void};
use std::path::Path;
use std::ptr::{null, null_mut};

unsafe extern "C" fn no_extension(_: *const clap_host, _: *const c_char) -> *const c_void {
    null()
}

unsafe extern "C" fn nothing(_: *const clap_host) {}

/// A host with no extension.
fn bare_host() -> clap_host {
    clap_host {
        clap_version: CLAP_VERSION,
        host_data: null_mut(),
        name: c"A hostile host".as_ptr(),
        vendor: c"".as_ptr(),
        url: c"".as_ptr(),
        version: c"1".as_ptr(),
        get_extension: Some(no_extension),
        request_restart: Some(nothing),
        request_process: Some(nothing),
        request_callback: Some(nothing),
    }
}

/// A loaded `.clap`; unloaded when dropped.
pub struct Library {
    entry: clap_plugin_entry,
    host: Box<clap_host>,
    _library: libloading::Library,
}

impl Library {
    /// Loads a library and starts it.
    ///
    /// # Errors
    /// The loader's error, or that the library refuses to start.
    pub fn load(path: &Path) -> Result<Self, RigError> {
        let name = CString::new(path.as_os_str().as_encoded_bytes()).map_err(doing("the path"))?;
        // SAFETY: the project's own build; the symbol has the type that the format gives it.
        unsafe {
            let library = libloading::Library::new(path).map_err(doing("loading the .clap"))?;
            let entry = library.get::<*const clap_plugin_entry>(b"clap_entry\0");
            let entry = **entry.map_err(doing("finding clap_entry"))?;
            let started = entry.init.is_some_and(|init| init(name.as_ptr()));
            if !started {
                return Err(RigError::new("the library does not start"));
            }
            Ok(Self { entry, host: Box::new(bare_host()), _library: library })
        }
    }

    /// Creates an instance of a class.
    ///
    /// # Errors
    /// If the library has no such class.
    pub fn create(&self, id: &CStr) -> Result<Plugin<'_>, RigError> {
        // SAFETY: the library is loaded, and the host outlives the instance.
        unsafe {
            let factory = self.entry.get_factory.map_or(null(), |get| get(CLAP_PLUGIN_FACTORY_ID.as_ptr()));
            let factory = factory.cast::<clap_plugin_factory>().as_ref();
            let create = factory.and_then(|factory| factory.create_plugin.map(|create| (factory, create)));
            let (factory, create) = create.ok_or_else(|| RigError::new("the library has no factory"))?;
            let plugin = create(factory, &raw const *self.host, id.as_ptr());
            let table = plugin.as_ref().ok_or_else(|| RigError::new("there is no such class"))?;
            if !table.init.is_some_and(|init| init(plugin)) {
                return Err(RigError::new("the instance does not start"));
            }
            Ok(Plugin { table })
        }
    }
}

impl Drop for Library {
    fn drop(&mut self) {
        // SAFETY: all instances borrow this, so they are gone.
        unsafe {
            if let Some(end) = self.entry.deinit {
                end();
            }
        }
    }
}

/// An instance. Its calls are made in any order, on any thread.
#[derive(Clone, Copy)]
pub struct Plugin<'a> {
    table: &'a clap_plugin,
}

// SAFETY: the format allows few calls on other threads; the tests check that a plug-in survives a host that ignores
// that.
unsafe impl Send for Plugin<'_> {}
// SAFETY: as above.
unsafe impl Sync for Plugin<'_> {}

impl Plugin<'_> {
    /// Activates.
    #[must_use]
    pub fn activate(self, rate_hz: f64, least: u32, most: u32) -> bool {
        // SAFETY: the instance lives.
        self.table.activate.is_some_and(|call| unsafe { call(self.table, rate_hz, least, most) })
    }

    /// Deactivates.
    pub fn deactivate(self) {
        // SAFETY: the instance lives.
        unsafe {
            if let Some(call) = self.table.deactivate {
                call(self.table);
            }
        }
    }

    /// Resets.
    pub fn reset(self) {
        // SAFETY: the instance lives.
        unsafe {
            if let Some(call) = self.table.reset {
                call(self.table);
            }
        }
    }

    /// Starts processing.
    #[must_use]
    pub fn start(self) -> bool {
        // SAFETY: the instance lives.
        self.table.start_processing.is_some_and(|call| unsafe { call(self.table) })
    }

    /// Stops processing.
    pub fn stop(self) {
        // SAFETY: the instance lives.
        unsafe {
            if let Some(call) = self.table.stop_processing {
                call(self.table);
            }
        }
    }

    /// Processes a block, or null.
    ///
    /// # Safety
    /// Each pointer in the block is null or valid for what the block's counts say.
    #[must_use]
    pub unsafe fn process(self, block: *const clap_process) -> clap_process_status {
        // SAFETY: the caller's promise.
        self.table.process.map_or(-1, |call| unsafe { call(self.table, block) })
    }

    /// The table of an extension.
    #[must_use]
    pub fn extension<T>(&self, id: &CStr) -> Option<&T> {
        // SAFETY: the instance lives; the caller names the extension's own type.
        self.table.get_extension.and_then(|get| unsafe { get(self.table, id.as_ptr()).cast::<T>().as_ref() })
    }

    /// The pointer that an extension's functions want.
    #[must_use]
    pub fn as_ptr(&self) -> *const clap_plugin {
        self.table
    }

    /// Ends the instance.
    ///
    /// # Safety
    /// No copy of this is used afterwards.
    pub unsafe fn destroy(self) {
        // SAFETY: the caller's promise.
        unsafe {
            if let Some(call) = self.table.destroy {
                call(self.table);
            }
        }
    }
}

/// A bus of channels; a null pointer for a channel that is missing.
#[must_use]
pub fn bus(channels: &mut [*mut f32]) -> clap_audio_buffer {
    clap_audio_buffer {
        data32: channels.as_mut_ptr(),
        data64: null_mut(),
        channel_count: u32::try_from(channels.len()).unwrap_or(u32::MAX),
        latency: 0,
        constant_mask: 0,
    }
}

/// A block without buses, events and transport.
#[must_use]
pub fn block(frames: u32) -> clap_process {
    clap_process {
        steady_time: -1,
        frames_count: frames,
        transport: null(),
        audio_inputs: null(),
        audio_outputs: null_mut(),
        audio_inputs_count: 0,
        audio_outputs_count: 0,
        in_events: null(),
        out_events: null(),
    }
}
