//! Hosts that call from a thread where the format forbids it: nothing crashes, and the editor opens again.
#![cfg(target_os = "linux")]

use super::window::PATIENCE;
use crate::editor::{USUAL, with_display};
use crate::signals::{arbitrary_bits, assert_bit_equal};
use crate::{STEREO, assert_quiet};
use plumbline_programme::Trial;
use plumbline_tests::rig::clap::{Foreign, Instance, Label, Library};
use plumbline_tests::rig::embed::{Embedding, Socket};
use plumbline_tests::rig::readings::Port;
use plumbline_tests::rig::{Moment, bundles};

/// Opens the editor and waits until it is drawn.
fn shown(instance: &mut Instance) -> Socket {
    let mut socket = Socket::open(USUAL, Embedding::Plain).unwrap();
    instance.open_editor(socket.id()).unwrap();
    socket.wait_until_drawn(PATIENCE, || instance.idle()).unwrap();
    socket
}

/// Makes calls from another thread while the editor is open; then the editor closes, opens and is drawn.
fn called(calls: impl FnOnce(&Foreign) + Send) {
    let Some(quiet) = with_display(|| {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let mut processor = instance.activate(48_000.0, 512).unwrap();
        let socket = shown(&mut instance);
        instance.from_another_thread(calls).unwrap();
        instance.idle();
        instance.close_editor().unwrap();
        drop(socket);
        let socket = shown(&mut instance);
        let input = arbitrary_bits(2, 2_000);
        let out = processor.play(&input, Moment::playing_at(0)).unwrap();
        assert_bit_equal(&out, &input, "after calls from another thread");
        instance.close_editor().unwrap();
        drop(socket);
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn a_host_hides_and_shows_the_editor_from_another_thread() {
    called(|gui| {
        gui.hide();
        gui.show();
    });
}

#[test]
fn a_host_asks_and_sets_the_size_from_another_thread() {
    called(|gui| {
        // The editor may also not answer.
        assert!(gui.size().is_none_or(|size| size == USUAL), "{:?}", gui.size());
        gui.set_size([1_000, 700]);
        gui.set_scale(1.25);
    });
}

#[test]
fn a_host_destroys_the_editor_from_another_thread() {
    called(|gui| {
        gui.hide();
        gui.destroy();
        // Calls after the end are allowed.
        gui.hide();
        gui.destroy();
    });
}

#[test]
fn a_host_that_closes_the_editor_within_a_request_for_a_restart_lives() {
    let Some(quiet) = with_display(|| {
        let path = bundles::clap().unwrap();
        let library = Library::load(&path).unwrap();
        let port = Port::open(&path).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        instance.serve_restarts_at_once().unwrap();
        let processor = instance.activate(48_000.0, 512).unwrap();
        let socket = shown(&mut instance);
        // A fractional delay, from a thread that is not the host's, such as the window's own.
        let trial = Trial { delay_secs: [10.5 / 48_000.0, 0.0], ..Trial::default() };
        std::thread::scope(|scope| {
            scope.spawn(|| port.try_out(0, Some(trial)).unwrap());
        });
        instance.idle();
        instance.close_editor().unwrap();
        drop(socket);
        instance.deactivate(processor);
        port.try_out(0, None).unwrap();
        let mut processor = instance.activate(48_000.0, 512).unwrap();
        let socket = shown(&mut instance);
        let input = arbitrary_bits(2, 2_000);
        let out = processor.play(&input, Moment::playing_at(0)).unwrap();
        assert_bit_equal(&out, &input, "after the restart");
        instance.close_editor().unwrap();
        drop(socket);
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
