//! Behaviours found in hosts: small hosts, first with one behaviour each, then with random combinations.
//!
//! In all cases the sound is bit-exact, nothing crashes, a shown editor is drawn, the state is kept, the readings are
//! right, and no board file or thread is left.
#![cfg(target_os = "linux")]

mod behaviour;
mod editors;
mod keys;
mod playback;
mod random;
mod rig;
mod rng;
mod scans;
mod single;
mod threads;
mod window;

use crate::assert_quiet;
use behaviour::Behaviour;
use plumbline_tests::rig::child;
use rig::Rig;
use rng::Rng;

/// Plays hosts one after the other in a separate process.
fn all(behaviours: impl IntoIterator<Item = Behaviour>) {
    let Some(quiet) = child::run(&[], || {
        let rig = Rig::load();
        let mut rng = Rng::new(1);
        let mut cases = 0;
        for behaviour in behaviours {
            rig.play(&behaviour, None, &mut rng);
            cases += 1;
        }
        assert!(cases > 1, "only {cases} hosts were played");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
