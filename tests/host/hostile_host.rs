//! Hosts that break the rules of CLAP: the process lives, and every output that has an input equals it bit for bit.

mod blocks;
mod events;
mod numbers;

use crate::parameters::HOLD;
use crate::{assert_quiet, show_words, without_words};
use blocks::{CHANNELS, LONGEST, Shape, Sound};
use clap_sys::ext::audio_ports_config::{CLAP_EXT_AUDIO_PORTS_CONFIG, clap_plugin_audio_ports_config};
use clap_sys::ext::params::{CLAP_EXT_PARAMS, clap_plugin_params};
use clap_sys::ext::tail::{CLAP_EXT_TAIL, clap_plugin_tail};
use clap_sys::process::{CLAP_PROCESS_ERROR, clap_process};
use events::Events;
use numbers::Numbers;
use plumbline_programme::Trial;
use plumbline_tests::rig::clap_raw::{Library, Plugin, block, bus};
use plumbline_tests::rig::readings::Port;
use plumbline_tests::rig::{bundles, child};
use std::ffi::CStr;
use std::ptr::null;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

/// The stereo class.
const ID: &CStr = c"plumbline.analyser.stereo";
/// Blocks of random shape for each layout.
const BLOCKS: u32 = 3_000;
/// The longest block that the random hosts announce.
const ANNOUNCED: u32 = 512;

/// Selects the layout at `index`.
fn select(plugin: Plugin<'_>, index: u32) {
    let configs = plugin.extension::<clap_plugin_audio_ports_config>(CLAP_EXT_AUDIO_PORTS_CONFIG).unwrap();
    // SAFETY: the extension's own functions, on the thread that made the instance.
    unsafe {
        let mut config = std::mem::zeroed();
        assert!(configs.get.unwrap()(plugin.as_ptr(), index, &raw mut config));
        assert!(configs.select.unwrap()(plugin.as_ptr(), config.id));
    }
}

#[test]
fn blocks_of_any_shape_pass_bit_for_bit_and_are_counted() {
    let Some(quiet) = child::run(&[], || {
        let path = bundles::clap().unwrap();
        let library = Library::load(&path).unwrap();
        let port = Port::open(&path).unwrap();
        let mut numbers = Numbers::new(0x5EED_0017);
        for (layout, main) in [(0, 2), (1, 2), (2, 1)] {
            let plugin = library.create(ID).unwrap();
            select(plugin, layout);
            assert!(plugin.activate(48_000.0, 1, ANNOUNCED) && plugin.start());
            let mut sound = Sound::new();
            let mut unfit = 0;
            for _ in 0..BLOCKS {
                let shape = Shape::random(&mut numbers);
                let events = Events::random(&mut numbers, shape.frames);
                unfit += u64::from(!shape.fits(main));
                sound.fill(&mut numbers, &shape);
                sound.play(plugin, &shape, &events);
            }
            let readings = port.readings(0, 0).unwrap();
            child::say(&format!("layout {layout}: {BLOCKS} blocks of any shape, {unfit} unfit and counted"));
            assert!(unfit > u64::from(BLOCKS) / 10, "only {unfit} blocks were unfit");
            assert_eq!((readings.unfit_blocks, readings.trouble), (unfit, None));
            plugin.stop();
            plugin.deactivate();
            // SAFETY: the last use.
            unsafe { plugin.destroy() };
        }
    }) else {
        return;
    };
    show_words(&quiet, |_| true);
    assert_quiet(&without_words(&quiet));
}

#[test]
fn calls_in_any_order_do_no_harm() {
    let Some(quiet) = child::run(&[], || {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let plugin = library.create(ID).unwrap();
        let mut sound = Sound::new();
        let plain = Shape::plain(64);
        let mut numbers = Numbers::new(3);
        let mut play = |plugin| {
            sound.fill(&mut numbers, &plain);
            sound.play(plugin, &plain, &Events::none());
        };
        // SAFETY: null is what is tested.
        assert_eq!(unsafe { plugin.process(null()) }, CLAP_PROCESS_ERROR);
        play(plugin);
        plugin.stop();
        plugin.deactivate();
        play(plugin);
        for rate in [48_000.0, 384_000.0, f64::NAN, f64::INFINITY, -1.0, 0.0, 1e300, 8_000.0, 44_100.0] {
            for (least, most) in [(1, 512), (0, 0), (512, 1), (u32::MAX, u32::MAX)] {
                for layout in 0..3 {
                    select(plugin, layout);
                    let _ = plugin.activate(rate, least, most);
                    let _ = plugin.activate(rate, least, most);
                    let _ = plugin.start();
                    play(plugin);
                    plugin.deactivate();
                    play(plugin);
                }
            }
        }
        // SAFETY: the last use.
        unsafe { plugin.destroy() };
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn a_flush_beside_a_block_waits_and_both_end() {
    let Some(quiet) = child::run(&[], || {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let plugin = library.create(ID).unwrap();
        assert!(plugin.activate(48_000.0, 1, ANNOUNCED) && plugin.start());
        let parameters = plugin.extension::<clap_plugin_params>(CLAP_EXT_PARAMS).unwrap();
        let flush = parameters.flush.unwrap();
        let (end, flushes) = (AtomicBool::new(false), AtomicU32::new(0));
        std::thread::scope(|scope| {
            scope.spawn(|| {
                let mut numbers = Numbers::new(9);
                while !end.load(Ordering::Relaxed) {
                    let mut events = Events::random(&mut numbers, 0);
                    // SAFETY: the plug-in's own function; the list outlives the call.
                    unsafe { flush(plugin.as_ptr(), events.table(), null()) };
                    flushes.fetch_add(1, Ordering::Relaxed);
                }
            });
            let mut numbers = Numbers::new(11);
            let mut sound = Sound::new();
            for _ in 0..20_000 {
                let shape = Shape::plain(64);
                sound.fill(&mut numbers, &shape);
                sound.play(plugin, &shape, &Events::none());
            }
            end.store(true, Ordering::Relaxed);
        });
        let flushes = flushes.load(Ordering::Relaxed);
        let mut on = Events::hold_on();
        // SAFETY: the plug-in's own functions; the list and the number outlive the calls.
        let held = unsafe {
            flush(plugin.as_ptr(), on.table(), null());
            let mut value = 0.0;
            parameters.get_value.unwrap()(plugin.as_ptr(), HOLD, &raw mut value);
            value
        };
        assert_eq!(held, 1.0, "a flush after all that arrives");
        child::say(&format!("{flushes} flushes beside 20000 blocks"));
        assert!(flushes > 100, "{flushes}");
        // SAFETY: the last use.
        unsafe { plugin.destroy() };
    }) else {
        return;
    };
    show_words(&quiet, |_| true);
    assert_quiet(&without_words(&quiet));
}

#[test]
fn the_library_is_loaded_and_unloaded_two_hundred_times() {
    let Some(quiet) = child::run(&[], || {
        let path = bundles::clap().unwrap();
        let mut numbers = Numbers::new(5);
        for _ in 0..200 {
            let library = Library::load(&path).unwrap();
            let plugin = library.create(ID).unwrap();
            assert!(plugin.activate(48_000.0, 1, ANNOUNCED) && plugin.start());
            let mut sound = Sound::new();
            let shape = Shape::plain(512);
            sound.fill(&mut numbers, &shape);
            sound.play(plugin, &shape, &Events::none());
            plugin.stop();
            plugin.deactivate();
            // SAFETY: the last use.
            unsafe { plugin.destroy() };
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

/// A host that leaves out blocks although the trial's tail asks it to go on: what the delay line holds is of the past.
#[test]
fn a_host_that_sleeps_never_hears_a_trials_old_sound() {
    let Some(quiet) = child::run(&[], || {
        let path = bundles::clap().unwrap();
        let library = Library::load(&path).unwrap();
        let port = Port::open(&path).unwrap();
        let plugin = library.create(ID).unwrap();
        assert!(plugin.activate(48_000.0, 1, ANNOUNCED) && plugin.start());
        let trial = Trial { delay_secs: [0.05; 2], ..Trial::default() };
        port.try_out(0, Some(trial)).unwrap();
        let mut steady = 0;
        // The largest sample that goes out of a block that is all `level`.
        let mut play = |level: f32, slept: i64| {
            let mut channels = [[level; 480]; 2];
            let mut pointers = channels.each_mut().map(|channel| channel.as_mut_ptr());
            let mut both = bus(&mut pointers);
            steady += slept;
            let block = clap_process {
                steady_time: steady,
                audio_inputs: &raw const both,
                audio_outputs: &raw mut both,
                audio_inputs_count: 1,
                audio_outputs_count: 1,
                ..block(480)
            };
            steady += 480;
            // SAFETY: the block's buffers live as long as the call.
            let _ = unsafe { plugin.process(&raw const block) };
            channels.iter().flatten().fold(0.0_f32, |most, x| most.max(x.abs()))
        };
        // The trial reaches the audio thread, and fades in.
        for _ in 0..100 {
            play(0.0, 0);
            std::thread::sleep(std::time::Duration::from_millis(2));
        }
        let tail = plugin.extension::<clap_plugin_tail>(CLAP_EXT_TAIL).unwrap();
        // SAFETY: the plug-in's own function.
        assert!(unsafe { tail.get.unwrap()(plugin.as_ptr()) } >= 2_400, "a host that asks knows to go on");
        play(0.5, 0);
        let late: Vec<f32> = (0..8).map(|_| play(0.0, 0)).collect();
        assert!(late.iter().any(|most| *most > 0.4), "without a pause it comes 50 ms late: {late:?}");
        play(0.5, 0);
        let after: Vec<f32> = (0..8).map(|at| play(0.0, if at == 0 { 48_000 } else { 0 })).collect();
        assert!(after.iter().all(|most| *most < 1e-6), "after a second of sleep: {after:?}");
        // SAFETY: the last use.
        unsafe { plugin.destroy() };
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

const _: () = assert!(ANNOUNCED < LONGEST && CHANNELS > 2);
