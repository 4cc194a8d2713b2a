//! Lists of events as no host should send them.

use super::numbers::Numbers;
use crate::parameters::{HOLD, MARK};
use clap_sys::events::{
    CLAP_CORE_EVENT_SPACE_ID, CLAP_EVENT_NOTE_ON, CLAP_EVENT_PARAM_MOD, CLAP_EVENT_PARAM_VALUE,
    CLAP_EVENT_TRANSPORT, clap_event_header, clap_event_param_value, clap_event_transport, clap_input_events,
    clap_output_events,
};
use std::mem::size_of;
use std::ptr::{null, null_mut};

/// An event with room for any type.
#[derive(Clone, Copy)]
union Event {
    header: clap_event_header,
    value: clap_event_param_value,
    transport: clap_event_transport,
}

/// A list of events; an entry may be null.
#[derive(Clone)]
pub(super) struct Events {
    list: Vec<Option<Event>>,
    table: clap_input_events,
    out: clap_output_events,
    /// Whether the host gives a list at all.
    given: bool,
}

unsafe extern "C" fn size(list: *const clap_input_events) -> u32 {
    // SAFETY: `table` set the pointer.
    u32::try_from(unsafe { &*(*list).ctx.cast::<Events>() }.list.len()).unwrap()
}

unsafe extern "C" fn get(list: *const clap_input_events, index: u32) -> *const clap_event_header {
    // SAFETY: `table` set the pointer.
    let events = unsafe { &*(*list).ctx.cast::<Events>() };
    match events.list.get(index as usize) {
        Some(Some(event)) => std::ptr::from_ref(event).cast(),
        _ => null(),
    }
}

impl Events {
    /// No list.
    pub(super) fn none() -> Self {
        Self {
            list: Vec::new(),
            table: clap_input_events { ctx: null_mut(), size: Some(size), get: Some(get) },
            out: clap_output_events { ctx: null_mut(), try_push: None },
            given: false,
        }
    }

    pub(super) fn random(numbers: &mut Numbers, frames: u32) -> Self {
        let mut events = Self::none();
        events.given = !numbers.one_in(8);
        if numbers.one_in(30) {
            events.table.get = None;
        }
        if numbers.one_in(30) {
            events.table.size = None;
        }
        events.list = (0..numbers.below(12)).map(|_| event(numbers, frames)).collect();
        events
    }

    /// *Hold* on.
    pub(super) fn hold_on() -> Self {
        // SAFETY: every type in the union is numbers and pointers, for which zero is a value.
        let mut event: Event = unsafe { std::mem::zeroed() };
        event.value.param_id = HOLD;
        event.value.value = 1.0;
        event.value.header = clap_event_header {
            size: u32::try_from(size_of::<clap_event_param_value>()).unwrap(),
            time: 0,
            space_id: CLAP_CORE_EVENT_SPACE_ID,
            type_: CLAP_EVENT_PARAM_VALUE,
            flags: 0,
        };
        Self { list: vec![Some(event)], given: true, ..Self::none() }
    }

    /// The list for a block. It is valid until this is moved.
    pub(super) fn table(&mut self) -> *const clap_input_events {
        self.table.ctx = std::ptr::from_mut(self).cast();
        if self.given { &raw const self.table } else { null() }
    }

    /// A list of answers that takes none.
    pub(super) fn out(&self) -> *const clap_output_events {
        if self.given { &raw const self.out } else { null() }
    }
}

fn event(numbers: &mut Numbers, frames: u32) -> Option<Event> {
    if numbers.one_in(10) {
        return None;
    }
    let types = [
        (CLAP_EVENT_PARAM_VALUE, size_of::<clap_event_param_value>()),
        (CLAP_EVENT_PARAM_VALUE, size_of::<clap_event_param_value>()),
        (CLAP_EVENT_PARAM_MOD, size_of::<clap_event_param_value>()),
        (CLAP_EVENT_TRANSPORT, size_of::<clap_event_transport>()),
        (CLAP_EVENT_TRANSPORT, size_of::<clap_event_transport>()),
        (CLAP_EVENT_NOTE_ON, size_of::<clap_event_header>()),
        (9_999, size_of::<clap_event_header>()),
    ];
    let (type_, whole) = types[numbers.below(7) as usize];
    let short = numbers.one_in(12);
    let header = clap_event_header {
        size: u32::try_from(if short { size_of::<clap_event_header>() } else { whole }).unwrap(),
        time: [0, 1, frames / 2, frames.saturating_sub(1), frames, frames + 1, u32::MAX]
            [numbers.below(7) as usize],
        space_id: if numbers.one_in(15) { 7 } else { CLAP_CORE_EVENT_SPACE_ID },
        type_,
        flags: 0,
    };
    // SAFETY: every type in the union is numbers and pointers, for which zero is a value.
    let mut event: Event = unsafe { std::mem::zeroed() };
    if type_ == CLAP_EVENT_TRANSPORT {
        event.transport.song_pos_seconds = i64::from(numbers.below(u32::MAX)) << 20;
        event.transport.flags = numbers.below(1 << 9);
    } else {
        // No reset: it would begin the count of unfit blocks anew.
        event.value.param_id = [HOLD, MARK, 0, 1][numbers.below(4) as usize];
        event.value.value = [0.0, 1.0, 0.5, f64::NAN, f64::INFINITY, -3.0][numbers.below(6) as usize];
    }
    event.header = header;
    Some(event)
}
