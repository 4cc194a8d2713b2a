//! One combination of habits, drawn from a number.

use crate::{BLOCKS, RATES_HZ};
use plumbline_tests::rig::embed::Habit;
use plumbline_tests::rig::vst3_raw::{Buffers, Manners, Resizing, Restarts, RunLoops, Setup};
use plumbline_tests::signal::Noise;
use std::time::Duration;

/// What a host tells of the song's position.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Position {
    None,
    Stands,
    Runs,
    Loops,
    JumpsByOne,
}

/// In which thread a host processes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Threads {
    Main,
    Other,
}

/// When a host tells a track's name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Labels {
    None,
    Early,
    Late,
    Changing,
}

/// How a host holds an editor.
#[derive(Clone, Copy, Debug)]
pub(super) struct Held {
    pub(super) habit: Habit,
    pub(super) resizing: Resizing,
    pub(super) scaled: bool,
}

/// A host with a habit of each kind.
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
    pub(super) manners: Manners,
    pub(super) asks_other_layout: bool,
    pub(super) loads_first: bool,
    pub(super) freezes: bool,
    pub(super) editor: Option<Held>,
    pub(super) parent_first: bool,
}

/// Draws from a number.
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
    /// The combination of a number, always the same.
    pub(super) fn of(seed: u64) -> Self {
        let mut draw = Drawer(Noise::new(seed));
        let setup = Setup {
            rate_hz: draw.one_of(&RATES_HZ),
            largest_block: if draw.one_in(4) { 8_192 } else { draw.one_of(&BLOCKS) },
            offline: draw.one_in(3),
        };
        let manners = Manners {
            restarts: draw.one_of(&[Restarts::AtOnce, Restarts::Later, Restarts::Twice, Restarts::Never]),
            asks_inactive: draw.one_in(2),
            listens: true,
            second_handler: !draw.one_in(4),
            run_loops: draw.one_of(&[RunLoops::OfTheFrame, RunLoops::OfTheFrame, RunLoops::None]),
            stream_bytes: draw.one_of(&[usize::MAX, 4_096, 3]),
        };
        let editor = (!draw.one_in(3)).then(|| Held {
            habit: draw.one_of(&[
                Habit::Plain,
                Habit::Redirecting(Duration::from_millis(1)),
                Habit::Redirecting(Duration::from_millis(90)),
                Habit::XEmbed,
                Habit::ShownLate(Duration::from_millis(60)),
                Habit::MovedLate(Duration::from_millis(60)),
            ]),
            resizing: draw.one_of(&[Resizing::Accepts, Resizing::Refuses, Resizing::Rounds(16)]),
            scaled: draw.one_in(4),
        });
        Self {
            seed,
            channels: draw.one_of(&[2, 2, 1]),
            setup,
            varies: draw.one_in(2),
            buffers: draw.one_of(&[Buffers::Apart, Buffers::Same, Buffers::Odd]),
            position: draw.one_of(&[
                Position::None,
                Position::Stands,
                Position::Runs,
                Position::Loops,
                Position::JumpsByOne,
            ]),
            threads: draw.one_of(&[Threads::Main, Threads::Other]),
            labels: draw.one_of(&[Labels::None, Labels::Early, Labels::Late, Labels::Changing]),
            manners,
            asks_other_layout: draw.one_in(3),
            loads_first: draw.one_in(2),
            freezes: draw.one_in(3),
            editor,
            parent_first: draw.one_in(3),
        }
    }
}
