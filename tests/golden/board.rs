//! Layers that find each other through the board's files, and invalid files there.

use plumbline_live::{Format, Layer, Stamp, Tap};
use plumbline_programme::View;
use plumbline_programme::session::{SessionNote, Stretch};
use plumbline_programme::{Identity, Role};
use plumbline_tests::signal::{Noise, single};
use std::fs::{self, File};
use std::io::Write;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

const RATE: usize = 48_000;
const OFFLINE: Format = Format { rate_hz: 48_000.0, channels: 2, side_channels: 0, offline: true };

/// All tests of this process share one board, so they take turns.
fn my_turn() -> MutexGuard<'static, ()> {
    static TURN: Mutex<()> = Mutex::new(());
    TURN.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The board of this process, as set by cargo's configuration of the workspace.
fn folder() -> PathBuf {
    let named = std::env::var("PLUMBLINE_BOARD_DIR").expect("cargo sets it: run the tests through cargo");
    PathBuf::from(named.replace("{pid}", &std::process::id().to_string()))
}

fn layer(name: &str, role: Role, letter: char) -> Arc<Layer> {
    let layer = Layer::join();
    layer.change(|settings| settings.identity = Identity { name: name.into(), role, colour: None });
    layer.change(|settings| settings.session = letter);
    layer
}

/// Waits for the worker. The limit only keeps a broken worker from hanging the test.
fn wait_for(what: &str, mut done: impl FnMut() -> bool) {
    let start = Instant::now();
    while !done() {
        assert!(start.elapsed() < Duration::from_secs(60), "waited in vain for {what}");
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// Plays a second of song to several taps in parallel, each at its gain.
fn play(taps: &mut [(Tap, f32)], second: usize) {
    let sound = single(&Noise::new(7 + second as u64).white(RATE, 0.1));
    for (k, block) in sound.chunks(480).enumerate() {
        let song = i64::try_from(second * RATE + k * 480).ok();
        for (tap, gain) in taps.iter_mut() {
            let block: Vec<f32> = block.iter().map(|x| x * *gain).collect();
            tap.push(Stamp { song, playing: true }, &[&block, &block], &[]);
        }
    }
}

fn names(view: &View) -> Vec<String> {
    view.session.layers.iter().map(|l| l.identity.name.clone()).collect()
}

#[test]
fn a_mix_hears_the_shares_of_its_own_session_and_no_other() {
    let _turn = my_turn();
    let mix = layer("Tower", Role::Mix, 'C');
    let wind = layer("Wind", Role::Natural, 'C');
    let mallet = layer("Mallet\nand chisel", Role::Foley, 'C');
    let stranger = layer("Bells", Role::Music, 'D');
    mix.change(|settings| settings.watched = true);
    let all = [&mix, &wind, &mallet, &stranger];
    let gains = [1.5, 1.0, 0.5, 4.0];
    let mut taps: Vec<_> = all.iter().zip(gains).map(|(l, gain)| (l.open(OFFLINE).unwrap(), gain)).collect();
    wait_for("three layers", || mix.view().session.layers.len() == 3);
    (0..6).for_each(|second| play(&mut taps, second));
    drop(taps);
    wait_for("the audio to be measured", || all.iter().all(|l| l.is_settled()));

    let view = mix.view();
    assert_eq!(names(&view), ["Wind", "Mallet and chisel", "Tower"]);
    assert_eq!((view.session.letter, &view.session.notes[..]), ('C', &[][..]));
    // Energies of 1 and 0.25. The mix is the sum of both, which are the same sound: 10·lg(1.5² / 1.25) = 2.553 dB.
    for stretch in Stretch::ALL {
        let share = |role| view.session.part(role, stretch).unwrap().share.unwrap();
        assert!((share(Role::Natural) - 0.8).abs() < 1e-4, "{stretch:?}: {}", share(Role::Natural));
        assert!((share(Role::Foley) - 0.2).abs() < 1e-4, "{stretch:?}: {}", share(Role::Foley));
        let db = view.session.unaccounted[stretch.place()].db.unwrap();
        assert!((db - 2.553).abs() < 0.01, "{stretch:?}: {db}");
    }
    let secs = view.session.secs[Stretch::Programme.place()];
    assert!((secs - 6.0).abs() < 0.3, "{secs} s");
    assert!(view.session.layers.iter().all(|l| l.missed == 0));

    mallet.change(|settings| settings.session = 'D');
    wind.change(|settings| {
        settings.identity =
            Identity { name: "Wind and rain".into(), role: Role::Natural, colour: Some([1, 2, 3]) }
    });
    wait_for("the news", || names(&mix.view()) == ["Wind and rain", "Tower"]);
    drop(wind);
    wait_for("the departure", || names(&mix.view()) == ["Tower"]);
    mix.change(|settings| settings.session = 'D');
    wait_for("the other session", || names(&mix.view()) == ["Mallet and chisel", "Bells", "Tower"]);
    drop((mix, mallet, stranger));
    assert_eq!(fs::read_dir(folder()).map_or(0, Iterator::count), 0, "something was left on the board");
}

#[test]
fn the_layer_behind_a_mono_loss_is_found_from_the_sound_on_the_board() {
    let _turn = my_turn();
    let mix = layer("Tower", Role::Mix, 'F');
    let opposed = layer("Scaffold", Role::Design, 'F');
    let calm = layer("Yard", Role::Natural, 'F');
    mix.change(|settings| settings.watched = true);
    let all = [&mix, &opposed, &calm];
    let mut taps: Vec<Tap> = all.iter().map(|l| l.open(OFFLINE).unwrap()).collect();
    wait_for("three layers", || mix.view().session.layers.len() == 3);
    let mut at = 0;
    wait_for("an answer", || {
        // Another half second of both: one sound that cancels in mono, and a quieter one that remains.
        let frames = RATE / 2;
        let loud = single(&Noise::new(at as u64 + 1).white(frames, 0.1));
        let quiet = single(&Noise::new(at as u64 + 2).white(frames, 0.03));
        let flipped: Vec<f32> = loud.iter().map(|x| -x).collect();
        let sum = |a: &[f32]| -> Vec<f32> { a.iter().zip(&quiet).map(|(x, y)| x + y).collect() };
        let (left, right) = (sum(&loud), sum(&flipped));
        let stamp = Stamp { song: i64::try_from(at).ok(), playing: true };
        for (tap, block) in taps.iter_mut().zip([[&left, &right], [&loud, &flipped], [&quiet, &quiet]]) {
            tap.push(stamp, &[block[0], block[1]], &[]);
        }
        at += frames;
        mix.view().session.loss.is_some()
    });
    let loss = mix.view().session.loss.clone().unwrap();
    // Mono keeps the quieter one, 0.03² of 0.1² + 0.03²: 10·lg(0.0009 / 0.0109) = −10.83 dB. The narrowest band has
    // 2 s × 40 Hz = 80 independent values of each, so the standard error of their ratio is √(2/80), 0.64 dB: the
    // tolerance is three times that.
    assert!((loss.loss_db + 10.83).abs() < 1.9, "{loss:?}");
    assert!(loss.explained > 0.95, "{loss:?}");
    let first = &loss.left_out[0];
    assert_eq!(first.layers, [opposed.id()]);
    assert!(first.loss_db.unwrap().abs() < 0.1, "{loss:?}");
    drop(taps);
}

#[test]
fn hostile_files_are_counted_and_named_by_nobody() {
    let _turn = my_turn();
    let mix = layer("Tower", Role::Mix, 'E');
    mix.change(|settings| settings.watched = true);
    let mut taps = vec![(mix.open(OFFLINE).unwrap(), 1.0)];
    wait_for("the own layer", || names(&mix.view()) == ["Tower"]);
    let own = fs::read_dir(folder()).unwrap().next().unwrap().unwrap().path();
    let good = fs::read(own).unwrap();
    let mut chance = Noise::new(0x5EED);
    let mut held = Vec::new();
    for k in 0..120_usize {
        let mut bad = good.clone();
        // The head is the first 136 bytes; each of these files has an invalid head, or a wrong length.
        match k % 4 {
            0 => bad[k % 12] ^= 1,
            1 => (0..8).for_each(|_| bad[24 + chance.bits() as usize % 100] ^= 1 + chance.bits() as u8 % 255),
            2 => bad.truncate(chance.bits() as usize % good.len()),
            _ => bad.iter_mut().take(4_000).for_each(|b| *b = chance.bits() as u8),
        }
        let path = folder().join(format!("{k:016x}-1.layer"));
        // Locked as by a live owner, before anything is written: otherwise it is removed as a dead one's.
        let mut file = File::create_new(path).unwrap();
        file.lock().unwrap();
        file.write_all(&bad).unwrap();
        held.push(file);
    }
    let unreadable = |view: &View| {
        view.session.notes.iter().find_map(|note| match note {
            SessionNote::Unreadable { files } => Some(*files),
            _ => None,
        })
    };
    wait_for("the files to be found out", || unreadable(&mix.view()) == Some(120));
    play(&mut taps, 0);
    drop(taps);
    wait_for("the audio to be measured", || mix.is_settled());
    assert_eq!(names(&mix.view()), ["Tower"]);
    assert_eq!(mix.trouble(), None);
    assert_eq!(held.len(), 120);
    held.clear();
    for k in 0..120_usize {
        // The sweep removes files with the magic number, and the others once they are old: here at once.
        let _ = fs::remove_file(folder().join(format!("{k:016x}-1.layer")));
    }
    wait_for("the all-clear", || mix.view().session.notes.is_empty());
}
