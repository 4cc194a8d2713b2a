//! Processing with a shield in front of the framework, for hosts that break the rules of CLAP.
//!
//! The framework trusts a host's counts, pointers and order of calls, and panics or reads out of bounds where they are
//! wrong ([hosts.md](../../../../docs/hosts.md) lists where). A block that it cannot take passes unmeasured and is
//! counted.

use super::channels::{self, NONE};
use super::events::Events;
use super::instance::Instance;
use clap_sys::events::clap_input_events;
use clap_sys::events::clap_output_events;
use clap_sys::ext::audio_ports::{CLAP_EXT_AUDIO_PORTS, clap_audio_port_info, clap_plugin_audio_ports};
use clap_sys::ext::params::{CLAP_EXT_PARAMS, clap_plugin_params};
use clap_sys::plugin::clap_plugin;
use clap_sys::process::{CLAP_PROCESS_CONTINUE, CLAP_PROCESS_ERROR, clap_process, clap_process_status};
use std::ptr::null;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

/// The longest block that a host may announce, in frames: the framework allocates as much for a side-chain.
const LONGEST_BLOCK: u32 = 1 << 17;
/// The longest that a flush of parameters waits for a block to end. CLAP forbids a host both at once.
const LONGEST_WAIT: Duration = Duration::from_millis(20);

pub(super) unsafe extern "C" fn activate(
    plugin: *const clap_plugin,
    rate: f64,
    least: u32,
    most: u32,
) -> bool {
    // SAFETY: the host's pointer to this instance, on its main thread.
    unsafe {
        let Some(instance) = Instance::of(plugin) else { return false };
        let most = most.clamp(1, LONGEST_BLOCK);
        let processing = &instance.processing;
        let active =
            (*instance.inner).activate.is_some_and(|activate| activate(plugin, rate, least.min(most), most));
        processing.main.store(port_channels(instance, plugin, 0), Ordering::Relaxed);
        processing.side.store(port_channels(instance, plugin, 1), Ordering::Relaxed);
        processing.longest.store(most, Ordering::Relaxed);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "saturates; NaN becomes 0"
        )]
        processing.rate.store(rate.ceil() as u32, Ordering::Relaxed);
        processing.steady.store(-1, Ordering::Relaxed);
        processing.active.store(active, Ordering::Release);
        active
    }
}

pub(super) unsafe extern "C" fn deactivate(plugin: *const clap_plugin) {
    // SAFETY: as above.
    unsafe {
        let Some(instance) = Instance::of(plugin) else { return };
        instance.processing.active.store(false, Ordering::Release);
        if let Some(deactivate) = (*instance.inner).deactivate {
            deactivate(plugin);
        }
    }
}

/// # Realtime Safety
/// Adds comparisons and copies of a few words to the framework's own function; where that cannot be called, copies the
/// block. No allocation, lock, log, wait, system call or panic.
pub(super) unsafe extern "C" fn process(
    plugin: *const clap_plugin,
    block: *const clap_process,
) -> clap_process_status {
    // SAFETY: the host's pointer to this instance, and a block or null.
    unsafe {
        let (Some(instance), Some(block)) = (Instance::of(plugin), block.as_ref()) else {
            return CLAP_PROCESS_ERROR;
        };
        let processing = &instance.processing;
        let Some(run) = (*instance.inner).process else { return CLAP_PROCESS_ERROR };
        if !processing.active.load(Ordering::Acquire) || !processing.enter() {
            instance.requests.blocks.unfit.fetch_add(1, Ordering::Relaxed);
            channels::pass(block, 0);
            return CLAP_PROCESS_CONTINUE;
        }
        // To the wrapper of VST3, steady time is the song position.
        if instance.wrapper.is_none() && processing.has_slept(block) {
            instance.requests.blocks.slept.store(true, Ordering::Relaxed);
        }
        let status = run_shielded(instance, block, |block| run(plugin, block));
        processing.leave();
        status
    }
}

/// Runs a block with the buses and events that the framework can take, and passes the rest.
///
/// # Safety
/// The host's block.
unsafe fn run_shielded(
    instance: &Instance,
    block: &clap_process,
    run: impl FnOnce(*const clap_process) -> clap_process_status,
) -> clap_process_status {
    let processing = &instance.processing;
    let (main, side) = (processing.main.load(Ordering::Relaxed), processing.side.load(Ordering::Relaxed));
    // SAFETY: the caller's promise.
    unsafe {
        let input = channels::bus(block.audio_inputs, block.audio_inputs_count, 0, main);
        let output = channels::bus(block.audio_outputs, block.audio_outputs_count, 0, main);
        let (main_buses, unfit) = match input.zip(output) {
            Some(buses) => (Some(buses), false),
            None => (None, block.frames_count > 0),
        };
        // For a longer block than announced the framework would allocate.
        let side_bus = Some(side)
            .filter(|side| *side > 0 && block.frames_count <= processing.longest.load(Ordering::Relaxed))
            .and_then(|side| channels::bus(block.audio_inputs, block.audio_inputs_count, 1, side))
            .unwrap_or(NONE);
        let measured = main_buses.is_some();
        let (input, mut output) = main_buses.unwrap_or((NONE, NONE));
        let inputs = [input, side_bus];
        if unfit {
            instance.requests.blocks.unfit.fetch_add(1, Ordering::Relaxed);
        }
        let mut events = Events::of(block.in_events, block.frames_count);
        let shielded = clap_process {
            audio_inputs: inputs.as_ptr(),
            audio_inputs_count: if side > 0 { 2 } else { 1 },
            audio_outputs: &raw mut output,
            audio_outputs_count: 1,
            in_events: events.as_mut().map_or(null(), Events::table),
            out_events: if takes_events(block.out_events) { block.out_events } else { null() },
            ..*block
        };
        let status = run(&raw const shielded);
        channels::pass(block, if measured { main } else { 0 });
        status
    }
}

/// The framework's parameters with a flush that waits for a block and hides what it cannot read.
///
/// # Safety
/// The host's pointer to the instance.
pub(super) unsafe fn parameters(
    instance: &Instance,
    plugin: *const clap_plugin,
) -> Option<&clap_plugin_params> {
    // SAFETY: the framework's tables live as long as the instance.
    let theirs =
        unsafe { instance.extension(plugin, CLAP_EXT_PARAMS).cast::<clap_plugin_params>().as_ref() }?;
    Some(instance.parameters.get_or_init(|| clap_plugin_params { flush: Some(flush), ..*theirs }))
}

unsafe extern "C" fn flush(
    plugin: *const clap_plugin,
    from: *const clap_input_events,
    to: *const clap_output_events,
) {
    // SAFETY: the host's pointers.
    unsafe {
        let Some(instance) = Instance::of(plugin) else { return };
        let theirs = instance.extension(plugin, CLAP_EXT_PARAMS).cast::<clap_plugin_params>().as_ref();
        let Some(run) = theirs.and_then(|theirs| theirs.flush) else { return };
        let start = Instant::now();
        while !instance.processing.enter() {
            if start.elapsed() > LONGEST_WAIT {
                return;
            }
            std::thread::yield_now();
        }
        let mut events = Events::of(from, 0);
        run(
            plugin,
            events.as_mut().map_or(null(), Events::table),
            if takes_events(to) { to } else { null() },
        );
        instance.processing.leave();
    }
}

/// Whether a list takes events.
///
/// # Safety
/// Null, or the host's list.
unsafe fn takes_events(list: *const clap_output_events) -> bool {
    // SAFETY: the caller's promise.
    unsafe { list.as_ref() }.is_some_and(|list| list.try_push.is_some())
}

/// The channels of an input port in the layout that is selected; 0 if there is no such port.
///
/// # Safety
/// The host's pointer to the instance, on its main thread.
unsafe fn port_channels(instance: &Instance, plugin: *const clap_plugin, index: u32) -> u32 {
    // SAFETY: the caller's promise; the framework's tables live as long as the instance.
    unsafe {
        let ports = instance.extension(plugin, CLAP_EXT_AUDIO_PORTS).cast::<clap_plugin_audio_ports>();
        let Some(get) = ports.as_ref().and_then(|ports| ports.get) else { return 0 };
        let mut info: clap_audio_port_info = std::mem::zeroed();
        if get(plugin, index, true, &raw mut info) { info.channel_count } else { 0 }
    }
}
