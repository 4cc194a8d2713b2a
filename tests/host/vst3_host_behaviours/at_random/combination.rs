//! One combination of behaviours, derived from a number.

use crate::{BLOCKS, RATES_HZ};
use plumbline_tests::rig::embed::Embedding;
use plumbline_tests::rig::vst3_raw::{Buffers, HostBehaviour, Resizing, Restarts, RunLoops, Setup};
use plumbline_tests::signal::Noise;
use std::time::Duration;

/// The song position that a host reports.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Position {
    None,
    Stands,
    Runs,
    Loops,
    JumpsByOne,
}

/// The threads on which a host processes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Threads {
    Main,
    Other,
}

/// The moment when a host sets a track's name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Labels {
    None,
    Early,
    Late,
    Changing,
}

/// The way in which a host embeds an editor.
#[derive(Clone, Copy, Debug)]
pub(super) struct Held {
    pub(super) embedding: Embedding,
    pub(super) resizing: Resizing,
    pub(super) scaled: bool,
}

/// A host with a behaviour of each kind.
#[derive(Clone, Copy, Debug)]
pub(super) struct Combination {
    pub(super) seed: u64,
    pub(super) channels: usize,
    pub(super) setup: Setup,
    pub(super) varies: bool,
    pub(super) buffers: Buffers,
    pub(super) position: Position,
    pub(super) threads: Threads,
    pub(super) labels: Labels,
    pub(super) behaviour: HostBehaviour,
    pub(super) asks_other_layout: bool,
    pub(super) loads_first: bool,
    pub(super) freezes: bool,
    pub(super) editor: Option<Held>,
    pub(super) parent_first: bool,
}

/// A random generator with a number as seed.
struct Drawer(Noise);

impl Drawer {
    fn one_of<T: Copy>(&mut self, all: &[T]) -> T {
        let place = self.0.bits() % all.len() as u64;
        all[usize::try_from(place).expect("a place in a list")]
    }

    fn one_in(&mut self, count: u64) -> bool {
        self.0.bits().is_multiple_of(count)
    }
}

impl Combination {
    /// The combination of a number.
    pub(super) fn of(seed: u64) -> Self {
        let mut rng = Drawer(Noise::new(seed));
        let setup = Setup {
            rate_hz: rng.one_of(&RATES_HZ),
            largest_block: if rng.one_in(4) { 8_192 } else { rng.one_of(&BLOCKS) },
            offline: rng.one_in(3),
        };
        let behaviour = HostBehaviour {
            restarts: rng.one_of(&[Restarts::AtOnce, Restarts::Later, Restarts::Twice, Restarts::Never]),
            asks_inactive: rng.one_in(2),
            listens: true,
            second_handler: !rng.one_in(4),
            run_loops: rng.one_of(&[RunLoops::OfTheFrame, RunLoops::OfTheFrame, RunLoops::None]),
            stream_bytes: rng.one_of(&[usize::MAX, 4_096, 3]),
        };
        let editor = (!rng.one_in(3)).then(|| Held {
            embedding: rng.one_of(&[
                Embedding::Plain,
                Embedding::Redirecting(Duration::from_millis(1)),
                Embedding::Redirecting(Duration::from_millis(90)),
                Embedding::XEmbed,
                Embedding::ShownLate(Duration::from_millis(60)),
                Embedding::MovedLate(Duration::from_millis(60)),
            ]),
            resizing: rng.one_of(&[Resizing::Accepts, Resizing::Refuses, Resizing::Rounds(16)]),
            scaled: rng.one_in(4),
        });
        Self {
            seed,
            channels: rng.one_of(&[2, 2, 1]),
            setup,
            varies: rng.one_in(2),
            buffers: rng.one_of(&[Buffers::Apart, Buffers::Same, Buffers::Odd]),
            position: rng.one_of(&[
                Position::None,
                Position::Stands,
                Position::Runs,
                Position::Loops,
                Position::JumpsByOne,
            ]),
            threads: rng.one_of(&[Threads::Main, Threads::Other]),
            labels: rng.one_of(&[Labels::None, Labels::Early, Labels::Late, Labels::Changing]),
            behaviour,
            asks_other_layout: rng.one_in(3),
            loads_first: rng.one_in(2),
            freezes: rng.one_in(3),
            editor,
            parent_first: rng.one_in(3),
        }
    }
}
