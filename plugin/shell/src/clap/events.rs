//! A host's events without those that the framework must not read.
//!
//! The framework divides a block at the time of a transport event without checking that time, reads as many bytes as an
//! event's type has, and in a flush follows null pointers. A mistake of the host there must not end it.

use clap_sys::events::{
    CLAP_CORE_EVENT_SPACE_ID, CLAP_EVENT_PARAM_MOD, CLAP_EVENT_PARAM_VALUE, CLAP_EVENT_TRANSPORT,
    clap_event_header, clap_event_param_mod, clap_event_param_value, clap_event_transport, clap_input_events,
};
use std::mem::size_of;
use std::ptr::null;

/// The length of an event that is nothing but a header.
const HEADER: u32 = 16;
const _: () = assert!(size_of::<clap_event_header>() == HEADER as usize);

/// An event of an unknown type, in place of one that must not be read.
static NOTHING: clap_event_header =
    clap_event_header { size: HEADER, time: 0, space_id: u16::MAX, type_: u16::MAX, flags: 0 };

/// A list of events in front of the host's.
///
/// Moving it after [`Self::table`] was called makes that table dangle.
pub(super) struct Events {
    table: clap_input_events,
    theirs: *const clap_input_events,
    frames: u32,
}

impl Events {
    /// The host's list for a block of `frames`, or `None` if there is none that can be read.
    ///
    /// # Safety
    /// `theirs` is null or the host's list, valid as long as this.
    pub(super) unsafe fn of(theirs: *const clap_input_events, frames: u32) -> Option<Self> {
        // SAFETY: the caller's promise.
        let list = unsafe { theirs.as_ref()? };
        (list.size.is_some() && list.get.is_some()).then_some(Self {
            table: clap_input_events { ctx: std::ptr::null_mut(), size: Some(size), get: Some(get) },
            theirs,
            frames,
        })
    }

    /// The list for the framework.
    pub(super) fn table(&mut self) -> *const clap_input_events {
        self.table.ctx = std::ptr::from_mut(self).cast();
        &raw const self.table
    }
}

unsafe extern "C" fn size(list: *const clap_input_events) -> u32 {
    // SAFETY: `ctx` is the `Events` that made this table; its list has been checked.
    unsafe {
        let events = &*(*list).ctx.cast::<Events>();
        (*events.theirs).size.map_or(0, |size| size(events.theirs))
    }
}

unsafe extern "C" fn get(list: *const clap_input_events, index: u32) -> *const clap_event_header {
    // SAFETY: as above; the host's event is valid for this call.
    unsafe {
        let events = &*(*list).ctx.cast::<Events>();
        let event = (*events.theirs).get.map_or(null(), |get| get(events.theirs, index));
        match event.as_ref() {
            Some(header) if can_be_read(header, events.frames) => event,
            _ => &raw const NOTHING,
        }
    }
}

/// Whether an event is as long as its type and, if it divides the block, inside it.
fn can_be_read(event: &clap_event_header, frames: u32) -> bool {
    let size = event.size as usize;
    if event.space_id != CLAP_CORE_EVENT_SPACE_ID {
        return size >= size_of::<clap_event_header>();
    }
    match event.type_ {
        CLAP_EVENT_PARAM_VALUE => size >= size_of::<clap_event_param_value>(),
        CLAP_EVENT_PARAM_MOD => size >= size_of::<clap_event_param_mod>(),
        CLAP_EVENT_TRANSPORT => {
            size >= size_of::<clap_event_transport>() && (event.time == 0 || event.time < frames)
        }
        // The plug-in takes no notes.
        _ => false,
    }
}
