//! Hosts as they are: small ones, each with one behaviour that real hosts have, and then with many at once, at random.
//!
//! Whatever the host does: the sound is equal bit for bit, nothing dies, an editor that is shown is drawn, the state is
//! kept, what is read is right, and nothing is left on the board or running.
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

/// Plays hosts through, one after the other, in a process of its own.
fn all(behaviours: impl IntoIterator<Item = Behaviour>) {
    let Some(quiet) = child::run(&[], || {
        let rig = Rig::load();
        let mut rng = Rng::new(1);
        let mut cases = 0;
        for behaviour in behaviours {
            rig.play(&behaviour, None, &mut rng);
            cases += 1;
        }
        assert!(cases > 1, "{cases} hosts are no table");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
