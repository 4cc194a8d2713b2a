mod marks;
pub(super) mod session;

use super::intake::{CHUNKS_A_ROUND, GRACE, STANDING_AFTER};
use super::view::VIEW_STEP;
use super::*;
use crate::audio_queue::AudioQueue;
use crate::stream_format::StreamFormat;
use crate::tap::{Stamp, Tap};
use plumbline_measure::{BandEdges, Glance, Grid, SampleRate, TimeSums};
use plumbline_programme::{Health, View};
use std::cell::RefCell;
use std::sync::Mutex;

/// A call to the analyser.
#[derive(Clone, Debug, PartialEq)]
enum Told {
    Open(u32, usize),
    Push(Grid, i64, usize),
    Loss(u32),
    Flush,
    Forget,
}

thread_local! {
    static TOLD: RefCell<Vec<Told>> = const { RefCell::new(Vec::new()) };
}

fn tell(what: Told) {
    TOLD.with_borrow_mut(|t| t.push(what));
}

fn told() -> Vec<Told> {
    TOLD.take()
}

/// Sample value at which the listener panics, as a faulty analyser would.
const FATAL: f32 = 666.0;

/// An analyser that records its calls, and gives a tenth at every flush.
struct Listener {
    heard: u32,
    over: u64,
}

impl Measure for Listener {
    fn open(rate: SampleRate, channels: usize, _: BandEdges) -> Self {
        tell(Told::Open(rate.hz(), channels));
        Self { heard: 0, over: 0 }
    }
    fn push(&mut self, at: Position, channels: &[&[f32]], _: &mut Vec<Tenth>) {
        tell(Told::Push(at.grid, at.sample, channels[0].len()));
        assert!(!channels[0].contains(&FATAL), "a fault in the analyser");
        self.heard += 1;
        self.over += u64::from(channels[0].contains(&1.0));
    }
    fn note_loss(&mut self, frames: u32) {
        tell(Told::Loss(frames));
    }
    fn flush(&mut self, tenths: &mut Vec<Tenth>) {
        tell(Told::Flush);
        let sums = TimeSums { frames: self.heard, ..TimeSums::default() };
        tenths.push(Tenth { index: 3, length: 4_800, sums, ..Tenth::default() });
    }
    fn forget(&mut self) {
        tell(Told::Forget);
        self.over = 0;
    }
    fn fill(&self, glance: &mut Glance) {
        glance.meters.overs = [self.over, 0];
    }
}

fn alone() -> Result<Folder, String> {
    Err("no board here".to_owned())
}

struct Rig {
    shared: Arc<SharedState>,
    engine: LayerEngine<Listener>,
    now: Duration,
}

impl Rig {
    fn new() -> Self {
        told();
        let shared = Arc::new(SharedState::new());
        shared.ask(|inbox| inbox.settings.watched = true);
        Self { engine: LayerEngine::new(Arc::clone(&shared), alone()), shared, now: Duration::from_secs(10) }
    }

    fn open(&mut self, hz: u32, channels: u8) -> Tap {
        let format =
            StreamFormat { rate: SampleRate::new(hz).unwrap(), channels, side_channels: 0, offline: false };
        let queue = Arc::new(AudioQueue::new(format, Arc::clone(&self.shared.counts), Arc::default()));
        self.shared.ask(|inbox| inbox.opened.push(Arc::clone(&queue)));
        Tap::new(queue)
    }

    /// Runs a round 20 ms after the last one, so that each may make a view.
    fn round(&mut self) -> Arc<View> {
        self.now += Duration::from_millis(20);
        self.round_at(self.now);
        lock(&self.shared.view).clone()
    }

    fn round_at(&mut self, now: Duration) -> Pace {
        let pace = self.engine.round(now);
        let shown = self.engine.attend(now, &BoardReader::new(alone()));
        self.engine.settle();
        pace.max(shown)
    }

    fn trouble(&self) -> Option<String> {
        lock(&self.shared.trouble).clone()
    }
}

fn song(position: i64) -> Stamp {
    Stamp { song: Some(position), playing: true }
}

const CLOCK: Stamp = Stamp { song: None, playing: false };

fn push(tap: &mut Tap, stamp: Stamp, value: f32, frames: usize) {
    let block = vec![value; frames];
    tap.push(stamp, &[&block, &block], &[]);
}

#[test]
fn a_jump_reaches_the_analyser_as_a_position_that_does_not_continue_and_is_counted() {
    let mut rig = Rig::new();
    let mut tap = rig.open(48_000, 2);
    push(&mut tap, song(0), 0.0, 80);
    push(&mut tap, song(1_000), 0.0, 64);
    let view = rig.round();
    let s = Grid::Song;
    let expected =
        [Told::Open(48_000, 2), Told::Push(s, 0, 64), Told::Push(s, 64, 16), Told::Push(s, 1_000, 64)];
    assert_eq!(told(), expected);
    assert_eq!((view.health.jumps, view.health.gaps), (1, 0));
    assert_eq!(view.clock.position, Position { grid: s, sample: 1_063 });
    assert!(view.clock.playing && view.clock.running);
}

#[test]
fn a_loss_is_told_right_before_the_chunk_behind_it() {
    let mut rig = Rig::new();
    let mut tap = rig.open(22_050, 1);
    for k in 0..1_400 {
        push(&mut tap, song(k * 64), 0.0, 64);
    }
    let lost = (1_400 - (22_050_u32 * 4).div_ceil(64)) * 64;
    rig.now += Duration::from_secs(1);
    let view = rig.round();
    assert_eq!(view.health.lost_frames, u64::from(lost), "shown before the next chunk tells");
    while rig.round_at(rig.now) == Pace::Busy {}
    told();
    push(&mut tap, song(1_400 * 64), 0.0, 64);
    let view = rig.round();
    assert_eq!(told(), [Told::Loss(lost), Told::Push(Grid::Song, 1_400 * 64, 64)]);
    assert_eq!((view.health.gaps, view.health.lost_frames, view.health.jumps), (1, u64::from(lost), 0));
}

#[test]
fn a_close_flushes_and_a_loss_at_the_end_is_told() {
    let mut rig = Rig::new();
    let mut tap = rig.open(48_000, 2);
    push(&mut tap, song(0), 0.0, 10);
    let block = [0.0; 5];
    tap.push(song(10), &[&block, &block[..2]], &[]);
    tap.close();
    let view = rig.round();
    let expected = [Told::Open(48_000, 2), Told::Push(Grid::Song, 0, 12), Told::Loss(3), Told::Flush];
    assert_eq!(told(), expected);
    assert_eq!((view.health.gaps, view.health.lost_frames), (1, 3));
    assert!(!view.clock.running);
    assert_eq!(view.recent.len(), 1, "the tenth that waited came out");
    assert_eq!(lock(&rig.shared.history).len(), 1);
}

#[test]
fn the_same_format_again_keeps_the_analyser_and_another_replaces_it() {
    let mut rig = Rig::new();
    let mut cases = 0;
    for (hz, channels, made_new) in
        [(48_000, 2, true), (48_000, 2, false), (44_100, 2, true), (44_100, 1, true), (44_100, 1, false)]
    {
        let mut tap = rig.open(hz, channels);
        push(&mut tap, song(0), 1.0, 64);
        tap.close();
        let view = rig.round();
        assert_eq!(told().contains(&Told::Open(hz, usize::from(channels))), made_new, "{hz} Hz, {channels}");
        cases += 1;
        assert_eq!(view.meters.overs[0], cases, "a clipped sample is not forgotten");
        assert_eq!((view.clock.rate_hz, view.clock.channels), (hz, channels));
    }
    assert_eq!(cases, 5);
    assert!(lock(&rig.shared.history).get(Grid::Clock, 3).is_some(), "the history stays");
}

#[test]
fn what_an_earlier_opening_left_comes_before_the_next_one() {
    let mut rig = Rig::new();
    let mut first = rig.open(48_000, 2);
    push(&mut first, song(0), 0.0, 64);
    let mut second = rig.open(96_000, 2);
    push(&mut second, song(5_000), 0.0, 64);
    rig.round();
    assert_eq!(told(), [Told::Open(48_000, 2), Told::Push(Grid::Song, 0, 64)], "the first may still speak");
    push(&mut first, song(64), 0.0, 1);
    first.close();
    rig.round();
    let s = Grid::Song;
    let expected =
        [Told::Push(s, 64, 1), Told::Flush, Told::Flush, Told::Open(96_000, 2), Told::Push(s, 5_000, 64)];
    assert_eq!(told(), expected);
}

#[test]
fn a_retired_tap_that_nobody_drops_is_given_up() {
    let mut rig = Rig::new();
    let first = rig.open(48_000, 2);
    rig.round();
    let mut second = rig.open(48_000, 2);
    rig.round();
    rig.engine.intake.queues[0].retired.store(true, Ordering::Relaxed);
    push(&mut second, song(0), 0.0, 64);
    rig.round();
    assert!(!told().contains(&Told::Push(Grid::Song, 0, 64)));
    rig.now += GRACE;
    rig.round();
    assert!(told().contains(&Told::Push(Grid::Song, 0, 64)));
    drop(first);
}

#[test]
fn without_song_position_the_clock_places_each_stretch_once() {
    let mut rig = Rig::new();
    let mut tap = rig.open(48_000, 2);
    push(&mut tap, CLOCK, 0.0, 64);
    rig.round();
    push(&mut tap, CLOCK, 0.0, 64);
    rig.now += Duration::from_secs(5);
    rig.round();
    tap.restart();
    push(&mut tap, CLOCK, 0.0, 64);
    rig.round();
    // The first round is at 10.02 s; the clock then read 10.06 + 5 s when the host was reset.
    let at = |ms: i64| ms * 48;
    let c = Grid::Clock;
    let expected = [
        Told::Open(48_000, 2),
        Told::Push(c, at(10_020), 64),
        Told::Push(c, at(10_020) + 64, 64),
        Told::Push(c, at(15_060), 64),
    ];
    assert_eq!(told(), expected);
}

#[test]
fn the_users_reset_falls_behind_what_was_handed_over_before() {
    let mut rig = Rig::new();
    let mut tap = rig.open(48_000, 2);
    push(&mut tap, song(0), 1.0, 128);
    rig.shared.ask(|inbox| inbox.commands.push(Command::Reset));
    let view = rig.round();
    assert_eq!(told().last(), Some(&Told::Forget));
    assert_eq!(view.meters.overs[0], 0);
    assert_eq!(lock(&rig.shared.history).epoch(), 1);
}

#[test]
fn the_host_parameters_reset_cuts_at_the_sample() {
    let mut rig = Rig::new();
    let mut tap = rig.open(48_000, 2);
    push(&mut tap, song(0), 1.0, 10);
    push(&mut tap, song(5_000), 1.0, 10);
    tap.reset();
    push(&mut tap, song(5_010), 0.0, 64);
    push(&mut tap, song(9_000), 0.0, 64);
    let view = rig.round();
    let s = Grid::Song;
    let expected = [
        Told::Open(48_000, 2),
        Told::Push(s, 0, 10),
        Told::Push(s, 5_000, 10),
        Told::Forget,
        Told::Push(s, 5_010, 64),
        Told::Push(s, 9_000, 64),
    ];
    assert_eq!(told(), expected);
    assert_eq!(view.health.jumps, 1, "the jump before the reset is forgotten, the one behind it is not");
    // With no audio to carry the reset, the worker takes it once the audio has stopped.
    tap.reset();
    rig.round();
    assert_eq!(told(), []);
    rig.now += STANDING_AFTER;
    let view = rig.round();
    assert_eq!(told(), [Told::Forget]);
    assert_eq!(view.health, Health::default());
}

#[test]
fn a_failing_analyser_stops_its_layer_only_until_a_reset_and_counts_what_it_missed() {
    let mut rig = Rig::new();
    let mut tap = rig.open(48_000, 2);
    push(&mut tap, song(0), 0.0, 64);
    push(&mut tap, song(64), FATAL, 64);
    push(&mut tap, song(128), 0.0, 64);
    let view = rig.round();
    assert_eq!(view.health.lost_frames, 64, "the chunk in hand");
    let words = rig.trouble().unwrap();
    assert!(words.contains("a fault in the analyser") && words.contains("Reset"), "{words}");
    push(&mut tap, song(192), 0.0, 64);
    let view = rig.round();
    assert_eq!((view.health.gaps, view.health.lost_frames), (1, 3 * 64));
    rig.shared.ask(|inbox| inbox.commands.push(Command::Reset));
    rig.round();
    told();
    push(&mut tap, song(256), 0.0, 64);
    let view = rig.round();
    assert_eq!(told(), [Told::Push(Grid::Song, 256, 64)]);
    assert_eq!((view.health, rig.trouble()), (Health::default(), None));
}

#[test]
fn views_are_made_only_while_watched_and_only_when_new_and_not_too_often() {
    let mut rig = Rig::new();
    let mut tap = rig.open(48_000, 2);
    push(&mut tap, song(0), 0.0, 64);
    let first = rig.round().serial;
    assert!(first > 0);
    assert_eq!(rig.round().serial, first, "nothing new");
    push(&mut tap, song(64), 0.0, 64);
    rig.round_at(rig.now + VIEW_STEP / 2);
    push(&mut tap, song(128), 0.0, 64);
    assert_eq!(rig.shared.serial.load(Ordering::Relaxed), first + 1);
    rig.round_at(rig.now + VIEW_STEP);
    assert_eq!(rig.shared.serial.load(Ordering::Relaxed), first + 1, "too early");
    rig.now += VIEW_STEP;
    assert_eq!(rig.round().serial, first + 2);
    rig.shared.ask(|inbox| inbox.settings.watched = false);
    push(&mut tap, song(192), 0.0, 64);
    assert_eq!(rig.round().serial, first + 2, "nobody looks");
    rig.shared.ask(|inbox| inbox.settings.watched = true);
    assert_eq!(rig.round().serial, first + 3);
    // The audio stops: one more view says so.
    rig.now += STANDING_AFTER;
    let view = rig.round();
    assert_eq!((view.serial, view.clock.running), (first + 4, false));
    assert_eq!(rig.round().serial, first + 4);
}

#[test]
fn a_callback_that_panics_is_dropped_and_told() {
    let mut rig = Rig::new();
    let calls = Arc::new(Mutex::new(0));
    let counter = Arc::clone(&calls);
    rig.shared.ask(|inbox| {
        inbox.notify = Some(Arc::new(move || {
            *counter.lock().unwrap() += 1;
            panic!("the window is gone");
        }));
    });
    let mut tap = rig.open(48_000, 2);
    for k in 0..3 {
        push(&mut tap, song(k * 64), 0.0, 64);
        rig.round();
    }
    assert_eq!(*lock(&calls), 1);
    assert!(rig.trouble().unwrap().contains("the window is gone"));
    let view = rig.round();
    assert_eq!(view.clock.position.sample, 191, "the measurement goes on");
}

#[test]
fn one_round_takes_a_bounded_share() {
    let mut rig = Rig::new();
    let mut tap = rig.open(48_000, 2);
    push(&mut tap, song(0), 0.0, 64 * (CHUNKS_A_ROUND + 1));
    assert_eq!(rig.round_at(rig.now), Pace::Busy);
    assert_eq!(rig.round_at(rig.now), Pace::Flowing);
    assert_eq!(told().len(), 1 + CHUNKS_A_ROUND + 1);
    let later = rig.now + STANDING_AFTER;
    assert_eq!(rig.round_at(later), Pace::Flowing, "a view that says so is due");
    assert_eq!(rig.round_at(later + VIEW_STEP), Pace::Idle);
}
