//! The law of faults: whatever fails on the worker for one layer, the sound passes, the layer says what failed, other
//! layers go on being measured, marks stay, and a reset starts it again.

use super::*;
use crate::board::Folder;
use crate::fault::{arm, disarm, is_armed};
use crate::shared::SharedState;
use crate::tap::{Stamp, Tap};
use crate::{Format, Layer};
use plumbline_measure::Grid;
use plumbline_programme::session::SessionNote;
use plumbline_programme::{Command, Health, Mark, View};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

/// What a layer says of a fault.
const WORDS: &str = "fault on purpose";
/// Frames of a block.
const BLOCK: i64 = 441;
/// The most that a machine under load may take for what is due within a second.
const PATIENCE: Duration = Duration::from_secs(20);

const FORMAT: Format = Format { rate_hz: 22_050.0, channels: 2, side_channels: 0, offline: false };

fn mark(index: i64) -> Mark {
    Mark { grid: Grid::Song, index }
}

/// Two watched layers, with a worker and a board of their own.
struct Rig {
    instances: Arc<Instances>,
    folder: PathBuf,
    worker: Option<std::thread::JoinHandle<()>>,
    layers: [Arc<Layer>; 2],
    taps: [Option<Tap>; 2],
    /// Song position of the next block.
    at: i64,
}

impl Rig {
    fn new() -> Self {
        static MADE: AtomicU32 = AtomicU32::new(0);
        let name =
            format!("plumbline-faults-{}-{}", std::process::id(), MADE.fetch_add(1, Ordering::Relaxed));
        let folder = std::env::temp_dir().join(name);
        let instances = Arc::new(Instances::default());
        let layers = [(); 2].map(|()| {
            let shared = Arc::new(SharedState::new());
            instances.add(Arc::clone(&shared));
            Layer::of(shared, Arc::clone(&instances.signal))
        });
        for layer in &layers {
            layer.change(|settings| settings.watched = true);
            layer.send(Command::ReplaceMarks(vec![mark(3), mark(7)]));
        }
        let taps = [0, 1].map(|k: usize| Some(layers[k].open(FORMAT).unwrap()));
        Self { instances, folder, worker: None, layers, taps, at: 0 }
    }

    /// Starts the worker.
    fn start(&mut self) {
        let instances = Arc::clone(&self.instances);
        let folder = Folder::at(self.folder.clone());
        let work = move || run_in(&instances, &folder);
        let worker = std::thread::spawn(work);
        self.instances.signal.set_thread(worker.thread().clone());
        self.instances.signal.set_measures(true);
        self.worker = Some(worker);
    }

    /// A rig whose worker measures both layers.
    fn measured() -> Self {
        let mut rig = Self::new();
        rig.start();
        rig.play_until("both are measured", |rig| rig.is_measured(0) && rig.is_measured(1));
        rig
    }

    fn id(&self) -> plumbline_programme::LayerId {
        self.layers[0].id()
    }

    fn view(&self, layer: usize) -> Arc<View> {
        self.layers[layer].view()
    }

    /// Plays one block into both layers, and asserts that it passes unchanged.
    fn play(&mut self) {
        let song = Stamp { song: Some(self.at), playing: true };
        for tap in self.taps.iter_mut().flatten() {
            let wave = |k: i64| ((self.at + k) as f32 * 0.2).sin() * 0.25;
            let dry: Vec<f32> = (0..BLOCK).map(wave).collect();
            let (mut left, mut right) = (dry.clone(), dry.clone());
            tap.alter(&mut [&mut left, &mut right]);
            tap.push(song, &[&left, &right], &[]);
            assert!(left == dry && right == dry, "the sound passes");
        }
        self.at += BLOCK;
        std::thread::sleep(Duration::from_millis(12));
    }

    fn play_until(&mut self, what: &str, mut done: impl FnMut(&Self) -> bool) {
        let start = Instant::now();
        while !done(self) {
            assert!(start.elapsed() < PATIENCE, "never: {what}. {:?}", self.said(0));
            self.play();
        }
    }

    /// Whether the latest view shows audio of the latest second, nothing lost, and the programme's loudness.
    fn is_measured(&self, layer: usize) -> bool {
        let view = self.view(layer);
        let behind = self.at - view.clock.position.sample;
        view.clock.running
            && behind < 22_050
            && view.health.lost_frames == 0
            && view.loudness.integrated_lufs.is_some()
    }

    /// What a layer says of its faults, wherever it says it.
    fn said(&self, layer: usize) -> Option<String> {
        let view = self.view(layer);
        let alone = view.session.notes.iter().find_map(|note| match note {
            SessionNote::Alone(why) => Some(why.clone()),
            _ => None,
        });
        [self.layers[layer].trouble(), alone, view.mics.trouble.clone()]
            .into_iter()
            .flatten()
            .find(|words| words.contains(WORDS))
    }

    fn marks(&self) -> [Vec<Mark>; 2] {
        [0, 1].map(|k: usize| self.layers[k].marks())
    }
}

impl Drop for Rig {
    fn drop(&mut self) {
        disarm(self.id());
        self.instances.stop.store(true, Ordering::Release);
        self.instances.signal.wake();
        let ended = self.worker.take().map(|worker| worker.join());
        let _ = std::fs::remove_dir_all(&self.folder);
        assert!(std::thread::panicking() || ended.is_none_or(|end| end.is_ok()), "the worker panicked");
    }
}

/// The law for a fault in a stage that stays within its layer.
fn one_layer_fails(stage: Stage, times: u32) {
    let mut rig = Rig::measured();
    arm(stage, rig.id(), times);
    rig.play_until("the layer says what failed", |rig| rig.said(0).is_some());
    let (heard, serial) = (rig.view(1).clock.position.sample, rig.view(1).serial);
    rig.play_until("the other layer goes on", |rig| {
        rig.view(1).clock.position.sample > heard + 11_025 && rig.view(1).serial > serial
    });
    assert_eq!(rig.view(1).health, Health::default(), "{stage:?}: nothing of the other layer is lost");
    assert_eq!(rig.layers[1].trouble(), None, "{stage:?}: the other layer has no trouble");
    assert!(rig.said(0).is_some(), "{stage:?}: the words stay");
    assert_eq!(disarm(rig.id()), 0, "{stage:?}: each fault happened");
    rig.layers[0].send(Command::Reset);
    rig.play_until("the reset starts it again", |rig| rig.said(0).is_none() && rig.is_measured(0));
    assert_eq!(rig.layers[0].trouble(), None);
    assert_eq!(rig.marks(), [vec![mark(3), mark(7)], vec![mark(3), mark(7)]], "{stage:?}");
}

#[test]
fn a_fault_in_the_analyser_stays_in_its_layer() {
    one_layer_fails(Stage::Intake, 1);
}

#[test]
fn a_fault_at_the_file_on_the_board_stays_in_its_layer() {
    one_layer_fails(Stage::Publishing, 1);
}

#[test]
fn a_fault_in_the_session_stays_in_its_layer() {
    one_layer_fails(Stage::Session, 1);
}

#[test]
fn a_fault_in_joining_the_record_stays_in_its_layer() {
    one_layer_fails(Stage::Record, 1);
}

#[test]
fn a_fault_in_the_pairs_stays_in_its_layer() {
    one_layer_fails(Stage::Pairs, 1);
}

#[test]
fn a_fault_in_the_view_stays_in_its_layer_even_if_it_comes_twice() {
    one_layer_fails(Stage::View, 1);
    one_layer_fails(Stage::View, 2);
}

#[test]
fn a_fault_in_the_commands_loses_none() {
    let mut rig = Rig::measured();
    arm(Stage::Commands, rig.id(), 1);
    rig.layers[0].send(Command::PutMarks(vec![mark(9)]));
    rig.play_until("the layer says what failed", |rig| rig.said(0).is_some());
    assert_eq!(rig.layers[0].marks(), [mark(3), mark(7), mark(9)]);
    rig.layers[0].send(Command::Reset);
    rig.play_until("the reset starts it again", |rig| rig.said(0).is_none() && rig.is_measured(0));
    assert_eq!(rig.layers[0].marks(), [mark(3), mark(7), mark(9)]);
}

#[test]
fn a_layer_whose_number_fails_is_measured_without_one() {
    let mut rig = Rig::new();
    arm(Stage::Number, rig.id(), u32::MAX);
    rig.start();
    rig.play_until("both are measured", |rig| rig.is_measured(0) && rig.is_measured(1));
    assert!(disarm(rig.id()) < u32::MAX, "the fault happened");
    rig.play_until("both see each other", |rig| {
        [0, 1].iter().all(|k| rig.view(*k).session.layers.len() == 2)
    });
}

#[test]
fn a_layer_whose_engine_cannot_be_made_says_so_and_starts_with_a_reset_or_an_opening() {
    for reopens in [false, true] {
        let mut rig = Rig::new();
        arm(Stage::Making, rig.id(), 2);
        rig.start();
        rig.play_until("the other layer is measured", |rig| rig.is_measured(1));
        assert!(rig.said(0).unwrap().contains("Reset"), "{:?}", rig.said(0));
        // A second fault: one attempt is one try.
        rig.layers[0].send(Command::Reset);
        rig.play_until("the second fault", |rig| !is_armed(rig.id()));
        rig.play_until("it says so again", |rig| rig.said(0).is_some());
        if reopens {
            rig.taps[0] = None;
            rig.taps[0] = Some(rig.layers[0].open(FORMAT).unwrap());
        } else {
            rig.layers[0].send(Command::Reset);
        }
        rig.play_until("it starts", |rig| rig.said(0).is_none() && rig.view(0).clock.running);
        rig.layers[0].send(Command::Reset);
        rig.play_until("it is measured", |rig| rig.is_measured(0));
        assert_eq!(rig.marks(), [vec![mark(3), mark(7)], vec![mark(3), mark(7)]]);
    }
}

#[test]
fn a_fault_in_reading_the_board_ends_with_a_reset_of_any_layer() {
    let mut rig = Rig::measured();
    arm(Stage::Board, rig.id(), 1);
    rig.play_until("both say what failed", |rig| rig.said(0).is_some() && rig.said(1).is_some());
    rig.layers[1].send(Command::Reset);
    rig.play_until("the board is read again", |rig| {
        rig.said(0).is_none() && rig.said(1).is_none() && rig.view(0).session.layers.len() == 2
    });
    assert!(rig.is_measured(0));
}

#[test]
fn a_fault_between_the_engines_has_them_made_anew_and_marks_stay() {
    let mut rig = Rig::measured();
    let serial = rig.view(1).serial;
    arm(Stage::Round, rig.id(), 1);
    rig.play_until("both say what failed", |rig| rig.said(0).is_some() && rig.said(1).is_some());
    assert_eq!(disarm(rig.id()), 0);
    let start = Instant::now();
    let at = rig.at;
    rig.play_until("both are measured again", |rig| {
        [0, 1].iter().all(|k| rig.view(*k).clock.position.sample > at && rig.view(*k).serial > serial)
    });
    assert!(start.elapsed() < Duration::from_secs(5), "{:?}", start.elapsed());
    assert!(rig.said(0).unwrap().contains("marks are kept"), "the words stay");
    assert_eq!(rig.view(0).health.gaps, 1, "the interruption is counted");
    assert_eq!(rig.marks(), [vec![mark(3), mark(7)], vec![mark(3), mark(7)]]);
    rig.play_until("the marks are in the log", |rig| rig.view(0).log.marks.len() == 2);
    rig.layers.iter().for_each(|layer| layer.send(Command::Reset));
    rig.play_until("the reset clears the words", |rig| {
        [0, 1].iter().all(|k| rig.said(*k).is_none() && rig.is_measured(*k) && rig.view(*k).health.gaps == 0)
    });
}

#[test]
fn a_layer_that_cannot_be_renewed_keeps_its_audio_and_its_marks() {
    let mut rig = Rig::measured();
    arm(Stage::Renewal, rig.id(), 1);
    arm(Stage::Round, rig.id(), 1);
    rig.play_until("it says so", |rig| rig.said(0).is_some_and(|words| words.contains("could not start")));
    rig.layers[0].send(Command::Reset);
    rig.play_until("it starts", |rig| rig.said(0).is_none());
    let at = rig.at;
    rig.play_until("it is measured", |rig| rig.view(0).clock.position.sample > at);
    assert_eq!(rig.marks(), [vec![mark(3), mark(7)], vec![mark(3), mark(7)]]);
}

#[test]
fn a_fault_in_every_round_stops_the_rounds_until_a_reset() {
    let mut rig = Rig::measured();
    arm(Stage::Round, rig.id(), 1_000);
    rig.play_until("it gives up", |rig| {
        [0, 1].iter().all(|k| rig.said(*k).is_some_and(|words| words.contains("several times")))
    });
    assert!(!rig.instances.signal.measures(), "no render waits for it");
    for _ in 0..100 {
        rig.play();
    }
    let faults = 1_000 - disarm(rig.id());
    assert_eq!(faults as usize, crate::restarts::MOST + 1, "the first, and one after each restart");
    assert!(rig.said(0).unwrap().contains("several times"), "the words stay");
    assert_eq!(rig.marks(), [vec![mark(3), mark(7)], vec![mark(3), mark(7)]]);
    rig.layers[1].send(Command::Reset);
    let at = rig.at;
    rig.play_until("both are measured again", |rig| {
        rig.instances.signal.measures() && [0, 1].iter().all(|k| rig.view(*k).clock.position.sample > at)
    });
}
