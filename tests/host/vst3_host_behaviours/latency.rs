//! Hosts that ask for the latency and serve restarts at different times.

use super::editor::{drawn, opened};
use super::{RATE_HZ, Rig, activated, playing, until};
use crate::assert_quiet;
use crate::editor::{USUAL, with_display};
use crate::signals::{arbitrary_bits, assert_bit_equal};
use plumbline_programme::Trial;
use plumbline_tests::rig::embed::{Embedding, Socket};
use plumbline_tests::rig::vst3_raw::{Buffers, HostBehaviour, Instance, Processor, Restarts};
use plumbline_tests::rig::{Moment, child};
use plumbline_tests::signal::{Noise, single};
use std::time::Duration;

/// Turns of the host's main thread: more than the reactivations that a plug-in may request.
const TURNS: usize = 20;
/// The moments at which hosts serve restarts.
const SERVED: [Restarts; 4] = [Restarts::AtOnce, Restarts::Later, Restarts::Twice, Restarts::Never];

fn turns(instance: &Instance, processor: &mut Processor, input: &[Vec<f32>], case: &str) {
    for turn in 0..TURNS {
        let out = processor.play(input, Moment::playing_at(0), Buffers::Apart, || 512).unwrap();
        assert_bit_equal(&out, input, &format!("{case}, turn {turn}"));
        instance.idle();
    }
}

#[test]
fn vst3_host_asks_for_the_latency_while_inactive_and_is_not_kept_busy() {
    let Some(quiet) = child::run(&[], || {
        let rig = Rig::new();
        let input = arbitrary_bits(2, 1_000);
        for restarts in SERVED {
            let behaviour = HostBehaviour { restarts, asks_inactive: true, ..HostBehaviour::default() };
            let mut instance = rig.stereo(behaviour);
            assert_eq!(instance.latency(), 0);
            let mut processor = activated(&mut instance, playing(512));
            // The longest trial, 0.1 s, and the 32 samples of its kernel: a later change does not reach the host.
            assert_eq!(f64::from(instance.tail()), RATE_HZ / 10.0 + 32.0);
            turns(&instance, &mut processor, &input, &format!("{restarts:?}"));
            assert_eq!(instance.latency(), 0);
            let asked = instance.notes().reactivations();
            assert!(asked <= 1, "{restarts:?}: reactivated {asked} times in {TURNS} turns");
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_host_that_never_asks_is_never_told() {
    let Some(quiet) = child::run(&[], || {
        let rig = Rig::new();
        let input = arbitrary_bits(2, 1_000);
        let mut instance = rig.stereo(HostBehaviour::default());
        let mut processor = activated(&mut instance, playing(512));
        turns(&instance, &mut processor, &input, "no question");
        let notes = instance.notes();
        assert_eq!((notes.latency_changes(), notes.io_changes(), notes.reactivations()), (0, 0, 0));
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

/// The delay of each output channel relative to its input in whole frames; `None` if no delay gives a bit-exact match.
fn delays(out: &[Vec<f32>], input: &[Vec<f32>]) -> [Option<usize>; 2] {
    [0, 1].map(|channel| {
        (0..200).find(|&delay| {
            let (out, input) = (&out[channel][6_000..], &input[channel][6_000 - delay..]);
            out.iter().zip(input).all(|(out, input)| out.to_bits() == input.to_bits())
        })
    })
}

#[test]
fn vst3_host_serves_restarts_or_not_while_a_fix_is_tried_out() {
    let Some(quiet) = child::run(&[], || {
        let rig = Rig::new();
        let mut noise = Noise::new(14);
        let input: Vec<Vec<f32>> = (0..2).map(|_| single(&noise.pink(12_000, 0.1, RATE_HZ))).collect();
        let mut cases = 0;
        for restarts in SERVED {
            for asks_inactive in [false, true] {
                for samples in [10.0, 10.5, 224.0] {
                    let case = format!("{restarts:?}, asks inactive {asks_inactive}, {samples} samples");
                    let mut instance =
                        rig.stereo(HostBehaviour { restarts, asks_inactive, ..HostBehaviour::default() });
                    let mut processor = activated(&mut instance, playing(512));
                    rig.port.watch(0, true).unwrap();
                    turns(&instance, &mut processor, &input, &case);
                    let trial = Trial { delay_secs: [samples / RATE_HZ, 0.0], ..Trial::default() };
                    rig.port.try_out(0, Some(trial)).unwrap();
                    // The position has to advance, however the host serves the restart.
                    let mut heard = Vec::new();
                    for turn in 0..TURNS {
                        heard = processor
                            .play(&input, Moment::playing_at(0), Buffers::Apart, || 512)
                            .unwrap_or_else(|error| panic!("{case}, turn {turn}: {error}"));
                        instance.idle();
                    }
                    let mut at = 10 * 48_000;
                    until(
                        &format!("{case}: a position that goes on"),
                        || {
                            let moment = Moment::playing_at(at);
                            processor.play(&input[..], moment, Buffers::Apart, || 512).unwrap();
                            at += 12_000;
                            instance.idle();
                        },
                        || rig.port.glimpse(0).unwrap().clock.position.sample > 11 * 48_000,
                    );
                    let [left, right] = delays(&heard, &input);
                    assert_eq!(right, Some(0), "{case}: the channel without delay is unchanged");
                    if samples < 200.0 {
                        let left = left.unwrap_or_else(|| panic!("{case}: no delay of whole samples"));
                        assert!((left as f64 - samples).abs() <= 0.5, "{case}: {left} samples late");
                    }
                    assert_eq!(instance.latency(), 0, "{case}");
                    let asked = instance.notes().reactivations();
                    assert!(asked <= 1, "{case}: reactivated {asked} times");
                    assert!(instance.notes().strays().is_empty(), "{case}: {:?}", instance.notes().strays());
                    rig.port.try_out(0, None).unwrap();
                    processor.play(&input, Moment::playing_at(0), Buffers::Apart, || 512).unwrap();
                    turns(&instance, &mut processor, &input, &case);
                    cases += 1;
                }
            }
        }
        assert_eq!(cases, SERVED.len() * 2 * 3);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_host_is_not_asked_for_a_restart_from_an_open_editor() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        let input = arbitrary_bits(2, 1_000);
        for restarts in SERVED {
            let mut instance = rig.stereo(HostBehaviour { restarts, ..HostBehaviour::default() });
            let mut processor = activated(&mut instance, playing(512));
            let mut socket = Socket::open(USUAL, Embedding::Plain).unwrap();
            let view = opened(&instance, &mut socket);
            drawn(&mut socket, &instance, &view);
            for samples in [10.5, 224.25, 3.0] {
                let trial = Trial { delay_secs: [samples / RATE_HZ, 0.0], ..Trial::default() };
                rig.port.try_out(0, Some(trial)).unwrap();
                for _ in 0..TURNS {
                    processor.play(&input, Moment::playing_at(0), Buffers::Apart, || 512).unwrap();
                    instance.idle();
                    view.idle();
                    std::thread::sleep(Duration::from_millis(5));
                }
                assert_eq!(instance.latency(), 0, "{restarts:?}, {samples} samples");
            }
            rig.port.try_out(0, None).unwrap();
            (0..4).for_each(|_| {
                processor.play(&input, Moment::playing_at(0), Buffers::Apart, || 512).unwrap();
                view.idle();
            });
            let notes = instance.notes();
            let told = (notes.latency_changes(), notes.io_changes(), notes.reactivations());
            assert_eq!(told, (0, 0, 0), "{restarts:?}: latency, buses, activations");
            assert!(notes.strays().is_empty(), "{restarts:?}: {:?}", notes.strays());
            drawn(&mut socket, &instance, &view);
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
