//! Hosts that scan a plug-in in a separate process, and kill that process.

use super::rig::Rig;
use super::rng::Rng;
use crate::session_rig::{PATIENCE, wait_until};
use crate::{MONO, STEREO, assert_quiet};
use plumbline_tests::rig::child::{self, Peer};
use plumbline_tests::rig::clap::{Label, Library};
use plumbline_tests::rig::{board, bundles, threads};
use std::time::Duration;

/// Scans the plug-in until the process is killed: classes, and instances with everything that a host queries.
fn scan() {
    let path = bundles::clap().unwrap();
    child::say("begun");
    loop {
        let library = Library::load(&path).unwrap();
        for class in library.classes().unwrap() {
            let mut instance = library.create(&class.id, Label::default()).unwrap();
            instance.layouts().unwrap();
            instance.parameters().unwrap();
            instance.remote_pages().unwrap();
            let state = instance.save().unwrap();
            instance.load(&state).unwrap();
            let processor = instance.activate(44_100.0, 512).unwrap();
            instance.deactivate(processor);
        }
    }
}

#[test]
fn a_scan_that_is_killed_leaves_nothing_on_the_board() {
    let Some(quiet) = child::run(&[], || {
        if child::part().is_some() {
            return scan();
        }
        let rig = Rig::load();
        let mut rng = Rng::new(3);
        let mut kills = 0;
        for _ in 0..8 {
            let mut peer = Peer::start("scan");
            assert_eq!(peer.word(), "begun");
            std::thread::sleep(Duration::from_millis(10 + rng.below(90) as u64));
            peer.kill();
            // The next layer is alone, and removes the files of the dead process.
            let mut instance = rig.library.create(STEREO, Label::default()).unwrap();
            rig.port.watch(0, true).unwrap();
            let processor = instance.activate(48_000.0, 512).unwrap();
            rig.wait(0, "the session of one", |readings| readings.view.session.layers.len() == 1);
            // A file whose owner died while making it is checked twice, half a second apart.
            wait_until("only its own file on the board", PATIENCE, || board::files().unwrap().len() == 1);
            instance.deactivate(processor);
            drop(instance);
            rig.is_empty();
            kills += 1;
        }
        assert_eq!(kills, 8);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn listing_the_classes_starts_nothing() {
    let Some(quiet) = child::run(&[], || {
        let Some(at_rest) = threads::names() else { return };
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let classes = library.classes().unwrap();
        assert_eq!(classes.iter().map(|class| class.id.as_str()).collect::<Vec<_>>(), [STEREO, MONO]);
        assert_eq!(board::files().unwrap_or_default(), Vec::<String>::new());
        assert_eq!(threads::names().unwrap(), at_rest);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
