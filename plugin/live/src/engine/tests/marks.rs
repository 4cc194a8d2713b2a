//! The law of marks: nothing that the user has made is ever lost, wherever the worker is in its rounds, whatever fails
//! there, and even if there is no worker.

use super::*;
use crate::fault::{arm, disarm};
use crate::{Format, Layer};
use proptest::prelude::*;
use std::collections::BTreeSet;

/// What the user, the host and the worker do.
#[derive(Clone, Debug)]
enum Act {
    /// A project is loaded.
    Load(Vec<i64>),
    /// Marks come back with an undo.
    Put(Vec<i64>),
    Unmark(i64),
    /// A mark at the latest sample.
    Mark,
    Reset,
    /// The host activates the plug-in at this rate.
    Activate(u32),
    /// 64 frames at the start of this tenth of the song.
    Play(i64),
    /// A round of the worker.
    Round,
    /// A round that fails halfway through the commands.
    FailingRound,
    /// The engine is made anew.
    Renewal,
}

/// What the marks must be: the acts about marks since the start, and where the worker is.
#[derive(Default)]
struct Model {
    /// Acts about marks, in order. A round turns each [`Act::Mark`] into an [`Act::Put`] at the tenth it found.
    done: Vec<Act>,
    /// Tenths played and not yet measured, and the latest one measured.
    waiting: Vec<i64>,
    latest: Option<i64>,
    /// Whether anything was asked that the worker has not taken.
    asked: bool,
    /// Rounds in a row that have failed.
    failures: u32,
}

impl Model {
    fn act(&mut self, act: &Act, is_open: bool) {
        match act {
            Act::Load(_) | Act::Put(_) | Act::Unmark(_) | Act::Mark => self.done.push(act.clone()),
            Act::Play(tenth) if is_open => self.waiting.push(*tenth),
            Act::FailingRound if self.asked => {
                // It takes neither commands nor audio; the next round tries again, up to three times.
                self.failures += 1;
                self.asked = self.failures <= 3;
            }
            Act::Round | Act::FailingRound => {
                // The audio of this round comes after the commands.
                for act in self.done.iter_mut().filter(|_| self.asked) {
                    if matches!(act, Act::Mark) {
                        *act = Act::Put(self.latest.into_iter().collect());
                    }
                }
                self.latest = self.waiting.drain(..).next_back().or(self.latest);
                (self.asked, self.failures) = (false, 0);
            }
            _ => {}
        }
        match act {
            Act::Play(_) | Act::Round | Act::FailingRound => {}
            Act::Renewal => (self.asked, self.failures) = (true, 0),
            _ => self.asked = true,
        }
    }

    fn marks(&self) -> Vec<Mark> {
        let mut marks = BTreeSet::new();
        for act in &self.done {
            match act {
                Act::Load(new) => marks = new.iter().copied().collect(),
                Act::Put(new) => marks.extend(new),
                Act::Unmark(mark) => drop(marks.remove(mark)),
                _ => {}
            }
        }
        marks.into_iter().map(song_mark).collect()
    }
}

fn song_mark(index: i64) -> Mark {
    Mark { grid: Grid::Song, index }
}

fn song_marks(indices: &[i64]) -> Vec<Mark> {
    indices.iter().copied().map(song_mark).collect()
}

/// A layer, and the engine that a worker would drive.
struct Driven {
    layer: Arc<Layer>,
    engine: Option<LayerEngine<Listener>>,
    tap: Option<(u32, Tap)>,
    now: Duration,
}

impl Driven {
    fn new(has_worker: bool) -> Self {
        let shared = Arc::new(SharedState::new());
        let layer = Layer::of(Arc::clone(&shared), Arc::default());
        let engine = has_worker.then(|| LayerEngine::new(shared, alone()));
        Self { layer, engine, tap: None, now: Duration::from_secs(10) }
    }

    fn act(&mut self, act: &Act) {
        match act {
            Act::Load(marks) => self.layer.send(Command::ReplaceMarks(song_marks(marks))),
            Act::Put(marks) => self.layer.send(Command::PutMarks(song_marks(marks))),
            Act::Unmark(mark) => self.layer.send(Command::Unmark(song_mark(*mark))),
            Act::Mark => self.layer.send(Command::Mark),
            Act::Reset => self.layer.send(Command::Reset),
            Act::Activate(hz) => {
                self.tap = None;
                let rate_hz = f64::from(*hz);
                let format = Format { rate_hz, channels: 2, side_channels: 0, offline: false };
                self.tap = Some((*hz, self.layer.open(format).unwrap()));
            }
            Act::Play(tenth) => {
                if let Some((hz, tap)) = &mut self.tap {
                    push(tap, song(tenth * i64::from(*hz) / 10), 0.0, 64);
                }
            }
            Act::Round => self.round(),
            Act::FailingRound => {
                arm(Stage::Commands, self.layer.id(), 1);
                self.round();
                disarm(self.layer.id());
            }
            Act::Renewal => {
                self.engine = self.engine.take().map(|engine| engine.renewed(alone(), "a fault"));
            }
        }
    }

    fn round(&mut self) {
        self.now += Duration::from_millis(20);
        if let Some(engine) = &mut self.engine {
            engine.round(self.now);
            engine.attend(self.now, &BoardReader::new(alone()));
            engine.settle();
        }
    }
}

fn acts() -> impl Strategy<Value = Vec<Act>> {
    let tenths = || prop::collection::vec(0..12_i64, 0..4);
    let act = prop_oneof![
        1 => tenths().prop_map(Act::Load),
        2 => tenths().prop_map(Act::Put),
        2 => (0..12_i64).prop_map(Act::Unmark),
        3 => Just(Act::Mark),
        1 => Just(Act::Reset),
        2 => prop::sample::select(vec![44_100, 48_000, 96_000]).prop_map(Act::Activate),
        4 => (0..12_i64).prop_map(Act::Play),
        4 => Just(Act::Round),
        1 => Just(Act::Renewal),
    ];
    let failing = (1..6_usize).prop_map(|rounds| vec![Act::FailingRound; rounds]);
    let some = prop_oneof![20 => act.prop_map(|act| vec![act]), 2 => failing];
    prop::collection::vec(some, 1..40).prop_map(|some| some.concat())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn nothing_that_the_user_made_is_lost(acts in acts(), has_worker in prop::bool::weighted(0.8)) {
        told();
        let mut driven = Driven::new(has_worker);
        let mut model = Model { asked: true, ..Model::default() };
        for (k, act) in acts.iter().enumerate() {
            let is_open = driven.tap.is_some();
            driven.act(act);
            // Without a worker no mark gets a place: it waits.
            if has_worker || !matches!(act, Act::Round | Act::FailingRound) {
                model.act(act, is_open);
            }
            prop_assert_eq!(driven.layer.marks(), model.marks(), "after act {}", k);
        }
        driven.tap = None;
        if has_worker {
            // What waits after several failures is taken with the next request.
            driven.act(&Act::Reset);
            model.act(&Act::Reset, false);
            driven.act(&Act::Round);
            model.act(&Act::Round, false);
            let engine = driven.engine.as_ref().unwrap();
            prop_assert_eq!(engine.parts.marks.list(), model.marks());
        }
    }
}
