//! How hosts embed an editor: the table of single behaviours. In all cases the editor is drawn.
#![cfg(target_os = "linux")]

use super::behaviour;
use super::rig::Rig;
use super::rng::Rng;
use super::window::{Behaviour, Editor, End, PATIENCE, PLAIN};
use crate::editor::{USUAL, with_display};
use crate::{STEREO, assert_quiet};
use plumbline_tests::rig::clap::{Label, Library};
use plumbline_tests::rig::embed::{Embedding, Sizes, Socket};
use plumbline_tests::rig::{bundles, threads};
use std::time::Duration;

/// Plays hosts with an editor one after the other in a separate process.
fn all(behaviours: impl IntoIterator<Item = Behaviour>) {
    let Some(quiet) = with_display(|| {
        let rig = Rig::load();
        let mut rng = Rng::new(2);
        let mut cases = 0;
        for behaviour in behaviours {
            rig.play(&behaviour::PLAIN, Some(&mut Editor::of(behaviour)), &mut rng);
            cases += 1;
        }
        assert!(cases > 1, "only {cases} hosts were played");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn an_editor_is_drawn_in_a_redirecting_socket_however_late_it_is_mapped() {
    let Some(quiet) = with_display(|| {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let mut openings = 0;
        // A frame requested before the window is mapped must not be the last.
        for late_ms in [0, 5, 50, 120, 300, 0, 50] {
            let embedding = Embedding::Redirecting(Duration::from_millis(late_ms));
            let mut socket = Socket::open(USUAL, embedding).unwrap();
            instance.open_editor(socket.id()).unwrap();
            let drawn = socket.wait_until_drawn(PATIENCE / 4, || instance.idle());
            assert!(drawn.is_ok(), "opening {openings}, mapped after {late_ms} ms: {}", drawn.err().unwrap());
            assert_eq!(socket.inner_size().unwrap(), Some(USUAL));
            instance.close_editor().unwrap();
            openings += 1;
        }
        assert_eq!(openings, 7);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn an_editor_is_drawn_in_any_kind_of_window() {
    all(Embedding::ALL.map(|embedding| Behaviour { embedding, ..PLAIN }));
}

#[test]
fn an_editor_that_is_hidden_and_shown_again_is_drawn_again() {
    all(Embedding::ALL.map(|embedding| Behaviour { embedding, hides: true, ..PLAIN }));
}

#[test]
fn two_editors_are_drawn_at_once() {
    all([Embedding::Plain, Embedding::XEmbed].map(|embedding| Behaviour { embedding, two: true, ..PLAIN }));
}

#[test]
fn an_editor_takes_the_size_that_a_host_makes_of_what_fits() {
    let sizes = [Sizes::Granted, Sizes::Refused, Sizes::Rounded(8)];
    let embeddings = [Embedding::Plain, Embedding::XEmbed];
    all(embeddings
        .into_iter()
        .flat_map(|embedding| sizes.map(|sizes| Behaviour { embedding, sizes, ..PLAIN })));
}

#[test]
fn an_editor_has_the_scale_that_the_host_tells() {
    let embeddings = [Embedding::Plain, Embedding::Redirecting(Duration::from_millis(50))];
    all(embeddings.into_iter().flat_map(|embedding| {
        [(1.25, true), (1.25, false), (2.0, true), (2.0, false)].map(|(scale, scale_first)| Behaviour {
            embedding,
            scale,
            scale_first,
            ..PLAIN
        })
    }));
}

#[test]
fn an_editor_may_end_in_any_way_and_opens_again() {
    all(End::ALL.map(|end| Behaviour { end, ..PLAIN }));
}

#[test]
fn an_editor_whose_parent_goes_first_leaves_no_thread_behind() {
    let Some(quiet) = with_display(|| {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let Some(at_rest) = threads::names() else { return };
        let mut closings = 0;
        for embedding in Embedding::ALL {
            let mut instance = library.create(STEREO, Label::default()).unwrap();
            let mut socket = Socket::open(USUAL, embedding).unwrap();
            instance.open_editor(socket.id()).unwrap();
            socket.shown();
            socket.wait_until_drawn(PATIENCE, || instance.idle()).unwrap();
            socket.destroy().unwrap();
            let start = std::time::Instant::now();
            instance.close_editor().unwrap();
            assert!(start.elapsed() < Duration::from_secs(1), "closing took {:?}", start.elapsed());
            drop(instance);
            threads::wait_for(&at_rest).expect("every thread is joined with the last instance");
            closings += 1;
        }
        assert_eq!(closings, Embedding::ALL.len());
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
