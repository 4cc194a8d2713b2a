//! An editor is drawn in every kind of embedding, and closes quickly.

use super::{PATIENCE, Rig, activated, playing};
use crate::assert_quiet;
use crate::editor::{USUAL, with_display};
use crate::signals::{assert_bit_equal, sine};
use plumbline_tests::rig::embed::{Embedding, Socket};
use plumbline_tests::rig::vst3_raw::{Buffers, HostBehaviour, Instance, Resizing, RunLoops, View};
use plumbline_tests::rig::{Moment, threads};
use std::time::{Duration, Instant};

/// The longest time that closing an editor may block the host's main thread. People perceive 0.1 s as instant.
const MOST_CLOSING: Duration = Duration::from_millis(500);

/// Opens the editor of an instance in a socket, after asking for its size, as the format prescribes.
pub(super) fn opened(instance: &Instance, socket: &mut Socket) -> View {
    let mut view = instance.view().unwrap();
    view.size().unwrap();
    view.attach(socket.id()).unwrap();
    socket.shown();
    view
}

/// Waits until an editor is drawn.
pub(super) fn drawn(socket: &mut Socket, instance: &Instance, view: &View) {
    socket
        .wait_until_drawn(PATIENCE, || {
            instance.idle();
            view.idle();
        })
        .unwrap();
}

/// A size of the host's window in the format's type.
pub(super) fn signed(size: [u32; 2]) -> [i32; 2] {
    size.map(|side| i32::try_from(side).expect("screens are small"))
}

#[test]
fn vst3_editor_is_drawn_however_it_is_embedded() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        let mut openings = 0;
        for run_loops in [RunLoops::OfTheFrame, RunLoops::None] {
            for embedding in Embedding::ALL {
                let mut instance = rig.stereo(HostBehaviour { run_loops, ..HostBehaviour::default() });
                let _processor = activated(&mut instance, playing(512));
                for _ in 0..2 {
                    let mut socket = Socket::open(USUAL, embedding).unwrap();
                    let view = opened(&instance, &mut socket);
                    assert!(view.fits_x11());
                    assert_eq!(view.size().unwrap(), signed(USUAL));
                    drawn(&mut socket, &instance, &view);
                    openings += 1;
                }
                assert!(
                    instance.notes().strays().is_empty(),
                    "{embedding:?}: {:?}",
                    instance.notes().strays()
                );
            }
        }
        assert_eq!(openings, 2 * Embedding::ALL.len() * 2);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_host_shows_an_editor_whose_size_it_has_not_asked_for() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        let instance = rig.stereo(HostBehaviour::default());
        let before = instance.save().unwrap();
        let mut socket = Socket::open(USUAL, Embedding::Plain).unwrap();
        let mut view = instance.view().unwrap();
        view.attach(socket.id()).unwrap();
        socket.shown();
        drawn(&mut socket, &instance, &view);
        assert_eq!(socket.inner_size().unwrap(), Some(USUAL), "the size that the editor was saved with");
        assert!(instance.save().unwrap() == before, "the size in the project");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_editor_moves_with_the_audio_and_not_without() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        let mut instance = rig.stereo(HostBehaviour::default());
        let mut processor = activated(&mut instance, playing(512));
        let signal = sine(2, 4_800, 1.0 / 48.0, 0.5, 0.8);
        let mut socket = Socket::open(USUAL, Embedding::Redirecting(Duration::from_millis(120))).unwrap();
        let view = opened(&instance, &mut socket);
        drawn(&mut socket, &instance, &view);
        let at_rest = socket.picture().unwrap();
        let mut at = 0;
        socket
            .wait_for_picture(
                PATIENCE,
                || {
                    let out = processor.play(&signal, Moment::playing_at(at), Buffers::Same, || 512).unwrap();
                    assert_bit_equal(&out, &signal, "with an open editor");
                    at += 4_800;
                    instance.idle();
                    view.idle();
                },
                |picture| picture.differing(&at_rest) > 1_000,
            )
            .expect("the picture moves with the audio");
        assert_eq!(instance.notes().dirty(), 0, "looking and listening change nothing that is saved");
        assert_eq!(instance.notes().latency_changes(), 0);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_editor_takes_sizes_and_scales() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        for (factor, size) in [(1.0, USUAL), (1.25, USUAL.map(|side| side / 4 * 5)), (2.0, [1_600, 1_000])] {
            let mut instance = rig.stereo(HostBehaviour::default());
            let _processor = activated(&mut instance, playing(512));
            let mut socket = Socket::open(size, Embedding::Redirecting(Duration::from_millis(20))).unwrap();
            let mut view = instance.view().unwrap();
            // Hosts set the scale before they show the editor.
            view.scale(factor);
            view.size().unwrap();
            view.attach(socket.id()).unwrap();
            socket.shown();
            drawn(&mut socket, &instance, &view);
            assert!(view.can_resize());
            for wanted in [[900, 600], [1_200, 800], size] {
                let granted = view.constrained(signed(wanted));
                socket.resize(granted.map(i32::cast_unsigned)).unwrap();
                assert!(view.set_size(granted), "{factor}: {granted:?}");
                let start = Instant::now();
                while socket.inner_size().unwrap() != Some(granted.map(i32::cast_unsigned)) {
                    assert!(
                        start.elapsed() < PATIENCE,
                        "{factor}: {:?} for {granted:?}",
                        socket.inner_size()
                    );
                    socket.idle().unwrap();
                    instance.idle();
                    view.idle();
                    std::thread::sleep(Duration::from_millis(5));
                }
                assert_eq!(view.size().unwrap(), granted, "{factor}");
                drawn(&mut socket, &instance, &view);
            }
            // Limited to the smallest size.
            let least = view.constrained([10, 10]);
            assert!(least[0] >= 760 && least[1] >= 480, "{factor}: {least:?}");
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_host_refuses_or_rounds_the_sizes_that_the_editor_asks_for() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        let mut instance = rig.stereo(HostBehaviour::default());
        let _processor = activated(&mut instance, playing(512));
        for resizing in [Resizing::Refuses, Resizing::Rounds(16), Resizing::Accepts] {
            let mut socket = Socket::open(USUAL, Embedding::Plain).unwrap();
            let view = opened(&instance, &mut socket);
            view.resizing(resizing);
            drawn(&mut socket, &instance, &view);
            // The size that the host sets need not be the one it grants.
            let granted = view.constrained([1_001, 701]);
            view.set_size(granted);
            drawn(&mut socket, &instance, &view);
            let [width, height] = view.size().unwrap();
            assert!(width >= 760 && height >= 480, "{resizing:?}: {width} × {height}");
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_host_destroys_the_parent_first() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        let Some(at_rest) = threads::names() else { return };
        for embedding in Embedding::ALL {
            for removes_late in [false, true] {
                let mut instance = rig.stereo(HostBehaviour::default());
                let mut processor = activated(&mut instance, playing(512));
                let mut socket = Socket::open(USUAL, embedding).unwrap();
                let mut view = opened(&instance, &mut socket);
                drawn(&mut socket, &instance, &view);
                if !removes_late {
                    view.remove();
                }
                socket.destroy().unwrap();
                let signal = sine(2, 4_800, 1.0 / 48.0, 0.5, 0.8);
                let out = processor.play(&signal, Moment::playing_at(0), Buffers::Apart, || 512).unwrap();
                assert_bit_equal(&out, &signal, "while the editor goes");
                std::thread::sleep(Duration::from_millis(50));
                view.idle();
                let start = Instant::now();
                drop(view);
                assert!(start.elapsed() < MOST_CLOSING, "{embedding:?}: closing took {:?}", start.elapsed());
                // The next editor opens as the first did.
                let mut socket = Socket::open(USUAL, embedding).unwrap();
                let view = opened(&instance, &mut socket);
                drawn(&mut socket, &instance, &view);
            }
        }
        threads::wait_for(&at_rest).expect("every thread is joined with the last instance");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_host_takes_a_view_out_and_puts_it_into_another_window() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        let mut instance = rig.stereo(HostBehaviour::default());
        let _processor = activated(&mut instance, playing(512));
        let mut socket = Socket::open(USUAL, Embedding::Plain).unwrap();
        let mut view = opened(&instance, &mut socket);
        drawn(&mut socket, &instance, &view);
        for turn in 0..3 {
            view.remove();
            let mut next = Socket::open(USUAL, Embedding::Plain).unwrap();
            view.attach(next.id()).unwrap();
            next.shown();
            drop(std::mem::replace(&mut socket, next));
            socket
                .wait_until_drawn(PATIENCE, || view.idle())
                .unwrap_or_else(|error| panic!("turn {turn}: {error}"));
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_host_shows_two_editors_and_ends_an_instance_with_an_open_one() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        let Some(at_rest) = threads::names() else { return };
        let mut first = rig.stereo(HostBehaviour::default());
        let mut second = rig.mono(HostBehaviour::default());
        let _processors = (activated(&mut first, playing(512)), activated(&mut second, playing(64)));
        let mut sockets =
            [Socket::open(USUAL, Embedding::XEmbed).unwrap(), Socket::open(USUAL, Embedding::Plain).unwrap()];
        let views = (opened(&first, &mut sockets[0]), opened(&second, &mut sockets[1]));
        drawn(&mut sockets[0], &first, &views.0);
        drawn(&mut sockets[1], &second, &views.1);
        drop(views.0);
        drop(first);
        drawn(&mut sockets[1], &second, &views.1);
        // The view is dropped last, after everything else of the instance.
        second.deactivate();
        drop(views.1);
        drop(second);
        threads::wait_for(&at_rest).expect("every thread is joined with the last instance");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_editor_closes_quickly_at_any_moment() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        let mut instance = rig.stereo(HostBehaviour::default());
        let mut processor = activated(&mut instance, playing(512));
        let signal = sine(2, 4_800, 1.0 / 48.0, 0.5, 0.8);
        let mut longest = Duration::ZERO;
        let mut closings = 0;
        for embedding in
            [Embedding::Plain, Embedding::Redirecting(Duration::from_secs(3_600)), Embedding::XEmbed]
        {
            for pause_ms in [0, 3, 10, 40, 150, 700, 0, 40] {
                let mut socket = Socket::open([1_580, 980], embedding).unwrap();
                let view = opened(&instance, &mut socket);
                view.set_size([1_580, 980]);
                let start = Instant::now();
                while start.elapsed() < Duration::from_millis(pause_ms) {
                    processor.play(&signal, Moment::playing_at(0), Buffers::Apart, || 512).unwrap();
                    socket.idle().unwrap();
                    view.idle();
                    std::thread::sleep(Duration::from_millis(1));
                }
                let start = Instant::now();
                drop(view);
                let took = start.elapsed();
                assert!(took < MOST_CLOSING, "{embedding:?} after {pause_ms} ms: closing took {took:?}");
                longest = longest.max(took);
                closings += 1;
            }
        }
        assert_eq!(closings, 3 * 8);
        plumbline_tests::rig::child::say(&format!("an editor closes in {longest:?} at most"));
    }) else {
        return;
    };
    crate::show_words(&quiet, |_| true);
    assert_quiet(&crate::without_words(&quiet));
}
