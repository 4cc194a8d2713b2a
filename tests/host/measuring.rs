//! The built plug-in's measurements of a host's audio, through its readings port.

use crate::parameters::RESET;
use crate::signals::sine;
use crate::{STEREO, assert_quiet};
use plumbline_measure::Averaging;
use plumbline_tests::rig::clap::{Change, Instance, Label, Library, Processor};
use plumbline_tests::rig::readings::{Port, Readings};
use plumbline_tests::rig::{Moment, bundles, child, vst3};
use std::time::{Duration, Instant};

/// The longest wait for a view of the audio.
const PATIENCE: Duration = Duration::from_secs(20);
/// Rate of these tests in Hz.
const RATE_HZ: f64 = 48_000.0;

/// Waits until the readings of instance 0 meet `wanted`.
pub(crate) fn wait_for(port: &Port, what: &str, wanted: impl Fn(&Readings) -> bool) -> Readings {
    let start = Instant::now();
    loop {
        let readings = port.readings(0, 36_000).unwrap();
        if wanted(&readings) {
            return readings;
        }
        let clock = readings.view.clock;
        let health = readings.view.health;
        assert!(start.elapsed() < PATIENCE, "{what} did not come; the clock shows {clock:?}, {health:?}");
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// Whether history and view (which may be slightly older) have reached the end of `seconds` from 0.
fn is_done(readings: &Readings, seconds: usize) -> bool {
    let last = i64::try_from(seconds * 48_000).expect("short") - 1;
    readings.tenths.len() >= 10 * seconds && readings.view.clock.position.sample >= last
}

struct Running {
    port: Port,
    instance: Instance,
    processor: Processor,
}

/// An instance of the stereo class that processes and is watched.
fn running(offline: bool, block: usize) -> Running {
    let path = bundles::clap().unwrap();
    let library = Library::load(&path).unwrap();
    let port = Port::open(&path).unwrap();
    let mut instance = library.create(STEREO, Label::default()).unwrap();
    instance.set_offline(offline).unwrap();
    port.watch(0, true).unwrap();
    let processor = instance.activate(RATE_HZ, block).unwrap();
    Running { port, instance, processor }
}

#[test]
fn an_offline_render_is_measured_completely() {
    let Some(quiet) = child::run(&[], || {
        let Running { port, mut instance, mut processor } = running(true, 4_096);
        // One minute as fast as possible: a queue of four seconds would overflow if the render did not wait.
        let seconds = 60;
        let frames = seconds * 48_000;
        // 1 kHz at −20 dBFS in both channels: the reading is the mean of the channels' powers, which for a sine in
        // both channels is its level.
        processor.play(&sine(2, frames, 1.0 / 48.0, 0.1, 0.0), Moment::playing_at(0)).unwrap();
        instance.deactivate(processor);
        let done = wait_for(&port, "the last tenth", |r| is_done(r, seconds));
        assert_eq!((done.version, done.trouble), (1, None));
        assert_eq!(done.view.health.lost_frames, 0);
        assert_eq!(done.view.health.gaps, 0);
        assert_eq!(done.tenths.len(), 10 * seconds);
        assert!(done.tenths.iter().enumerate().all(|(i, t)| t.index == i as i64 && t.is_whole()));
        let level = done.view.spectral(Averaging::SinceReset).whole.level_dbfs.unwrap();
        assert!((level + 20.0).abs() < 0.1, "{level}");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn song_position_reaches_the_readings() {
    let Some(quiet) = child::run(&[], || {
        let Running { port, mut instance, mut processor } = running(true, 512);
        let start = 10 * 48_000;
        let signal = sine(2, 48_000, 1.0 / 48.0, 0.5, 0.0);
        processor.play(&signal, Moment::playing_at(start)).unwrap();
        // The latest tenths wait for analysis windows that reach into them.
        let shown = wait_for(&port, "half of the tenths", |r| r.view.on_song_time() && r.tenths.len() >= 5);
        assert_eq!(shown.tenths[0].index, 100);
        // A jump is counted, and measuring continues at the new position.
        processor.play(&signal, Moment::playing_at(100 * 48_000)).unwrap();
        let jumped = wait_for(&port, "the jump", |r| {
            r.view.health.jumps > 0 && r.tenths.iter().any(|t| t.index == 1_005)
        });
        assert_eq!(jumped.view.health.jumps, 1);
        assert_eq!(jumped.view.health.lost_frames, 0);
        // A stopped transport is measured in clock time.
        processor.play(&signal, Moment { song_frame: Some(0), playing: false }).unwrap();
        wait_for(&port, "the clock grid", |r| !r.view.on_song_time());
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn the_reset_parameter_starts_anew_where_it_rises() {
    let Some(quiet) = child::run(&[], || {
        let Running { port, mut instance, mut processor } = running(true, 512);
        let loud = sine(2, 96_000, 1.0 / 48.0, 1.0, 0.0);
        let soft = sine(2, 96_000, 1.0 / 48.0, 0.01, 0.0);
        let peak = |r: &Readings| r.view.meters.max_peak_dbfs[0];
        processor.play(&loud, Moment::playing_at(0)).unwrap();
        wait_for(&port, "the loud peak", |r| peak(r).is_some_and(|p| p > -0.1));
        // Without a reset the highest peak stays.
        processor.play(&soft, Moment::playing_at(96_000)).unwrap();
        wait_for(&port, "the soft part", |r| r.view.clock.position.sample > 190_000);
        assert!(peak(&port.readings(0, 0).unwrap()).unwrap() > -0.1);
        let block: Vec<&[f32]> = soft.iter().map(|c| &c[..480]).collect();
        let rise = Change { frame: 0, parameter: RESET, value: 1.0 };
        processor.process(&block, None, Moment::playing_at(192_000), &[rise]).unwrap();
        processor.play(&soft, Moment::playing_at(192_480)).unwrap();
        let anew = wait_for(&port, "the reset", |r| peak(r).is_some_and(|p| p < -39.0));
        assert!((peak(&anew).unwrap() + 40.0).abs() < 0.1);
        // The parameter stays on, which is not a second reset, so a loud part counts and stays.
        processor.play(&loud, Moment::playing_at(288_480)).unwrap();
        processor.play(&soft, Moment::playing_at(384_480)).unwrap();
        let after = wait_for(&port, "the end", |r| r.view.clock.position.sample > 470_000);
        assert!(peak(&after).unwrap() > -0.1);
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn a_rate_that_cannot_be_measured_is_said() {
    let Some(quiet) = child::run(&[], || {
        let path = bundles::clap().unwrap();
        let library = Library::load(&path).unwrap();
        let port = Port::open(&path).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let processor = instance.activate(8_000.0, 64).unwrap();
        let trouble = port.readings(0, 0).unwrap().trouble.unwrap();
        assert!(trouble.contains("8000") && trouble.contains("22050"), "{trouble}");
        instance.deactivate(processor);
        let processor = instance.activate(48_000.0, 64).unwrap();
        assert_eq!(port.readings(0, 0).unwrap().trouble, None);
        instance.deactivate(processor);
        drop(instance);
        assert!(port.readings(0, 0).is_err() && port.watch(0, true).is_err());
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn a_vst3_offline_render_is_measured_completely() {
    let Some(quiet) = child::run(&[], || {
        let bundle = bundles::vst3().unwrap();
        let (classes, _) = vst3::classes(&bundle).unwrap();
        let mut instance = vst3::Instance::create(&bundle, &classes[0].id, RATE_HZ, 1_024).unwrap();
        let port = Port::open(&bundles::vst3_library().unwrap()).unwrap();
        port.watch(0, true).unwrap();
        instance.set_offline(true).unwrap();
        instance.start().unwrap();
        let seconds = 30;
        instance.play(&sine(2, seconds * 48_000, 1.0 / 48.0, 0.1, 0.0), Moment::playing_at(0)).unwrap();
        instance.stop().unwrap();
        let done = wait_for(&port, "the last tenth", |r| is_done(r, seconds));
        assert_eq!(done.view.health.lost_frames, 0);
        assert!(done.tenths.iter().all(|t| t.is_whole()));
        assert!(done.view.on_song_time());
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
