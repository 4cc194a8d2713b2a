//! Keys: unused ones return to the host, and those that change a setting mark the project as changed.

use super::editor::{drawn, opened};
use super::{PATIENCE, Rig, activated, playing, until};
use crate::assert_quiet;
use crate::editor::{USUAL, with_display};
use plumbline_tests::rig::display::Picture;
use plumbline_tests::rig::embed::{Embedding, Socket};
use plumbline_tests::rig::state::memory_of;
use plumbline_tests::rig::vst3_raw::{HostBehaviour, Instance, RunLoops, View};
use std::time::{Duration, Instant};

/// How long to wait before a missing event counts as missing.
const QUIET: Duration = Duration::from_millis(400);

/// The symbol of Enter (X11 protocol, appendix A), as the character with that number.
const ENTER: char = '\u{ff0d}';

/// A pixel of the name field in the panel that the key N opens, in an editor of the usual size.
const NAME_FIELD: [i16; 2] = [1_035, 101];

/// Waits until the picture differs from an earlier one in at least `pixels` pixels.
fn changed(socket: &mut Socket, view: &View, before: &Picture, pixels: usize) {
    socket.wait_for_picture(PATIENCE, || view.idle(), |now| now.differing(before) >= pixels).unwrap();
}

/// Presses and releases the first button at a pixel, at the speed of a hand.
fn click(socket: &mut Socket, instance: &Instance, view: &View, at: [i16; 2]) {
    socket.point(at).unwrap();
    for down in [true, false] {
        go_round(socket, instance, view, Duration::from_millis(100));
        socket.button(down).unwrap();
    }
    go_round(socket, instance, view, QUIET);
}

/// Runs the host's loops for a time.
fn go_round(socket: &mut Socket, instance: &Instance, view: &View, time: Duration) {
    let start = Instant::now();
    while start.elapsed() < time {
        socket.idle().unwrap();
        instance.idle();
        view.idle();
        std::thread::sleep(Duration::from_millis(5));
    }
}

#[test]
fn vst3_keys_without_use_reach_the_hosts_window() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        for embedding in Embedding::ALL {
            let mut instance = rig.stereo(HostBehaviour::default());
            let _processor = activated(&mut instance, playing(512));
            let mut socket = Socket::open(USUAL, embedding).unwrap();
            let view = opened(&instance, &mut socket);
            drawn(&mut socket, &instance, &view);
            socket.focus().unwrap();
            go_round(&mut socket, &instance, &view, QUIET);
            socket.keys().unwrap();
            socket.press(' ').unwrap();
            let (start, mut came) = (Instant::now(), Vec::new());
            while came.len() < 2 && start.elapsed() < PATIENCE {
                view.idle();
                came.extend(socket.keys().unwrap());
                std::thread::sleep(Duration::from_millis(5));
            }
            go_round(&mut socket, &instance, &view, QUIET);
            came.extend(socket.keys().unwrap());
            let space =
                |down| came.iter().filter(|key| key.character == Some(' ') && key.down == down).count();
            assert_eq!((space(true), space(false)), (1, 1), "{embedding:?}: {came:?}");
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_keys_that_the_editor_uses_make_the_project_dirty_and_do_not_come_back() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        for run_loops in [RunLoops::OfTheFrame, RunLoops::None] {
            let mut instance = rig.stereo(HostBehaviour { run_loops, ..HostBehaviour::default() });
            let _processor = activated(&mut instance, playing(512));
            let mut socket = Socket::open(USUAL, Embedding::Plain).unwrap();
            let view = opened(&instance, &mut socket);
            drawn(&mut socket, &instance, &view);
            socket.focus().unwrap();
            go_round(&mut socket, &instance, &view, QUIET);
            socket.keys().unwrap();
            let before = instance.save().unwrap();
            assert_eq!(instance.notes().dirty(), 0, "nothing was changed yet");
            // The project keeps the theme.
            socket.press('t').unwrap();
            until(
                "a state with the other theme",
                || {
                    socket.idle().unwrap();
                    instance.idle();
                    view.idle();
                },
                || instance.save().unwrap() != before,
            );
            go_round(&mut socket, &instance, &view, QUIET);
            assert_eq!(socket.keys().unwrap(), [], "a key that was used");
            assert!(instance.notes().strays().is_empty(), "{run_loops:?}: {:?}", instance.notes().strays());
            // Without a run loop, no plug-in code runs on the main thread until the host calls it.
            if run_loops == RunLoops::OfTheFrame {
                assert!(instance.notes().dirty() > 0, "the host has to hear that there is something to save");
            }
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_a_name_that_is_typed_is_kept_and_told_and_its_keys_stay() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        let mut instance = rig.stereo(HostBehaviour::default());
        let _processor = activated(&mut instance, playing(512));
        let mut socket = Socket::open(USUAL, Embedding::Plain).unwrap();
        let view = opened(&instance, &mut socket);
        drawn(&mut socket, &instance, &view);
        socket.focus().unwrap();
        go_round(&mut socket, &instance, &view, QUIET);
        let before = socket.picture().unwrap();
        socket.press('n').unwrap();
        // A panel changes more pixels than the pointer.
        changed(&mut socket, &view, &before, 10_000);
        socket.keys().unwrap();
        click(&mut socket, &instance, &view, NAME_FIELD);
        for character in "rope 1".chars() {
            let before = socket.picture().unwrap();
            socket.press(character).unwrap();
            changed(&mut socket, &view, &before, 1);
        }
        socket.press(ENTER).unwrap();
        until(
            "a name in the state",
            || {
                socket.idle().unwrap();
                view.idle();
            },
            || memory_of(&instance.save().unwrap()).unwrap()["name"] != "",
        );
        go_round(&mut socket, &instance, &view, QUIET);
        assert_eq!(memory_of(&instance.save().unwrap()).unwrap()["name"], "rope 1");
        assert_eq!(socket.keys().unwrap(), [], "keys that were typed into a field");
        assert!(instance.notes().dirty() > 0, "the host has to hear that there is something to save");
        assert!(instance.notes().strays().is_empty(), "{:?}", instance.notes().strays());
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
