//! Saving and loading at different times, with host actions in between.

use super::{Rig, activated, playing};
use crate::assert_quiet;
use crate::parameters::HOLD;
use crate::signals::{arbitrary_bits, assert_bit_equal};
use plumbline_tests::rig::state::{memory_of, with_memory};
use plumbline_tests::rig::vst3_raw::{Block, Buffers, HostBehaviour, Instance, Processor};
use plumbline_tests::rig::{Moment, child};

/// The memory of a layer that its user has named.
const NAMED: &str =
    r#"{"version":1,"name":"Tower, west","role":"Foley","session":"D","window":[900,600],"marks":[7,40]}"#;
/// An empty block of a stereo bus.
const NONE: [&[f32]; 2] = [&[], &[]];

/// Whether *Hold* is on in a state.
fn holds(state: &[u8]) -> bool {
    let text = String::from_utf8_lossy(&state[8..]).into_owned();
    let whole: serde_json::Value = serde_json::from_str(&text).unwrap();
    whole["params"]["hold"]["bool"].as_bool().unwrap_or_else(|| panic!("no switch `hold` in {text}"))
}

/// Sets *Hold* as a host's generic editor does: in the controller, and in the next block.
fn set_hold(instance: &Instance, processor: &mut Processor, value: f64, frames: &[&[f32]]) {
    instance.set_value(HOLD, value);
    let changes = [(0, HOLD, value)];
    processor.process(frames, Block { changes: &changes, ..Block::at(Moment::stopped()) }).unwrap();
}

#[test]
fn vst3_host_saves_at_once_after_a_load_and_through_narrow_streams() {
    let Some(quiet) = child::run(&[], || {
        let rig = Rig::new();
        for stream_bytes in [usize::MAX, 4_096, 7, 1] {
            let behaviour = HostBehaviour { stream_bytes, ..HostBehaviour::default() };
            let first = rig.stereo(behaviour);
            first.load(&with_memory(NAMED)).unwrap();
            let saved = first.save().unwrap();
            let memory = memory_of(&saved).unwrap();
            assert_eq!((&memory["name"], &memory["role"]), (&"Tower, west".into(), &"Foley".into()));
            assert_eq!(memory["marks"], serde_json::json!([7, 40]));
            // A duplicate, of either class.
            for second in [rig.stereo(behaviour), rig.mono(behaviour)] {
                second.load(&saved).unwrap();
                assert!(second.save().unwrap() == saved, "{stream_bytes} bytes at once");
                second.load(&saved).unwrap();
                assert!(second.save().unwrap() == saved, "{stream_bytes} bytes at once, again");
                assert_eq!(second.notes().dirty(), 0, "a project that was just opened has nothing to save");
            }
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_host_loads_while_it_processes() {
    let Some(quiet) = child::run(&[], || {
        let rig = Rig::new();
        let mut instance = rig.stereo(HostBehaviour::default());
        let usual = instance.save().unwrap();
        let mut processor = activated(&mut instance, playing(64));
        let input = arbitrary_bits(2, 6_400);
        std::thread::scope(|scope| {
            let audio = scope.spawn(|| {
                for turn in 0..60 {
                    let out = processor.play(&input, Moment::playing_at(0), Buffers::Same, || 64).unwrap();
                    assert_bit_equal(&out, &input, &format!("turn {turn}"));
                    std::thread::sleep(std::time::Duration::from_millis(2));
                }
            });
            let mut loads = 0;
            while !audio.is_finished() {
                let state = if loads % 2 == 0 { with_memory(NAMED) } else { usual.clone() };
                instance.load(&state).unwrap();
                let name = &memory_of(&instance.save().unwrap()).unwrap()["name"];
                assert_eq!(name, if loads % 2 == 0 { "Tower, west" } else { "" });
                loads += 1;
            }
            assert!(loads > 5, "{loads}");
            audio.join().unwrap();
        });
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_host_sets_hold_in_blocks_with_frames_and_without_and_finds_it_again() {
    let Some(quiet) = child::run(&[], || {
        let rig = Rig::new();
        let input = arbitrary_bits(2, 64);
        let frames: Vec<&[f32]> = input.iter().map(Vec::as_slice).collect();
        for (case, frames) in [("with frames", frames.as_slice()), ("without", &NONE)] {
            let mut first = rig.stereo(HostBehaviour::default());
            let usual = first.save().unwrap();
            assert!(!holds(&usual));
            let mut processor = activated(&mut first, playing(64));
            set_hold(&first, &mut processor, 1.0, frames);
            let saved = first.save().unwrap();
            assert!(holds(&saved), "{case}: saved while it processes");
            first.deactivate();
            assert!(first.save().unwrap() == saved, "{case}: saved when it has stopped");

            let second = rig.stereo(HostBehaviour::default());
            second.load(&saved).unwrap();
            assert_eq!(second.value(HOLD), 1.0, "{case}: the controller's value after a load");
            assert!(second.notes().value_changes() > 0, "{case}: a host that caches values must reread them");
            assert!(second.save().unwrap() == saved, "{case}");

            // And back, into an instance with *Hold* on.
            second.load(&usual).unwrap();
            assert_eq!(second.value(HOLD), 0.0, "{case}");
            assert!(!holds(&second.save().unwrap()), "{case}");
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_host_sets_a_switch_to_a_fraction_and_finds_a_switch() {
    let Some(quiet) = child::run(&[], || {
        let rig = Rig::new();
        let parameters = rig.stereo(HostBehaviour::default()).parameters();
        assert!(parameters.iter().all(|parameter| parameter.steps == 1), "switches: {parameters:?}");
        for (fraction, switched) in [(0.0, 0.0), (0.3, 0.0), (0.49, 0.0), (0.51, 1.0), (0.7, 1.0), (1.0, 1.0)]
        {
            let mut first = rig.stereo(HostBehaviour::default());
            let mut processor = activated(&mut first, playing(64));
            set_hold(&first, &mut processor, fraction, &NONE);
            let saved = first.save().unwrap();
            assert_eq!(holds(&saved), switched == 1.0, "{fraction}");
            let second = rig.stereo(HostBehaviour::default());
            second.load(&saved).unwrap();
            assert_eq!(second.value(HOLD), switched, "{fraction}: a switch is at one of its ends");
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_host_loads_before_it_listens() {
    let Some(quiet) = child::run(&[], || {
        let rig = Rig::new();
        // Not with *Hold* on: the wrapper reports a changed value through a handler that was never set.
        let state = with_memory(r#"{"version":1,"name":"Tower, west","role":"Foley","marks":[7,40]}"#);
        let kept = |listens| {
            let instance = rig.stereo(HostBehaviour { listens, ..HostBehaviour::default() });
            instance.load(&state).unwrap();
            instance.save().unwrap()
        };
        assert!(kept(false) == kept(true), "the same state with and without a handler");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
