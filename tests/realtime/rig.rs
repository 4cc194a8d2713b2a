//! Shared by these tests: turns, signals, and waiting for the worker.

use plumbline_live::{Format, Layer, Stamp, Tap};
use plumbline_measure::{Grid, Tenth};
use plumbline_programme::View;
use plumbline_tests::signal::Noise;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// All tests share the process's one worker. Tests of its start and end need it alone, so all tests take turns.
pub(crate) fn my_turn() -> MutexGuard<'static, ()> {
    static TURN: Mutex<()> = Mutex::new(());
    TURN.lock().unwrap_or_else(PoisonError::into_inner)
}

pub(crate) const STEREO: Format = Format { rate_hz: 48_000.0, channels: 2, side_channels: 0, offline: false };
/// The same format, rendered offline, so that a test may push faster than real time without loss.
pub(crate) const OFFLINE: Format = Format { offline: true, ..STEREO };

pub(crate) fn song(position: usize) -> Stamp {
    Stamp { song: i64::try_from(position).ok(), playing: true }
}

/// Stereo noise of a given RMS.
pub(crate) fn noise(seed: u64, frames: usize, rms: f64) -> [Vec<f32>; 2] {
    let mut source = Noise::new(seed);
    #[expect(clippy::cast_possible_truncation, reason = "audio is single precision")]
    let single = |x: f64| x as f32;
    [0, 1].map(|_| source.white(frames, rms).into_iter().map(single).collect())
}

/// Pushes stereo audio from song position `from` on, in blocks of `block` frames.
pub(crate) fn play(tap: &mut Tap, from: usize, audio: &[Vec<f32>; 2], block: usize) {
    let mut at = 0;
    while at < audio[0].len() {
        let end = (at + block).min(audio[0].len());
        tap.push(song(from + at), &[&audio[0][at..end], &audio[1][at..end]], &[]);
        at = end;
    }
}

/// Waits for the worker. The limit only keeps a broken worker from hanging the test.
pub(crate) fn wait_for(what: &str, mut done: impl FnMut() -> bool) {
    let start = Instant::now();
    while !done() {
        assert!(start.elapsed() < Duration::from_secs(60), "waited in vain for {what}");
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// Drops the tap, waits until all its audio is measured, and returns the view.
pub(crate) fn settle(layer: &Arc<Layer>, tap: Tap) -> Arc<View> {
    tap.close();
    layer.change(|settings| settings.watched = true);
    wait_for("the audio to be measured", || layer.is_settled());
    let view = layer.view();
    assert!(view.serial > 0 && !view.clock.running);
    view
}

/// All tenths of the song, ascending.
pub(crate) fn song_tenths(layer: &Layer) -> Vec<Tenth> {
    layer.with_history(|h| h.range(Grid::Song, -100_000..100_000).copied().collect())
}

/// Number of frames measured in some tenths.
pub(crate) fn heard(tenths: &[Tenth]) -> usize {
    tenths.iter().map(|t| t.sums.frames as usize).sum()
}
