//! The track's name and colour, which a host sets at different times.

use super::{Rig, activated, playing, until};
use crate::assert_quiet;
use crate::signals::sine;
use plumbline_programme::Identity;
use plumbline_tests::rig::vst3_raw::{Buffers, HostBehaviour, Instance, Processor};
use plumbline_tests::rig::{Moment, child};

/// The colour of the stone.
const SAND: [u8; 3] = [200, 180, 120];

/// The layer's identity once it meets `wanted`.
fn identity(
    rig: &Rig,
    instance: &Instance,
    processor: &mut Processor,
    what: &str,
    wanted: impl Fn(&Identity) -> bool,
) {
    let signal = sine(2, 4_800, 1.0 / 48.0, 0.5, 0.8);
    let mut at = 0;
    until(
        what,
        || {
            processor.play(&signal, Moment::playing_at(at), Buffers::Apart, || 512).unwrap();
            at += 4_800;
            instance.idle();
        },
        || {
            let session = rig.port.glimpse(0).unwrap().session;
            session.layers.iter().find(|line| line.own).is_some_and(|line| wanted(&line.identity))
        },
    );
}

#[test]
fn vst3_host_names_its_tracks_before_later_differently_or_not() {
    let Some(quiet) = child::run(&[], || {
        let rig = Rig::new();
        let mut instance = rig.stereo(HostBehaviour::default());
        instance.label(Some("Tower, west"), Some(SAND));
        rig.port.watch(0, true).unwrap();
        let mut processor = activated(&mut instance, playing(512));
        identity(&rig, &instance, &mut processor, "the name given before it is activated", |told| {
            told.name == "Tower, west" && told.colour == Some(SAND)
        });
        // A removed colour stays: the framework keeps absent values as they were.
        instance.label(Some("Scaffold and rope"), None);
        identity(&rig, &instance, &mut processor, "another name", |told| told.name == "Scaffold and rope");
        // Longer than the longest name kept.
        instance.label(Some(&"Belfry stair ".repeat(15)), Some([1, 2, 3]));
        identity(&rig, &instance, &mut processor, "a name that is too long", |told| {
            told.name.starts_with("Belfry stair") && told.name.len() <= 64 && told.colour == Some([1, 2, 3])
        });
        // Some hosts give an unnamed track an empty name.
        instance.label(Some(""), None);
        identity(&rig, &instance, &mut processor, "an empty name", |told| !told.name.contains("Belfry"));
        // The wrapper converts the name to ASCII.
        instance.label(Some("Läufer"), None);
        identity(&rig, &instance, &mut processor, "a name with an umlaut", |told| {
            told.name.starts_with('L') && told.name.ends_with("ufer")
        });
        instance.label(None, None);
        for turn in 0..200 {
            let name = format!("Bell {turn}");
            instance.label(Some(&name), Some([0, 0, turn]));
        }
        identity(&rig, &instance, &mut processor, "the last of many names", |told| {
            told.name == "Bell 199" && told.colour == Some([0, 0, 199])
        });
        assert_eq!(instance.notes().dirty(), 0, "a track's name is the host's, and nothing to save");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
