//! Hosts as they are: small ones, each with one habit that real hosts have, and then with many at once, at random.
//!
//! Whatever the host does: the sound is equal bit for bit, nothing dies, an editor that is shown is drawn, the state is
//! kept, what is read is right, and nothing is left on the board or running.
#![cfg(target_os = "linux")]

mod draw;
mod editors;
mod keys;
mod manner;
mod random;
mod scans;
mod single;
mod stage;
mod tape;
mod threads;
mod window;

use crate::assert_quiet;
use draw::Draw;
use manner::Manner;
use plumbline_tests::rig::child;
use stage::Stage;

/// Plays hosts through, one after the other, in a process of its own.
fn all(manners: impl IntoIterator<Item = Manner>) {
    let Some(quiet) = child::run(&[], || {
        let stage = Stage::set();
        let mut draw = Draw::new(1);
        let mut cases = 0;
        for manner in manners {
            stage.play(&manner, None, &mut draw);
            cases += 1;
        }
        assert!(cases > 1, "{cases} hosts are no table");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
