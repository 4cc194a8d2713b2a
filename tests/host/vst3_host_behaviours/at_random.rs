//! Random combinations of behaviours: the seed is printed, and one number repeats a combination.

mod combination;

use super::editor::opened;
use super::{PATIENCE, Rig, until};
use crate::editor::{USUAL, with_display};
use crate::signals::{arbitrary_bits, assert_bit_equal, sine};
use crate::{assert_quiet, show_words, without_words};
use combination::{Combination, Labels, Position, Threads};
use plumbline_tests::rig::child::say;
use plumbline_tests::rig::embed::Socket;
use plumbline_tests::rig::vst3_raw::{Instance, MONO, Processor, STEREO, View};
use plumbline_tests::rig::{Moment, RigError};
use plumbline_tests::signal::Noise;
use std::time::{Duration, Instant};

/// Combinations in a run.
const COMBINATIONS: u64 = 100;
/// The default seed of a run.
const SEED: u64 = 20_261_128;
/// The variable with another seed.
const SEED_VARIABLE: &str = "PLUMBLINE_HOSTS_SEED";
/// The variable with the number of a combination to play alone.
const ONLY_VARIABLE: &str = "PLUMBLINE_HOSTS_ONLY";
/// Tolerance of a level in dB: incomplete cycles at the ends are less than a hundredth of the signal.
const LEVEL_DB: f64 = 0.1;

/// The longest time to close an editor on a busy machine; after that a host would seem dead. The time on an idle
/// machine has its own test.
const LONGEST_CLOSING: Duration = Duration::from_secs(2);

fn given(variable: &str) -> Option<u64> {
    let text = std::env::var(variable).ok()?;
    Some(text.parse().unwrap_or_else(|_| panic!("{variable} is {text:?}, which is no whole number")))
}

/// Plays a signal as a combination does, and asserts that the output equals the input.
fn played(processor: &mut Processor, signal: &[Vec<f32>], how: &Combination, at: i64) {
    let mut noise = Noise::new(how.seed);
    let most = how.setup.largest_block;
    let mut shorter = || usize::try_from(noise.bits() % most as u64).expect("less than a block");
    let mut lengths = || if how.varies { 1 + shorter() } else { most };
    let start = match how.position {
        Position::None => Moment::stopped(),
        Position::Stands => Moment { song_frame: Some(at), playing: false },
        _ => Moment::playing_at(at),
    };
    let mut play =
        || -> Result<Vec<Vec<f32>>, RigError> { processor.play(signal, start, how.buffers, &mut lengths) };
    let out = match how.threads {
        Threads::Main => play(),
        Threads::Other => std::thread::scope(|scope| scope.spawn(play).join().expect("a block panicked")),
    };
    assert_bit_equal(&out.unwrap(), signal, &format!("{how:?}"));
}

/// The song position after a part that began at `at`.
fn next(position: Position, at: i64, frames: usize) -> i64 {
    let frames = i64::try_from(frames).expect("short");
    match position {
        Position::Loops => 0,
        Position::JumpsByOne => at + frames + 1,
        Position::None | Position::Stands | Position::Runs => at + frames,
    }
}

fn labelled(instance: &Instance, labels: Labels, late: bool) {
    match (labels, late) {
        (Labels::None, _) | (Labels::Late, false) | (Labels::Early, true) => {}
        (Labels::Early, false) | (Labels::Late, true) => {
            instance.label(Some("Bell frame"), Some([90, 80, 70]))
        }
        (Labels::Changing, _) => {
            (0..7).for_each(|turn| instance.label(Some(&format!("Scaffold {turn}")), Some([turn; 3])));
        }
    }
}

/// Asserts the measured level, in every channel, of a sine with a tenth of full scale.
fn assert_measured(rig: &Rig, how: &Combination) {
    until(&format!("{how:?}: the end of measuring"), || {}, || rig.port.is_settled(0).unwrap());
    let readings = rig.port.readings(0, 100).unwrap();
    assert_eq!(readings.trouble, None, "{how:?}");
    assert_eq!(readings.view.health.lost_frames, 0, "{how:?}");
    let frames: u32 = readings.tenths.iter().map(|tenth| tenth.sums.frames).sum();
    assert!(f64::from(frames) > 0.05 * how.setup.rate_hz, "{how:?}: {frames} frames measured");
    let sums = readings.tenths.iter().map(|tenth| [tenth.sums.ll, tenth.sums.rr]);
    let [left, right] = sums.fold([0.0, 0.0], |all, one| [all[0] + one[0], all[1] + one[1]]);
    for power in if how.channels == 2 { vec![left, right] } else { vec![left] } {
        // Relative to a full-scale sine, whose mean square is 0.5 (AES17).
        let level = 10.0 * (2.0 * power / f64::from(frames)).log10();
        assert!((level + 20.0).abs() < LEVEL_DB, "{how:?}: {level} dBFS");
    }
}

fn open(instance: &Instance, how: &Combination) -> Option<(Socket, View)> {
    let editor = how.editor?;
    let mut socket = Socket::open(USUAL, editor.embedding).unwrap();
    let view = opened(instance, &mut socket);
    view.resizing(editor.resizing);
    if editor.scaled {
        view.scale(1.25);
    }
    Some((socket, view))
}

/// Closes an editor, and returns how long that took.
fn close((socket, mut view): (Socket, View), parent_first: bool) -> Duration {
    if parent_first {
        socket.destroy().unwrap();
        let start = Instant::now();
        drop(view);
        return start.elapsed();
    }
    let start = Instant::now();
    view.remove();
    drop(view);
    start.elapsed()
}

/// One host with one instance, from start to end. Returns the longest time that closing an editor took.
fn lived(rig: &Rig, how: &Combination) -> Duration {
    let class = if how.channels == 2 { &rig.stereo } else { &rig.mono };
    let mut instance = Instance::create(&rig.module, class, how.behaviour).unwrap();
    if how.asks_other_layout {
        // Whether accepted or refused, the reported arrangement is the one played.
        let other = if how.channels == 2 { MONO } else { STEREO };
        let taken = instance.arrange(&[other], &[other]);
        assert!(!taken, "{how:?}: took a layout that it does not have");
    }
    assert_eq!(instance.buses(), [vec![how.channels], vec![how.channels]], "{how:?}");
    if how.loads_first {
        let state = instance.save().unwrap();
        instance.load(&state).unwrap();
        assert!(instance.save().unwrap() == state, "{how:?}: saved at once after a load");
    }
    labelled(&instance, how.labels, false);
    instance.set_up(how.setup).unwrap();
    rig.port.watch(0, true).unwrap();
    let mut processor = instance.activate().unwrap();
    let mut shown = open(&instance, how);
    labelled(&instance, how.labels, true);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a part of a rate")]
    let frames = (0.25 * how.setup.rate_hz) as usize;
    let tone = sine(how.channels, 4 * frames, 1_000.0 / how.setup.rate_hz, 0.1, 0.0);
    let mut at = 0;
    for part in 0..4 {
        let part: Vec<Vec<f32>> =
            tone.iter().map(|channel| channel[part * frames..(part + 1) * frames].to_vec()).collect();
        played(&mut processor, &part, how, at);
        at = next(how.position, at, frames);
        instance.idle();
        if let Some((socket, view)) = &mut shown {
            socket.idle().unwrap();
            view.idle();
        }
    }
    if let Some((socket, view)) = &mut shown {
        socket
            .wait_until_drawn(PATIENCE, || {
                instance.idle();
                view.idle();
            })
            .unwrap_or_else(|error| panic!("{how:?}: {error}"));
    }
    if how.freezes {
        instance.deactivate();
        processor = instance.activate().unwrap();
        instance.idle();
    }
    let wild = arbitrary_bits(how.channels, 3_000);
    if !how.freezes {
        instance.deactivate();
        assert_measured(rig, how);
        processor = instance.activate().unwrap();
    }
    played(&mut processor, &wild, how, at);
    let mut longest = Duration::ZERO;
    if let Some(open_one) = shown.take() {
        longest = close(open_one, how.parent_first);
        assert!(longest < LONGEST_CLOSING, "{how:?}: closing took {longest:?}");
        played(&mut processor, &wild, how, at);
    }
    let saved = instance.save().unwrap();
    let duplicate = Instance::create(&rig.module, class, how.behaviour).unwrap();
    duplicate.load(&saved).unwrap();
    assert!(duplicate.save().unwrap() == saved, "{how:?}: a duplicate");
    drop(duplicate);
    let notes = instance.notes();
    assert!(notes.strays().is_empty(), "{how:?}: {:?}", notes.strays());
    assert!(notes.reactivations() <= 1, "{how:?}: reactivated {} times", notes.reactivations());
    assert_eq!(notes.dirty(), 0, "{how:?}: marked as changed without a change");
    assert_eq!(instance.latency(), 0, "{how:?}");
    longest
}

#[test]
fn vst3_hosts_with_habits_at_random() {
    let Some(quiet) = with_display(|| {
        let rig = Rig::new();
        let (seed, only) = (given(SEED_VARIABLE).unwrap_or(SEED), given(ONLY_VARIABLE));
        say(&format!("{COMBINATIONS} VST3 hosts with random behaviour, {SEED_VARIABLE}={seed}"));
        let (mut longest, mut editors) = (Duration::ZERO, 0);
        for number in (0..COMBINATIONS).filter(|number| only.is_none_or(|only| only == *number)) {
            let how = Combination::of(seed.wrapping_add(number));
            say(&format!("host {number}: {how:?}"));
            longest = longest.max(lived(&rig, &how));
            editors += u64::from(how.editor.is_some());
        }
        assert!(only.is_some() || editors > COMBINATIONS / 4, "{editors} editors");
        say(&format!("{editors} of them drew an editor; the slowest closed in {longest:?}"));
    }) else {
        return;
    };
    // The seed and the totals; combinations are named only on failure.
    show_words(&quiet, |word| !word.starts_with("host "));
    assert_quiet(&without_words(&quiet));
}
