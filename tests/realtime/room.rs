//! In real time no loss is silent; in an offline render there is no loss at all.

use crate::rig::{OFFLINE, STEREO, heard, my_turn, noise, play, settle, song, song_tenths};
use plumbline_live::{Layer, ROOM_SECS};
use plumbline_measure::{Analyzer, BandEdges, Grid, Position, SampleRate};
use std::sync::mpsc;
use std::time::Duration;

/// Seconds that overflow a queue even if the worker has taken as much as it may in one round.
const TOO_MUCH_SECS: usize = ROOM_SECS as usize + 3;

#[test]
fn a_full_queue_loses_and_counts_to_the_frame() {
    let _turn = my_turn();
    let layer = Layer::join();
    let mut tap = layer.open(STEREO).unwrap();
    let audio = noise(10, TOO_MUCH_SECS * 48_000, 0.1);
    layer.change(|settings| settings.watched = true);
    // Pushing while the history is locked also shows that the audio thread does not lock it.
    layer.with_history(|_| play(&mut tap, 0, &audio, 512));
    // A little more audio after the loss: the worker runs again, and the loss is recorded at its position.
    crate::rig::wait_for("room in the queue", || layer.view().clock.position.sample > 100_000);
    let more = noise(11, 48_000, 0.1);
    play(&mut tap, TOO_MUCH_SECS * 48_000, &more, 512);
    let view = settle(&layer, tap);
    let tenths = song_tenths(&layer);
    let lost = usize::try_from(view.health.lost_frames).unwrap();
    assert!(lost > 48_000, "the queue was not full: the case tested nothing");
    assert!(view.health.gaps >= 1);
    assert_eq!(heard(&tenths) + lost, (TOO_MUCH_SECS + 1) * 48_000, "measured and lost frames add up");
    let told: u64 = tenths.iter().map(|t| u64::from(t.faults.lost)).sum();
    assert_eq!(told, view.health.lost_frames, "the history has their places");
    assert_eq!(view.health.jumps, 0);
    assert_eq!(layer.trouble(), None);
}

#[test]
fn a_loss_at_the_end_is_counted_as_well() {
    let _turn = my_turn();
    let layer = Layer::join();
    let mut tap = layer.open(STEREO).unwrap();
    let audio = noise(12, TOO_MUCH_SECS * 48_000 + 17, 0.1);
    layer.with_history(|_| {
        play(&mut tap, 0, &audio, 480);
        tap.close();
    });
    let mut tap = layer.open(STEREO).unwrap();
    tap.push(song(0), &[&[0.5; 1], &[0.5; 1]], &[]);
    let view = settle(&layer, tap);
    // The single frame of the second opening is in a tenth that was complete before: it replaces nothing.
    let lost = usize::try_from(view.health.lost_frames).unwrap();
    assert!(lost > 48_000);
    assert_eq!(heard(&song_tenths(&layer)) + lost, audio[0].len());
    assert_eq!(view.health.gaps, 1);
}

#[test]
fn an_offline_render_waits_and_loses_nothing() {
    let _turn = my_turn();
    let layer = Layer::join();
    let mut tap = layer.open(OFFLINE).unwrap();
    let audio = noise(13, TOO_MUCH_SECS * 48_000, 0.1);
    let total = audio[0].len();
    let (done, is_done) = mpsc::channel();
    let rendered = std::thread::scope(|scope| {
        // The worker is blocked until the render has to wait; no audio may be lost, however long that takes.
        let render = layer.with_history(|_| {
            let render = scope.spawn(|| {
                play(&mut tap, 0, &audio, 512);
                done.send(()).unwrap();
                tap
            });
            let early = is_done.recv_timeout(Duration::from_millis(300));
            assert!(early.is_err(), "the render ended with the worker held: it did not wait");
            render
        });
        render.join().unwrap()
    });
    let view = settle(&layer, rendered);
    assert_eq!((view.health.lost_frames, view.health.gaps), (0, 0));
    assert_eq!(heard(&song_tenths(&layer)), total);
}

#[test]
fn tenths_are_bit_equal_to_those_of_the_bare_analyser_for_any_block_size() {
    let _turn = my_turn();
    let audio = noise(14, 3 * 48_000 + 1_234, 0.1);
    let from = 7_777;
    let mut bare = Vec::new();
    let mut analyzer = Analyzer::new(SampleRate::new(48_000).unwrap(), 2, BandEdges::default());
    let start = Position { grid: Grid::Song, sample: 7_777 };
    analyzer.push(start, &[&audio[0], &audio[1]], &mut bare);
    analyzer.flush(&mut bare);
    assert!(bare.len() >= 30, "the analyser gave no tenths");
    let mut cases = 0;
    for block in [1, 32, 64, 511, 512, 4_096] {
        let layer = Layer::join();
        let mut tap = layer.open(OFFLINE).unwrap();
        play(&mut tap, from, &audio, block);
        settle(&layer, tap);
        assert!(song_tenths(&layer) == bare, "block {block}");
        cases += 1;
    }
    assert_eq!(cases, 6);
}
