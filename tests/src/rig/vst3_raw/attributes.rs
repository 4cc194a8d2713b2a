//! A host's attributes of a track: name, colour, both or none.

use super::put16;
use std::ffi::{CStr, c_void};
use vst3::Steinberg::Vst::ChannelContext::{kChannelColorKey, kChannelNameKey};
use vst3::Steinberg::Vst::IAttributeList_::AttrID;
use vst3::Steinberg::Vst::{IAttributeList, IAttributeListTrait, TChar};
use vst3::Steinberg::{kInvalidArgument, kNotImplemented, kResultFalse, kResultOk, tresult};
use vst3::{Class, ComWrapper};

/// The attributes of a track.
pub(super) struct Track {
    name: Option<String>,
    colour: Option<[u8; 3]>,
}

impl Class for Track {
    type Interfaces = (IAttributeList,);
}

impl Track {
    pub(super) fn new(name: Option<&str>, colour: Option<[u8; 3]>) -> ComWrapper<Self> {
        ComWrapper::new(Self { name: name.map(str::to_owned), colour })
    }
}

/// Whether two keys of the format are equal.
fn same(one: AttrID, other: AttrID) -> bool {
    // SAFETY: keys are zero-terminated texts; a null is not read.
    !one.is_null() && unsafe { CStr::from_ptr(one) == CStr::from_ptr(other) }
}

impl IAttributeListTrait for Track {
    unsafe fn setInt(&self, _: AttrID, _: i64) -> tresult {
        kNotImplemented
    }

    unsafe fn getInt(&self, key: AttrID, value: *mut i64) -> tresult {
        let Some([red, green, blue]) = self.colour.filter(|_| same(key, kChannelColorKey)) else {
            return kResultFalse;
        };
        // SAFETY: the pointer is the caller's own.
        unsafe { value.write(i64::from(u32::from_be_bytes([0xff, red, green, blue]))) };
        kResultOk
    }

    unsafe fn setFloat(&self, _: AttrID, _: f64) -> tresult {
        kNotImplemented
    }

    unsafe fn getFloat(&self, _: AttrID, _: *mut f64) -> tresult {
        kResultFalse
    }

    unsafe fn setString(&self, _: AttrID, _: *const TChar) -> tresult {
        kNotImplemented
    }

    unsafe fn getString(&self, key: AttrID, string: *mut TChar, bytes: u32) -> tresult {
        let Some(name) = self.name.as_ref().filter(|_| same(key, kChannelNameKey)) else {
            return kResultFalse;
        };
        let Ok(units) = usize::try_from(bytes / 2) else { return kInvalidArgument };
        // SAFETY: the caller's buffer has this many bytes.
        put16(name, unsafe { std::slice::from_raw_parts_mut(string, units) });
        kResultOk
    }

    unsafe fn setBinary(&self, _: AttrID, _: *const c_void, _: u32) -> tresult {
        kNotImplemented
    }

    unsafe fn getBinary(&self, _: AttrID, _: *mut *const c_void, _: *mut u32) -> tresult {
        kResultFalse
    }
}
