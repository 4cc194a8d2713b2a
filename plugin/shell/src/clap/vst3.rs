//! The VST3 wrapper as a host.
//!
//! The framework asks its host to reread the parameters after every load of a state. The wrapper passes the request on
//! even if the VST3 host has set no handler: a host that loads a state first, as scanners do, then crashes on a null
//! pointer. So the framework gets a copy of the wrapper's table in which the request does nothing, and `state` makes
//! the request only when a load has changed a value. That is rare, because every parameter but *Hold* is a pulse; a
//! host without a handler still crashes if it loads a project with *Hold* on.

use clap_sys::ext::params::{
    CLAP_EXT_PARAMS, CLAP_PARAM_RESCAN_VALUES, clap_host_params, clap_param_clear_flags,
    clap_param_rescan_flags,
};
use clap_sys::host::clap_host;
use clap_sys::id::clap_id;
use std::ffi::{CStr, c_char, c_void};

/// Whether a host is the VST3 wrapper, which reports its own host's name with a suffix.
///
/// # Safety
/// A live host.
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
    /// A live host that outlives this.
    pub(super) unsafe fn before(host: *const clap_host) -> Box<Self> {
        // SAFETY: the caller's promise.
        let table = clap_host { get_extension: Some(get_extension), ..unsafe { *host } };
        Box::new(Self { table, host })
    }

    /// The table that the framework gets as its host.
    pub(super) fn table(&self) -> *const clap_host {
        std::ptr::from_ref(self).cast()
    }

    /// Makes the VST3 host reread all values.
    ///
    /// # Safety
    /// On the host's main thread, with a live host.
    pub(super) unsafe fn tell_values(&self) {
        // SAFETY: the caller's promise.
        unsafe {
            if let Some(rescan) = params(self.table()).and_then(|(_, params)| params.rescan) {
                rescan(self.host, CLAP_PARAM_RESCAN_VALUES);
            }
        }
    }
}

/// The wrapper behind the framework's pointer.
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

/// Does nothing: [`Wrapper::tell_values`] is called instead, when a load has changed a value.
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
