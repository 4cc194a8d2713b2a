//! The channels of a host's block: the choice of those that can be measured, and the passing of the rest.

use clap_sys::audio_buffer::clap_audio_buffer;
use clap_sys::process::clap_process;
use std::ptr::null_mut;

/// A bus that the host does not give.
pub(super) const NONE: clap_audio_buffer = clap_audio_buffer {
    data32: null_mut(),
    data64: null_mut(),
    channel_count: 0,
    latency: 0,
    constant_mask: 0,
};

/// A bus of the block with its first `channels` channels, if the host gives that many.
///
/// # Safety
/// `buses` is null or points to `count` buses, whose pointers are null or valid.
pub(super) unsafe fn bus(
    buses: *const clap_audio_buffer,
    count: u32,
    index: u32,
    channels: u32,
) -> Option<clap_audio_buffer> {
    if buses.is_null() || index >= count {
        return None;
    }
    // SAFETY: the caller's promise.
    unsafe {
        let bus = &*buses.add(index as usize);
        let given = bus.channel_count >= channels && !bus.data32.is_null();
        let whole = given && (0..channels as usize).all(|channel| !(*bus.data32.add(channel)).is_null());
        whole.then_some(clap_audio_buffer { channel_count: channels, data64: null_mut(), ..*bus })
    }
}

/// Copies inputs to outputs without measuring them, but for the first `done` channels of the first bus. An output
/// without an input falls silent.
///
/// # Safety
/// As [`bus`], for both lists of the block, with all channels of the block's length. Inputs and outputs may be the same.
pub(super) unsafe fn pass(block: &clap_process, done: u32) {
    if block.audio_outputs.is_null() {
        return;
    }
    let inputs = if block.audio_inputs.is_null() { 0 } else { block.audio_inputs_count };
    for index in 0..block.audio_outputs_count {
        // SAFETY: the caller's promise.
        unsafe {
            let to = &*block.audio_outputs.add(index as usize);
            let from = if index < inputs { &*block.audio_inputs.add(index as usize) } else { &NONE };
            for channel in (if index == 0 { done } else { 0 })..to.channel_count {
                let frames = block.frames_count as usize;
                copy(at(from.data32, from, channel), at(to.data32, to, channel), frames);
                copy(at(from.data64, from, channel), at(to.data64, to, channel), frames);
            }
        }
    }
}

/// The channel at `index` in `list`, or null.
///
/// # Safety
/// As [`bus`].
unsafe fn at<T>(list: *mut *mut T, bus: &clap_audio_buffer, index: u32) -> *mut T {
    if list.is_null() || index >= bus.channel_count {
        return null_mut();
    }
    // SAFETY: the caller's promise.
    unsafe { *list.add(index as usize) }
}

/// Copies a channel, or silences `to` if `from` is null.
///
/// # Safety
/// Both are null or hold `frames` samples.
unsafe fn copy<T>(from: *const T, to: *mut T, frames: usize) {
    // SAFETY: the caller's promise; the two may overlap.
    unsafe {
        if to.is_null() || std::ptr::eq(from, to) {
        } else if from.is_null() {
            to.write_bytes(0, frames);
        } else {
            std::ptr::copy(from, to, frames);
        }
    }
}
