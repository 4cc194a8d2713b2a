//! Layers come and go in any order and on any thread; the worker runs exactly while there is a layer.

use crate::rig::{OFFLINE, STEREO, heard, my_turn, noise, play, settle, song, song_tenths, wait_for};
use plumbline_live::{Format, Layer};
use plumbline_tests::rig::threads;
use plumbline_tests::signal::Noise;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Whether the number of running threads with the worker's name is in `range`. Always true on systems that do not list
/// threads; Linux and Windows list them.
fn workers_are(range: std::ops::RangeInclusive<usize>) -> bool {
    let names = threads::names();
    assert!(names.is_some() || !cfg!(any(target_os = "linux", windows)), "this system lists its threads");
    names.is_none_or(|names| range.contains(&names.iter().filter(|name| *name == "plumbline").count()))
}

#[test]
fn the_worker_starts_with_the_first_layer_and_has_ended_with_the_last() {
    let _turn = my_turn();
    for round in 0..20 {
        assert!(workers_are(0..=0), "round {round}");
        let first = Layer::join();
        // A thread gets its name a moment after its start.
        wait_for("the worker", || workers_are(1..=1));
        let second = Layer::join();
        assert!(workers_are(1..=1));
        drop(first);
        assert!(workers_are(1..=1), "one layer is left");
        drop(second);
    }
    assert!(workers_are(0..=0));
}

#[test]
fn layers_churn_from_several_threads_with_audio_under_way() {
    let _turn = my_turn();
    let lives = AtomicU64::new(0);
    std::thread::scope(|scope| {
        for seed in 0..4 {
            let lives = &lives;
            scope.spawn(move || {
                let mut random = Noise::new(seed);
                let audio = noise(seed, 4_000, 0.1);
                for _ in 0..50 {
                    let layer = Layer::join();
                    layer.change(|settings| settings.watched = random.bits().is_multiple_of(2));
                    layer.set_notify(Some(Box::new(|| {})));
                    let mut tap = layer.open(STEREO).unwrap();
                    play(&mut tap, 0, &audio, 64);
                    assert!(workers_are(0..=1));
                    match random.bits() % 3 {
                        // The layer is dropped first, and the tap is still used.
                        0 => {
                            drop(layer);
                            play(&mut tap, 4_000, &audio, 64);
                        }
                        1 => drop(tap),
                        _ => {
                            let next = layer.open(Format { rate_hz: 96_000.0, ..STEREO }).unwrap();
                            drop((next, layer, tap));
                        }
                    }
                    lives.fetch_add(1, Ordering::Relaxed);
                }
            });
        }
    });
    assert_eq!(lives.into_inner(), 200);
    assert!(workers_are(0..=0));
}

#[test]
fn eight_layers_at_once_keep_their_own_and_go_in_any_order() {
    let _turn = my_turn();
    let mut layers: Vec<Arc<Layer>> = (0..8).map(|_| Layer::join()).collect();
    std::thread::scope(|scope| {
        for (k, layer) in layers.iter().enumerate() {
            scope.spawn(move || {
                let seconds = k + 1;
                let mut tap = layer.open(OFFLINE).unwrap();
                play(&mut tap, k * 48_000, &noise(k as u64, seconds * 48_000, 0.1), 100 + k);
                let view = settle(layer, tap);
                let tenths = song_tenths(layer);
                assert_eq!((tenths.len(), heard(&tenths)), (10 * seconds, seconds * 48_000));
                assert_eq!(tenths[0].index, 10 * k as i64);
                assert_eq!(view.recent, tenths);
                assert_eq!(view.serial, layer.serial());
            });
        }
    });
    let mut random = Noise::new(99);
    while !layers.is_empty() {
        let next = usize::try_from(random.bits() % layers.len() as u64).unwrap();
        drop(layers.swap_remove(next));
    }
    assert!(workers_are(0..=0));
}

#[test]
fn the_last_layer_may_go_inside_its_own_callback() {
    let _turn = my_turn();
    let layer = Layer::join();
    let weak = Arc::downgrade(&layer);
    let held = std::sync::Mutex::new(Some(Arc::clone(&layer)));
    let called = Arc::new(AtomicU64::new(0));
    let count = Arc::clone(&called);
    layer.set_notify(Some(Box::new(move || {
        drop(held.lock().unwrap().take());
        count.fetch_add(1, Ordering::Relaxed);
    })));
    drop(layer);
    // Now only the callback holds the layer; it is called once there is a watcher.
    weak.upgrade().unwrap().change(|settings| settings.watched = true);
    wait_for("the callback", || called.load(Ordering::Relaxed) > 0);
    wait_for("the layer to be dropped", || weak.strong_count() == 0);
    wait_for("the worker to end", || workers_are(0..=0));
    // And another layer works as usual.
    let layer = Layer::join();
    let mut tap = layer.open(OFFLINE).unwrap();
    play(&mut tap, 0, &noise(1, 48_000, 0.1), 512);
    settle(&layer, tap);
    assert_eq!(song_tenths(&layer).len(), 10);
}

#[test]
fn a_callback_comes_with_every_view_and_the_serial_counts_up() {
    let _turn = my_turn();
    let layer = Layer::join();
    let calls = Arc::new(AtomicU64::new(0));
    let counter = Arc::clone(&calls);
    layer.set_notify(Some(Box::new(move || {
        counter.fetch_add(1, Ordering::Relaxed);
    })));
    let mut tap = layer.open(OFFLINE).unwrap();
    play(&mut tap, 0, &noise(1, 48_000, 0.1), 512);
    wait_for("the tenths", || !song_tenths(&layer).is_empty());
    assert_eq!((layer.serial(), calls.load(Ordering::Relaxed)), (0, 0), "nobody looks");
    layer.change(|settings| settings.watched = true);
    wait_for("a view", || layer.serial() > 0);
    let first = layer.serial();
    tap.push(song(48_000), &[&[0.0; 64], &[0.0; 64]], &[]);
    wait_for("another", || layer.serial() > first);
    let view = settle(&layer, tap);
    wait_for("the callbacks", || calls.load(Ordering::Relaxed) >= view.serial);
}

#[test]
fn a_rate_nobody_measures_at_is_refused_and_changes_nothing() {
    let _turn = my_turn();
    let layer = Layer::join();
    let mut tap = layer.open(OFFLINE).unwrap();
    let mut cases = 0;
    for rate_hz in [0.0, -1.0, 22_049.0, 384_001.0, f64::NAN, f64::INFINITY] {
        let refused = layer.open(Format { rate_hz, ..OFFLINE });
        assert!(refused.is_err(), "{rate_hz}");
        cases += 1;
    }
    assert_eq!(cases, 6);
    play(&mut tap, 0, &noise(1, 4_800, 0.1), 512);
    settle(&layer, tap);
    assert_eq!(heard(&song_tenths(&layer)), 4_800, "the tap there was goes on");
}
