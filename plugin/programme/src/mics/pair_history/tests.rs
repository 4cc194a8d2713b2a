use super::*;
use crate::pair::Spectrum;
use plumbline_measure::{Grid, SampleRate};

/// A low rate: windows are short and quick to transform.
const RATE_HZ: u32 = 22_050;
const WINDOW: usize = 2 * RATE_HZ as usize;

fn rate() -> SampleRate {
    SampleRate::new(RATE_HZ).unwrap()
}

fn song(sample: i64) -> Position {
    Position { grid: Grid::Song, sample }
}

/// White noise, the same on every run, from a hash (the finaliser of SplitMix64).
fn noise(seed: u64) -> Vec<f32> {
    let sample = |n: u64| {
        let mut z = n.wrapping_add(seed << 40).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        let [_, low, high, ..] = z.to_le_bytes();
        f32::from(i16::from_le_bytes([low, high])) / 131_072.0
    };
    (0..WINDOW as u64).map(sample).collect()
}

/// The spectra of two sounds, one window each.
fn spectra(correlator: &mut Correlator, first: &[f32], second: &[f32]) -> [Spectrum; 2] {
    [first, second].map(|sound| {
        let mut spectrum = Spectrum::default();
        correlator.spectrum(sound, &mut spectrum);
        spectrum
    })
}

#[test]
fn silence_keeps_what_is_known_and_makes_it_old() {
    let mut correlator = Correlator::new(rate());
    let mut history = PairHistory::new([Mic::Left, Mic::Right], false);
    let sound = noise(3);
    let take = |history: &mut PairHistory, correlator: &mut Correlator, sound: &[f32]| {
        let [first, second] = spectra(correlator, sound, sound);
        let window = correlator.compare(&first, &second);
        history.push(&window, (correlator, [&first, &second]), song(7), 0.25, 1.0);
    };
    take(&mut history, &mut correlator, &vec![0.0; WINDOW]);
    let line = history.line(RATE_HZ, 1.0);
    assert_eq!((line.reading.outcome, line.heard), (Err(CannotTell::TooQuiet), None));
    for _ in 0..4 {
        take(&mut history, &mut correlator, &sound);
    }
    assert!(history.line(RATE_HZ, 1.0).reading.outcome.is_ok());
    // Longer than windows vote.
    for _ in 0..80 {
        take(&mut history, &mut correlator, &vec![0.0; WINDOW]);
    }
    let line = history.line(RATE_HZ, 1.0);
    assert_eq!((line.quiet_secs, line.heard), (20.0, Some(song(7))));
    assert!(line.reading.outcome.is_ok(), "the reading holds while nothing sounds");
    // After the first sound there are too few windows to judge: the known reading stays.
    take(&mut history, &mut correlator, &sound);
    let line = history.line(RATE_HZ, 1.0);
    assert!(line.reading.outcome.is_ok() && line.quiet_secs == 0.0);
    let other = noise(4);
    for _ in 0..3 {
        let [first, second] = spectra(&mut correlator, &sound, &other);
        let window = correlator.compare(&first, &second);
        history.push(&window, (&mut correlator, [&first, &second]), song(8), 0.25, 1.0);
    }
    let line = history.line(RATE_HZ, 1.0);
    assert_eq!(line.reading.outcome, Err(CannotTell::Unrelated), "by then what comes speaks");
}

/// Windows come a quarter as often once a pair is known. That must not count as evidence, or the reading at the moment
/// when the step changes would stand for the whole programme.
#[test]
fn the_best_reading_is_where_the_two_share_most_whatever_the_step_between_windows() {
    let mut correlator = Correlator::new(rate());
    let mut history = PairHistory::new([Mic::Left, Mic::Right], true);
    let (sound, other) = (noise(5), noise(6));
    let blend: Vec<f32> = sound.iter().zip(&other).map(|(a, b)| a + 0.7 * b).collect();
    let mut push = |second: &[f32], step_secs: f64, windows: usize| {
        let [first, second] = spectra(&mut correlator, &sound, second);
        for _ in 0..windows {
            let window = correlator.compare(&first, &second);
            history.push(&window, (&mut correlator, [&first, &second]), song(1), step_secs, 1.0);
        }
    };
    push(&blend, 0.25, 48);
    push(&sound, 1.0, 30);
    let best = history.whole().and_then(|whole| whole.best.as_ref()).expect("a delay");
    assert!(best.end_secs > 22.0, "taken at {} s, of which the first 12 s share less", best.end_secs);
    assert!(best.reading.coherence.is_some_and(|coherence| coherence > 0.9), "{:?}", best.reading.coherence);
}
