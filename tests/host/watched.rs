//! The audio thread of the shipped libraries under watch: no allocation, no lock of the C library and no system call in
//! any block, whatever comes with it. A lock that nobody holds is taken in user space, unseen.
#![cfg(all(target_os = "linux", target_env = "gnu", target_arch = "x86_64"))]

use crate::parameters::{HOLD, MARK, RESET};
use crate::{assert_quiet, show_words, without_words};
use clap_sys::events::{
    CLAP_CORE_EVENT_SPACE_ID, CLAP_EVENT_PARAM_VALUE, CLAP_EVENT_TRANSPORT,
    CLAP_TRANSPORT_HAS_SECONDS_TIMELINE, CLAP_TRANSPORT_IS_PLAYING, clap_event_header,
    clap_event_param_value, clap_event_transport, clap_input_events,
};
use clap_sys::fixedpoint::CLAP_SECTIME_FACTOR;
use clap_sys::process::clap_process;
use plumbline_programme::Trial;
use plumbline_tests::rig::clap_raw::{Library, block, bus};
use plumbline_tests::rig::readings::Port;
use plumbline_tests::rig::vst3_raw::{Block, Buffers, HostBehaviour, Instance, Module, Setup};
use plumbline_tests::rig::watch::{self, Counts};
use plumbline_tests::rig::{Moment, bundles, child};
use plumbline_tests::signal::Noise;
use std::mem::size_of;
use std::time::Duration;

/// Blocks of each format.
const BLOCKS: u64 = 20_000;
/// The longest block.
const LONGEST: usize = 512;
/// A trial is changed every so many blocks.
const TRIAL_EACH: u64 = 500;

/// The watch sees what it is for.
fn assert_watching() {
    let before = watch::counts().expect("the watch is loaded");
    watch::call(|| drop(std::hint::black_box(vec![1_u8; 100])));
    watch::call(std::thread::yield_now);
    let after = watch::counts().unwrap();
    assert_eq!(after.allocations - before.allocations, 2, "an allocation and its end");
    assert_eq!(after.system_calls - before.system_calls, 1);
}

/// Trials in turn: none, a fraction, inverted, whole samples.
fn trial(number: u64) -> Option<Trial> {
    [
        None,
        Some(Trial { delay_secs: [0.0101, 0.0], ..Trial::default() }),
        Some(Trial { flip: [true, false], ..Trial::default() }),
        Some(Trial { delay_secs: [0.0001, 0.05], ..Trial::default() }),
    ][usize::try_from(number % 4).unwrap()]
}

/// A host's event list of at most two events.
struct List {
    table: clap_input_events,
    events: Vec<*const clap_event_header>,
}

unsafe extern "C" fn size(list: *const clap_input_events) -> u32 {
    // SAFETY: the test set the pointer.
    u32::try_from(unsafe { &*(*list).ctx.cast::<List>() }.events.len()).unwrap_or(0)
}

unsafe extern "C" fn get(list: *const clap_input_events, index: u32) -> *const clap_event_header {
    // SAFETY: the test set the pointer.
    unsafe { &*(*list).ctx.cast::<List>() }.events.get(index as usize).copied().unwrap_or(std::ptr::null())
}

fn header(type_: u16, size: usize, time: u32) -> clap_event_header {
    let size = u32::try_from(size).unwrap();
    clap_event_header { size, time, space_id: CLAP_CORE_EVENT_SPACE_ID, type_, flags: 0 }
}

/// The environment of a child under watch.
fn watching() -> (tempfile::TempDir, (&'static str, String)) {
    let folder = tempfile::tempdir().unwrap();
    let variable = watch::preloaded(folder.path()).unwrap();
    (folder, variable)
}

#[test]
fn clap_neither_allocates_nor_calls_the_system_in_any_block() {
    let (_folder, variable) = watching();
    let Some(quiet) = child::run(&[variable], || {
        let path = bundles::clap().unwrap();
        let library = Library::load(&path).unwrap();
        let port = Port::open(&path).unwrap();
        let plugin = library.create(c"plumbline.analyser.stereo").unwrap();
        assert!(plugin.activate(48_000.0, 1, 512) && plugin.start());
        assert_watching();
        let before = watch::counts().unwrap();
        let mut numbers = Noise::new(21);
        let mut sound = [[0.1_f32; LONGEST]; 2];
        let mut song = 0_i64;
        for number in 0..BLOCKS {
            if number % TRIAL_EACH == 0 {
                port.try_out(0, trial(number / TRIAL_EACH)).unwrap();
            }
            let bits = numbers.bits();
            let frames = 1 + usize::try_from(bits % LONGEST as u64).unwrap();
            if bits.is_multiple_of(97) {
                song = i64::try_from(bits % 48_000_000).unwrap();
            }
            // SAFETY: numbers, for which zero is a value.
            let mut transport: clap_event_transport = unsafe { std::mem::zeroed() };
            transport.header = header(
                CLAP_EVENT_TRANSPORT,
                size_of::<clap_event_transport>(),
                u32::try_from((bits >> 9) % frames as u64).unwrap(),
            );
            transport.flags = CLAP_TRANSPORT_HAS_SECONDS_TIMELINE
                | if bits.is_multiple_of(13) { 0 } else { CLAP_TRANSPORT_IS_PLAYING };
            transport.song_pos_seconds = song * (CLAP_SECTIME_FACTOR / 48_000);
            // SAFETY: as above.
            let mut value: clap_event_param_value = unsafe { std::mem::zeroed() };
            value.header = header(CLAP_EVENT_PARAM_VALUE, size_of::<clap_event_param_value>(), 0);
            value.param_id = [HOLD, RESET, MARK][usize::try_from(bits % 3).unwrap()];
            value.value = f64::from(u32::from(bits & 16 == 0));
            let mut list = List {
                table: clap_input_events { ctx: std::ptr::null_mut(), size: Some(size), get: Some(get) },
                events: Vec::new(),
            };
            if bits.is_multiple_of(5) {
                list.events.push(&raw const value.header);
            }
            if bits.is_multiple_of(7) {
                list.events.push(&raw const transport.header);
            }
            list.table.ctx = std::ptr::from_mut(&mut list).cast();
            let mut pointers = sound.each_mut().map(|channel| channel.as_mut_ptr());
            let mut both = bus(&mut pointers);
            let block = clap_process {
                transport: &raw const transport,
                audio_inputs: &raw const both,
                audio_outputs: &raw mut both,
                audio_inputs_count: 1,
                audio_outputs_count: 1,
                in_events: &raw const list.table,
                ..block(u32::try_from(frames).unwrap())
            };
            // SAFETY: the block's buffers and events live as long as the call.
            let _ = watch::call(|| unsafe { plugin.process(&raw const block) });
            if bits.is_multiple_of(211) {
                watch::call(|| plugin.reset());
            }
            song += i64::try_from(frames).unwrap();
            if number % 64 == 0 {
                std::thread::sleep(Duration::from_micros(200));
            }
        }
        let after = watch::counts().unwrap();
        assert_eq!(
            after,
            Counts { last_system_call: after.last_system_call, ..before },
            "in {BLOCKS} blocks"
        );
        child::say(&format!(
            "CLAP: {BLOCKS} blocks under watch, no allocation, lock of the C library or system call"
        ));
        plugin.stop();
        plugin.deactivate();
        // SAFETY: the last use.
        unsafe { plugin.destroy() };
    }) else {
        return;
    };
    show_words(&quiet, |_| true);
    assert_quiet(&without_words(&quiet));
}

#[test]
fn vst3_neither_allocates_nor_calls_the_system_in_any_block() {
    let (_folder, variable) = watching();
    let Some(quiet) = child::run(&[variable], || {
        let path = bundles::vst3_library().unwrap();
        let module = Module::load(&path).unwrap();
        let port = Port::open(&path).unwrap();
        let class = &module.classes()[0];
        let mut instance = Instance::create(&module, class, HostBehaviour::default()).unwrap();
        instance.set_up(Setup { rate_hz: 48_000.0, largest_block: LONGEST, offline: false }).unwrap();
        instance.activate_buses(true);
        let mut processor = instance.activate().unwrap();
        assert_watching();
        let before = watch::counts().unwrap();
        let mut numbers = Noise::new(22);
        let sound = [[0.1_f32; LONGEST]; 2];
        let mut song = 0;
        for number in 0..BLOCKS {
            if number % TRIAL_EACH == 0 {
                port.try_out(0, trial(number / TRIAL_EACH)).unwrap();
            }
            let bits = numbers.bits();
            let frames = 1 + usize::try_from(bits % LONGEST as u64).unwrap();
            if bits.is_multiple_of(97) {
                song = i64::try_from(bits % 100_000_000).unwrap();
            }
            let parameter = [HOLD, RESET, MARK][usize::try_from(bits % 3).unwrap()];
            let change = [(0, parameter, f64::from(u32::from(bits & 16 == 0)))];
            let block = Block {
                buffers: if bits.is_multiple_of(2) { Buffers::Apart } else { Buffers::Same },
                changes: if bits.is_multiple_of(5) { &change } else { &[] },
                ..Block::at(Moment::playing_at(song))
            };
            let parts = sound.each_ref().map(|channel| &channel[..frames]);
            processor.process(&parts, block).unwrap();
            song += i64::try_from(frames).unwrap();
            if number % 64 == 0 {
                std::thread::sleep(Duration::from_micros(200));
            }
        }
        let after = watch::counts().unwrap();
        assert_eq!(
            after,
            Counts { last_system_call: after.last_system_call, ..before },
            "in {BLOCKS} blocks"
        );
        child::say(&format!(
            "VST3: {BLOCKS} blocks under watch, no allocation, lock of the C library or system call"
        ));
        drop(processor);
    }) else {
        return;
    };
    show_words(&quiet, |_| true);
    assert_quiet(&without_words(&quiet));
}
