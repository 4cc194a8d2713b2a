//! Loop, rate change, reset, and sound without a song position, checked by tenth.

use crate::rig::{OFFLINE, heard, my_turn, noise, play, settle, song_tenths, wait_for};
use plumbline_live::{Format, Layer, Stamp};
use plumbline_measure::{Grid, StereoPower, Tenth};

/// Level of a tenth from its time-domain sums, dBFS.
fn level_dbfs(tenth: &Tenth) -> f64 {
    let n = f64::from(tenth.sums.frames);
    StereoPower { ll: tenth.sums.ll / n, rr: tenth.sums.rr / n, ..StereoPower::default() }.level_dbfs()
}

/// Level of unrelated noise of an RMS in both channels, dBFS: 10·lg(2·rms²).
fn noise_dbfs(rms: f64) -> f64 {
    10.0 * (2.0 * rms * rms).log10()
}

/// Tolerance: the power of 9 600 samples of white noise scatters by √(2/9600), 0.06 dB; five times that.
const SCATTER_DB: f64 = 0.3;

#[test]
fn a_later_pass_replaces_the_earlier_unless_less_was_heard() {
    let _turn = my_turn();
    let layer = Layer::join();
    let mut tap = layer.open(OFFLINE).unwrap();
    play(&mut tap, 0, &noise(20, 48_000, 0.1), 512);
    // The loop starts over at 0.25 s, in the middle of a tenth, and runs to 0.65 s.
    play(&mut tap, 12_000, &noise(21, 19_200, 0.01), 512);
    let view = settle(&layer, tap);
    assert_eq!(view.health.jumps, 1);
    let tenths = song_tenths(&layer);
    assert_eq!(tenths.len(), 10);
    assert!(tenths.iter().all(Tenth::is_whole));
    for (k, tenth) in tenths.iter().enumerate() {
        let rms = if (3..6).contains(&k) { 0.01 } else { 0.1 };
        let off = level_dbfs(tenth) - noise_dbfs(rms);
        assert!(off.abs() < SCATTER_DB, "tenth {k} is off by {off} dB");
    }
}

#[test]
fn tenths_are_time_and_stay_over_a_change_of_rate() {
    let _turn = my_turn();
    let layer = Layer::join();
    let mut tap = layer.open(OFFLINE).unwrap();
    play(&mut tap, 0, &noise(22, 48_000, 0.1), 512);
    settle(&layer, tap);
    let mut tap = layer.open(Format { rate_hz: 44_100.0, ..OFFLINE }).unwrap();
    // From 0.5 s to 2 s, partly a second pass at the other rate.
    play(&mut tap, 22_050, &noise(23, 66_150, 0.01), 512);
    let view = settle(&layer, tap);
    assert_eq!(view.clock.rate_hz, 44_100);
    let tenths = song_tenths(&layer);
    let lengths: Vec<u32> = tenths.iter().map(|t| t.length).collect();
    assert_eq!(lengths, [[4_800; 5].as_slice(), &[4_410; 15]].concat());
    assert!(tenths.iter().all(Tenth::is_whole));
}

#[test]
fn a_reset_clears_the_programme_and_keeps_the_history() {
    let _turn = my_turn();
    let layer = Layer::join();
    layer.change(|settings| settings.watched = true);
    let mut tap = layer.open(OFFLINE).unwrap();
    play(&mut tap, 0, &noise(24, 91_200, 0.5), 512);
    // A quiet tenth before the cut: the true-peak filter has a memory of a few samples.
    play(&mut tap, 91_200, &noise(25, 4_800, 0.01), 512);
    wait_for("the first part", || layer.view().clock.position.sample >= 95_000);
    tap.reset();
    play(&mut tap, 96_000, &noise(26, 96_000, 0.01), 512);
    let view = settle(&layer, tap);
    assert_eq!(song_tenths(&layer).len(), 40);
    assert_eq!(layer.with_history(plumbline_programme::History::epoch), 1);
    // 2 s since the reset; with the two before it, it would be four.
    assert!((view.loudness.measured_secs - 2.0).abs() < 0.11, "{} s", view.loudness.measured_secs);
    // White noise of RMS 0.5 reads near −3 LUFS; only the quiet part, 34 dB below it, is left.
    let integrated = view.loudness.integrated_lufs.unwrap();
    assert!((-45.0..-30.0).contains(&integrated), "{integrated} LUFS");
    assert!(view.loudness.true_peak_dbtp[0].unwrap() < -20.0);
}

#[test]
fn sound_without_a_song_position_lies_on_the_clock_grid() {
    let _turn = my_turn();
    let layer = Layer::join();
    let [left, right] = noise(27, 48_000, 0.1);
    let mut cases = 0;
    for stamp in [Stamp { song: Some(5), playing: false }, Stamp { song: None, playing: true }] {
        let mut tap = layer.open(OFFLINE).unwrap();
        tap.push(stamp, &[&left, &right], &[]);
        let view = settle(&layer, tap);
        assert_eq!(view.clock.position.grid, Grid::Clock);
        cases += 1;
    }
    assert_eq!(cases, 2);
    assert!(song_tenths(&layer).is_empty());
    let clock: Vec<Tenth> = layer.with_history(|h| h.range(Grid::Clock, 0..i64::MAX).copied().collect());
    // The second stretch came faster than real time and was placed after the first, so no tenth is covered twice except
    // the one where they meet, whose larger part is kept.
    assert!(heard(&clock) > 2 * 48_000 - 4_800 && clock.len() >= 20);
}
