//! Keys in the focused editor: it keeps those that it uses; the others return to the host's window.
#![cfg(target_os = "linux")]

use super::window::PATIENCE;
use crate::editor::{USUAL, with_display};
use crate::{STEREO, assert_quiet};
use plumbline_tests::rig::bundles;
use plumbline_tests::rig::clap::{Instance, Label, Library};
use plumbline_tests::rig::embed::{Embedding, Key, Socket};
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

/// Keys that the screen uses: its pages, hold twice, and the theme twice.
const USED: [char; 9] = ['2', '3', '4', '5', '1', 'h', 'h', 't', 't'];
/// Keys that it does not use, the transport's first.
const UNUSED: [char; 6] = [' ', 'q', 'w', 'j', 'l', '9'];
/// Much longer than a passed-on key takes.
const LONG: Duration = Duration::from_millis(500);

/// Opens the editor in a window of one kind, and gives it the focus.
fn focused(instance: &mut Instance, embedding: Embedding) -> Socket {
    let mut socket = Socket::open(USUAL, embedding).unwrap();
    instance.open_editor(socket.id()).unwrap();
    socket.shown();
    socket.wait_until_drawn(PATIENCE, || instance.idle()).unwrap();
    socket.focus().unwrap();
    // Earlier keys, from before the editor had the focus, are the host's own.
    come(&mut socket, instance, LONG, |_| false);
    socket
}

/// The keys that reach the host's windows, until there are enough or time is up.
fn come(
    socket: &mut Socket,
    instance: &mut Instance,
    patience: Duration,
    enough: impl Fn(&[Key]) -> bool,
) -> Vec<Key> {
    let (mut all, start) = (Vec::new(), Instant::now());
    while start.elapsed() < patience && !enough(&all) {
        all.extend(socket.keys().unwrap());
        instance.idle();
        std::thread::sleep(Duration::from_millis(5));
    }
    all
}

#[test]
fn keys_that_the_editor_uses_stay_and_others_come_back_to_the_host() {
    let Some(quiet) = with_display(|| {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let mut cases = 0;
        for embedding in Embedding::ALL {
            let mut socket = focused(&mut instance, embedding);
            for key in USED {
                socket.press(key).unwrap();
            }
            let back = come(&mut socket, &mut instance, LONG, |_| false);
            assert_eq!(back, [], "{embedding:?}: keys that the editor uses came back");
            // A project keeps the peak hold, so the host is notified, on its main thread; it does not keep the page.
            let told = |instance: &Instance| instance.notes().dirty.load(Ordering::Acquire);
            for (key, tells) in [('p', 1), ('2', 0), ('1', 0), ('p', 1)] {
                let before = told(&instance);
                socket.press(key).unwrap();
                come(&mut socket, &mut instance, LONG, |_| false);
                assert_eq!(told(&instance) - before, tells, "{embedding:?}: {key}");
            }
            for key in UNUSED {
                socket.press(key).unwrap();
                let ups_and_downs = come(&mut socket, &mut instance, PATIENCE / 4, |keys| keys.len() >= 2);
                let expected = [true, false].map(|down| Key { character: Some(key), down, sent: true });
                assert_eq!(ups_and_downs, expected, "{embedding:?}: {key:?}");
            }
            // Each key returns only once.
            let more = come(&mut socket, &mut instance, LONG, |_| false);
            assert_eq!(more, [], "{embedding:?}: more keys came back than were pressed");
            instance.close_editor().unwrap();
            cases += 1;
        }
        assert_eq!(cases, Embedding::ALL.len());
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
