//! The table of single behaviours: hosts that differ from the plain one in one respect.

use super::behaviour::{
    Behaviour, Blocks, Latency, Life, Names, PLAIN, Pause, RATES_HZ, Restart, Threads, Track, Transport,
};
use super::{all, rig};
use crate::signals::sine;
use crate::{MONO, STEREO, assert_quiet};
use plumbline_tests::rig::clap::{Label, Library};
use plumbline_tests::rig::{Moment, bundles, child};

#[test]
fn a_track_of_any_width_takes_either_class() {
    all(Track::ALL.map(|track| Behaviour { track, ..PLAIN }));
}

#[test]
fn a_host_names_its_tracks_at_once_never_late_or_again_and_again() {
    all(Names::ALL.map(|names| Behaviour { names, ..PLAIN }));
}

#[test]
fn a_host_asks_for_the_latency_whenever_it_likes_and_hears_of_none() {
    all(Latency::ALL.map(|latency| Behaviour { latency, tries: true, ..PLAIN }));
}

#[test]
fn blocks_are_as_long_as_the_host_likes() {
    all(Blocks::ALL.map(|blocks| Behaviour { blocks, ..PLAIN }));
}

#[test]
fn any_thread_processes() {
    all(Threads::ALL.map(|threads| Behaviour { threads, ..PLAIN }));
}

#[test]
fn the_transport_loops_jumps_by_one_stands_or_says_nothing() {
    all(Transport::ALL.map(|transport| Behaviour { transport, ..PLAIN }));
}

#[test]
fn a_host_stops_calling_sleeps_on_silence_bypasses_and_resets() {
    all(Pause::ALL.map(|pause| Behaviour { pause, ..PLAIN }));
}

#[test]
fn a_host_renders_quicker_than_real_time_at_any_rate() {
    all(RATES_HZ.map(|rate_hz| Behaviour { rate_hz, offline: true, ..PLAIN }));
}

#[test]
fn an_instance_is_duplicated_moved_frozen_and_run_at_another_rate() {
    all(Life::ALL.map(|life| Behaviour { life, ..PLAIN }));
}

#[test]
fn a_trial_ends_well_whatever_the_host_makes_of_a_restart() {
    all(Restart::ALL.map(|restart| Behaviour { restart, tries: true, ..PLAIN }));
}

#[test]
fn a_mono_track_pushes_one_channel_to_the_stereo_class() {
    let Some(quiet) = child::run(&[], || {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let sound = sine(2, 4_800, 1.0 / 48.0, 0.1, 0.5);
        let mut cases = 0;
        // There and back, then to the number it already has.
        for channels in [1, 2, 2, 1] {
            assert_eq!(instance.push_channels(channels).unwrap(), Some(true), "{channels} channels");
            assert_eq!(instance.channels(), channels);
            let mut processor = instance.activate(48_000.0, 512).unwrap();
            let input = &sound[..channels];
            let out = processor.play(input, Moment::playing_at(0)).unwrap();
            crate::signals::assert_bit_equal(&out, input, "pushed channels");
            instance.deactivate(processor);
            cases += 1;
        }
        assert_eq!(cases, 4);
        // In the other direction no layout fits, so the class keeps its own.
        let mut mono = library.create(MONO, Label::default()).unwrap();
        assert_ne!(mono.push_channels(2).unwrap(), Some(true), "two channels in the mono class");
        assert_eq!(mono.channels(), 1);
        rig::fit(&mut mono, super::behaviour::Track::MonoClass);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
