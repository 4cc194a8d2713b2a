//! The output of the built plug-ins during a trial. No trial adds latency or requests a restart.

use crate::signals::{arbitrary_bits, arbitrary_bits_never_silent, assert_bit_equal};
use crate::{STEREO, assert_quiet};
use plumbline_programme::Trial;
use plumbline_tests::rig::clap::{Instance, Label, Library, Processor};
use plumbline_tests::rig::readings::Port;
use plumbline_tests::rig::{Moment, bundles, child, vst3};
use std::f64::consts::TAU;
use std::sync::atomic::Ordering;

/// Rate of these tests in Hz.
const RATE_HZ: f64 = 48_000.0;
const BLOCK: usize = 512;
/// Frames after which any change is complete: the longest delay and a fade, with a margin.
const SETTLED: usize = 6_000;

/// A trial in samples.
fn delayed(left: f64, right: f64) -> Trial {
    Trial { delay_secs: [left / RATE_HZ, right / RATE_HZ], ..Trial::default() }
}

/// The settled part of the output, and the expected one, for a trial in whole samples.
fn settled(out: &[Vec<f32>], input: &[Vec<f32>], delays: [usize; 2], flip: [bool; 2]) -> [Vec<Vec<f32>>; 2] {
    let end = input[0].len();
    let made = (0..2).map(|c| {
        let part = &input[c][SETTLED - delays[c]..end - delays[c]];
        part.iter().map(|sample| if flip[c] { -sample } else { *sample }).collect()
    });
    [out.iter().map(|channel| channel[SETTLED..].to_vec()).collect(), made.collect()]
}

fn assert_delayed(out: &[Vec<f32>], input: &[Vec<f32>], delays: [usize; 2], flip: [bool; 2], case: &str) {
    let [found, expected] = settled(out, input, delays, flip);
    assert_bit_equal(&found, &expected, case);
}

/// A sine at a tenth of the rate, the same in both channels.
fn sine(frames: usize) -> Vec<Vec<f32>> {
    crate::signals::sine(2, frames, 0.1, 0.5, 0.0)
}

/// Asserts that the end of each channel is the [`sine`] delayed by `delays` samples, to a trial's accuracy of 0.01
/// sample.
fn assert_late(out: &[Vec<f32>], delays: [f64; 2], case: &str) {
    let bound = 0.5 * TAU * 0.1 * 0.01;
    for (c, delay) in delays.into_iter().enumerate() {
        for (frame, sample) in out[c].iter().enumerate().skip(SETTLED) {
            let ideal = 0.5 * (TAU * 0.1 * (frame as f64 - delay)).sin();
            let off = (f64::from(*sample) - ideal).abs();
            assert!(off < bound, "{case}: channel {c}, frame {frame} is off by {off}");
        }
    }
}

struct Running {
    port: Port,
    library: Library,
    instance: Instance,
}

fn clap() -> Running {
    let path = bundles::clap().unwrap();
    let library = Library::load(&path).unwrap();
    let port = Port::open(&path).unwrap();
    let instance = library.create(STEREO, Label::default()).unwrap();
    Running { port, library, instance }
}

fn play(processor: &mut Processor, input: &[Vec<f32>]) -> Vec<Vec<f32>> {
    processor.play(input, Moment::playing_at(0)).unwrap()
}

#[test]
fn clap_is_a_wire_before_delayed_while_and_a_wire_after() {
    let Some(quiet) = child::run(&[], || {
        let Running { port, mut instance, library } = clap();
        let mut processor = instance.activate(RATE_HZ, BLOCK).unwrap();
        let input = arbitrary_bits(2, 2 * SETTLED);
        assert_bit_equal(&play(&mut processor, &input), &input, "before");
        let trials = [
            ([224, 0], [false, true]),
            ([0, 4_800], [true, false]),
            ([7, 3], [false; 2]),
            ([0, 0], [true, true]),
        ];
        for (delays, flip) in trials {
            let trial = Trial { flip, ..delayed(delays[0] as f64, delays[1] as f64) };
            port.try_out(0, Some(trial)).unwrap();
            let out = play(&mut processor, &input);
            assert_delayed(&out, &input, delays, flip, &format!("{trial:?}"));
            assert_eq!(instance.latency().unwrap(), 0, "a delay on trial is no latency");
        }
        assert_eq!(trials.len(), 4);
        // A fractional delay, long enough for its kernel.
        port.try_out(0, Some(delayed(223.7, 32.25))).unwrap();
        let wave = sine(2 * SETTLED);
        assert_late(&play(&mut processor, &wave), [223.7, 32.25], "a fraction");
        assert_eq!(instance.latency().unwrap(), 0);

        port.try_out(0, None).unwrap();
        play(&mut processor, &input);
        assert_bit_equal(&play(&mut processor, &input), &input, "after");
        assert!(!instance.notes().restart.load(Ordering::Acquire), "nothing asked for a restart");
        assert_eq!(instance.notes().latency_changes.load(Ordering::Acquire), 0);
        instance.deactivate(processor);
        // Another instance is not affected.
        let other = library.create(STEREO, Label::default()).unwrap();
        assert!(port.try_out(2, Some(delayed(1.0, 0.0))).is_err() && port.try_out(2, None).is_err());
        drop(other);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_rounds_a_short_fraction_and_asks_the_host_for_nothing() {
    let Some(quiet) = child::run(&[], || {
        let Running { port, mut instance, .. } = clap();
        let wave = sine(2 * SETTLED);
        let mut processor = instance.activate(RATE_HZ, BLOCK).unwrap();
        for round in 0..3 {
            port.try_out(0, Some(delayed(10.5, 0.0))).unwrap();
            assert_late(&play(&mut processor, &wave), [11.0, 0.0], "rounded");
            assert_eq!(instance.latency().unwrap(), 0, "round {round}");
            // Another activation by the host does not change it.
            instance.deactivate(processor);
            processor = instance.activate(RATE_HZ, BLOCK).unwrap();
            assert_late(&play(&mut processor, &wave), [11.0, 0.0], "rounded, activated again");
            port.try_out(0, None).unwrap();
            let input = arbitrary_bits(2, 2 * SETTLED);
            play(&mut processor, &input);
            assert_bit_equal(&play(&mut processor, &input), &input, "off");
            instance.idle();
            assert!(!instance.notes().restart.load(Ordering::Acquire), "round {round} asks for a restart");
            assert_eq!(instance.notes().latency_changes.load(Ordering::Acquire), 0, "round {round}");
        }
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_leaves_an_offline_render_alone_unless_the_trial_is_meant_for_it() {
    let Some(quiet) = child::run(&[], || {
        let Running { port, mut instance, .. } = clap();
        let input = arbitrary_bits(2, 2 * SETTLED);
        port.try_out(0, Some(Trial { flip: [true, false], ..delayed(10.5, 224.0) })).unwrap();
        instance.set_offline(true).unwrap();
        let mut processor = instance.activate(RATE_HZ, BLOCK).unwrap();
        assert_eq!(instance.latency().unwrap(), 0);
        assert_bit_equal(&play(&mut processor, &input), &input, "a render");
        instance.deactivate(processor);

        let meant = Trial { flip: [true, false], in_renders: true, ..delayed(10.0, 224.0) };
        port.try_out(0, Some(meant)).unwrap();
        let mut processor = instance.activate(RATE_HZ, BLOCK).unwrap();
        let out = play(&mut processor, &input);
        assert_delayed(&out, &input, [10, 224], meant.flip, "a render that is meant");
        // From the very first frame: a render has no time to fade in.
        assert!(out[1][..224].iter().all(|sample| *sample == 0.0));
        assert_bit_equal(
            &[out[1][224..SETTLED].to_vec()],
            &[input[1][..SETTLED - 224].to_vec()],
            "its start",
        );
        instance.deactivate(processor);

        port.try_out(0, Some(Trial { in_renders: false, ..meant })).unwrap();
        instance.set_offline(false).unwrap();
        let mut processor = instance.activate(RATE_HZ, BLOCK).unwrap();
        let out = play(&mut processor, &input);
        assert_delayed(&out, &input, [10, 224], meant.flip, "back from the render");
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_keeps_no_trial_in_a_project() {
    let Some(quiet) = child::run(&[], || {
        let Running { port, mut instance, library } = clap();
        let untouched = instance.save().unwrap();
        port.try_out(0, Some(Trial { flip: [true; 2], in_renders: true, ..delayed(224.0, 0.0) })).unwrap();
        let saved = instance.save().unwrap();
        assert_eq!(saved, untouched, "a trial is not part of the state");
        let mut reopened = library.create(STEREO, Label::default()).unwrap();
        reopened.load(&saved).unwrap();
        let input = arbitrary_bits(2, 2 * SETTLED);
        let mut processor = reopened.activate(RATE_HZ, BLOCK).unwrap();
        assert_bit_equal(&play(&mut processor, &input), &input, "a reopened project");
        reopened.deactivate(processor);
        // The instance that saved it goes on.
        let mut processor = instance.activate(RATE_HZ, BLOCK).unwrap();
        let out = play(&mut processor, &input);
        assert_delayed(&out, &input, [224, 0], [true; 2], "the instance itself");
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_shows_what_is_tried_and_measures_what_goes_out() {
    let Some(quiet) = child::run(&[], || {
        let Running { port, mut instance, .. } = clap();
        instance.set_offline(true).unwrap();
        port.watch(0, true).unwrap();
        let trial = Trial { flip: [false, true], in_renders: true, ..Trial::default() };
        port.try_out(0, Some(trial)).unwrap();
        let mut processor = instance.activate(RATE_HZ, BLOCK).unwrap();
        let signal = crate::signals::sine(2, 96_000, 1.0 / 48.0, 0.1, 0.0);
        let out = processor.play(&signal, Moment::playing_at(0)).unwrap();
        assert_eq!(out[1][100], -out[0][100]);
        instance.deactivate(processor);
        let start = std::time::Instant::now();
        let view = loop {
            let view = port.readings(0, 0).unwrap().view;
            if view.clock.position.sample >= 95_999 {
                break view;
            }
            assert!(start.elapsed().as_secs() < 20, "the view stopped at {:?}", view.clock);
            std::thread::sleep(std::time::Duration::from_millis(5));
        };
        assert_eq!(view.trial, Some(trial));
        // Both input channels are equal; one output channel is inverted.
        let correlation = view.spectral(plumbline_measure::Averaging::SinceReset).whole.correlation.unwrap();
        assert!(correlation < -0.99, "{correlation}");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_is_a_wire_before_delayed_while_and_a_wire_after() {
    let Some(quiet) = child::run(&[], || {
        let bundle = bundles::vst3().unwrap();
        let (classes, _) = vst3::classes(&bundle).unwrap();
        let mut instance = vst3::Instance::create(&bundle, &classes[0].id, RATE_HZ, BLOCK).unwrap();
        let port = Port::open(&bundles::vst3_library().unwrap()).unwrap();
        let input = arbitrary_bits_never_silent(2, 2 * SETTLED, BLOCK);
        let saved = instance.save().unwrap();
        instance.start().unwrap();
        let moment = Moment::playing_at(0);
        assert_bit_equal(&instance.play(&input, moment).unwrap(), &input, "before");
        let mut cases = 0;
        for (delays, flip) in [([224, 0], [false, true]), ([0, 4_800], [true, false]), ([7, 3], [false; 2])] {
            port.try_out(0, Some(Trial { flip, ..delayed(delays[0] as f64, delays[1] as f64) })).unwrap();
            let out = instance.play(&input, moment).unwrap();
            assert_delayed(&out, &input, delays, flip, &format!("{delays:?}"));
            assert_eq!(instance.latency(), 0);
            cases += 1;
        }
        assert_eq!(cases, 3);
        let wave = sine(2 * SETTLED);
        port.try_out(0, Some(delayed(223.7, 32.25))).unwrap();
        assert_late(&instance.play(&wave, moment).unwrap(), [223.7, 32.25], "a fraction");
        assert_eq!(instance.save().unwrap(), saved, "a trial is not part of the state");

        port.try_out(0, None).unwrap();
        instance.play(&input, moment).unwrap();
        assert_bit_equal(&instance.play(&input, moment).unwrap(), &input, "after");

        // A short fraction is rounded, before and after an activation.
        port.try_out(0, Some(delayed(10.5, 0.0))).unwrap();
        assert_late(&instance.play(&wave, moment).unwrap(), [11.0, 0.0], "rounded");
        instance.stop().unwrap();
        instance.reconfigure(RATE_HZ, BLOCK).unwrap();
        instance.start().unwrap();
        assert_late(&instance.play(&wave, moment).unwrap(), [11.0, 0.0], "rounded, activated again");
        instance.stop().unwrap();

        // A render.
        instance.set_offline(true).unwrap();
        instance.start().unwrap();
        assert_bit_equal(&instance.play(&input, moment).unwrap(), &input, "a render");
        port.try_out(0, Some(Trial { in_renders: true, ..delayed(224.0, 0.0) })).unwrap();
        let out = instance.play(&input, moment).unwrap();
        assert_delayed(&out, &input, [224, 0], [false; 2], "a render that is meant");
        instance.stop().unwrap();
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[cfg(target_os = "linux")]
#[test]
fn clap_asks_for_no_restart_where_an_editor_is_open() {
    use crate::editor::{USUAL, with_display};
    use plumbline_tests::rig::display::HostWindow;
    let Some(quiet) = with_display(|| {
        let Running { port, mut instance, .. } = clap();
        let processor = instance.activate(RATE_HZ, BLOCK).unwrap();
        let window = HostWindow::open(USUAL).unwrap();
        instance.open_editor(window.id()).unwrap();
        let trials = [Some(delayed(223.7, 0.0)), Some(delayed(3.5, 0.0)), Some(delayed(3.5, 7.5)), None];
        for trial in trials {
            port.try_out(0, trial).unwrap();
            instance.idle();
            assert!(!instance.notes().restart.load(Ordering::Acquire), "{trial:?}");
            assert_eq!(instance.latency().unwrap(), 0, "{trial:?}");
        }
        assert_eq!(trials.len(), 4);
        instance.close_editor().unwrap();
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert!(!quiet.stderr.contains("panicked"), "{}", quiet.stderr);
}
