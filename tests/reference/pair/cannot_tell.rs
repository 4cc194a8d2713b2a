//! Signals that must never give a delay.

use super::{RATE, harmonic, noisy, speech_like, tracked, trailing, windows};
use plumbline_measure::{FrameRate, SampleRate};
use plumbline_programme::pair::{Advice, CannotTell, Judged, NoFix, Track};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, mixed, sine};

/// Samples in 6 s.
const FRAMES: usize = 288_000;

/// A name, two signals, and the correct reasons for them.
type Negative = (String, [Vec<f64>; 2], &'static [CannotTell]);

/// Pairs of signals without a measurable delay.
fn negatives() -> Vec<Negative> {
    use CannotTell::{Ambiguous, OneSilent, Tonal, TooQuiet, Unrelated};
    const PERIODIC: &[CannotTell] = &[Tonal, Ambiguous, Unrelated];
    const APART: &[CannotTell] = &[Unrelated, Ambiguous];
    let mut noise = Noise::new(77);
    let mut all: Vec<Negative> = Vec::new();
    for exponent in [0.0, 0.5, 1.0] {
        let pair = [0, 1].map(|_| noise.coloured(FRAMES, 0.1, exponent, 20.0, 20_000.0, RATE));
        all.push((format!("unrelated noises, amplitude by f^−{exponent}"), pair, APART));
    }
    let rumbles = [0, 1].map(|_| noise.coloured(FRAMES, 0.1, 0.0, 20.0, 120.0, RATE));
    all.push(("unrelated rumbles".into(), rumbles, APART));
    let voices = [0, 1].map(|_| speech_like(FRAMES, &mut noise));
    all.push(("unrelated bursts in one rhythm".into(), voices, APART));
    for hz in [50.0, 220.0, 1_000.0, 5_000.0] {
        let tone = sine(FRAMES + 1_000, 0.2, hz, 0.3, RATE);
        let late = [tone[137..137 + FRAMES].to_vec(), tone[..FRAMES].to_vec()];
        all.push((format!("a tone of {hz} Hz"), late.clone(), PERIODIC));
        let late = late.map(|side| noisy(&side, 30.0, &mut noise));
        all.push((format!("a tone of {hz} Hz with noise"), late, PERIODIC));
    }
    let [low, high] = [220.0, 330.0].map(|hz| harmonic(FRAMES + 1_000, 0.1, hz, 0.7));
    all.push(("a musical tone each".into(), [low[..FRAMES].to_vec(), high[..FRAMES].to_vec()], PERIODIC));
    let chord = mixed(&low, &high, 1.0);
    let late = [chord[500..500 + FRAMES].to_vec(), chord[..FRAMES].to_vec()];
    all.push(("two musical tones in both".into(), late.clone(), PERIODIC));
    let late = late.map(|side| noisy(&side, 40.0, &mut noise));
    all.push(("two musical tones in both, with noise".into(), late, PERIODIC));
    let odd = mixed(&sine(FRAMES, 0.1, 221.3, 0.1, RATE), &sine(FRAMES, 0.1, 317.9, 0.2, RATE), 1.0);
    all.push(("two sines in both".into(), trailing(&odd, 100.4, FRAMES - 2_000), PERIODIC));
    for by in [96.0, 240.0, 960.0] {
        let source = noise.pink(FRAMES + 10_000, 0.1, RATE);
        let [dry, late] = trailing(&source, by, FRAMES);
        all.push((
            format!("complementary combs of {by} samples"),
            [mixed(&dry, &late, 1.0), mixed(&dry, &late, -1.0)],
            &[Ambiguous],
        ));
    }
    let pink = noise.pink(FRAMES, 0.1, RATE);
    let still = vec![0.0; FRAMES];
    all.push(("silence on one side".into(), [pink.clone(), still.clone()], &[OneSilent]));
    all.push(("silence on the other".into(), [still.clone(), pink.clone()], &[OneSilent]));
    let faint: Vec<f64> = pink.iter().map(|x| x * 1e-5).collect();
    all.push(("one far under the other".into(), [pink, faint.clone()], &[OneSilent]));
    all.push(("silence on both".into(), [still.clone(), still], &[TooQuiet]));
    all.push(("both under the gate".into(), [faint.clone(), faint], &[TooQuiet]));
    let hum = harmonic(FRAMES + 1_000, 0.1, 50.0, 0.3);
    let hums = [hum[311..311 + FRAMES].to_vec(), hum[..FRAMES].to_vec()];
    all.push(("a hum on both".into(), hums.clone(), PERIODIC));
    for db in [60.0, 30.0, 10.0] {
        let hums = hums.clone().map(|side| noisy(&side, db, &mut noise));
        all.push((format!("a hum on both over unrelated noise, {db} dB"), hums, PERIODIC));
    }
    all
}

#[test]
fn what_has_no_delay_gets_none() {
    let mut cases = Cases::new("hard negatives: no number in any window, nor from the track");
    let negatives = negatives();
    for (name, [first, second], reasons) in &negatives {
        let mut track = Track::new();
        let mut told = Vec::new();
        for (end, window) in windows(first, second) {
            track.push(end, &window);
            match window.outcome {
                Ok(found) => cases.holds(format!("{name}, window ending at {end} s: {found:?}"), false),
                Err(reason) => {
                    if !told.contains(&reason) {
                        told.push(reason);
                    }
                }
            }
        }
        println!("{name}: {told:?}");
        cases.holds(format!("{name}: {told:?}"), told.iter().all(|reason| reasons.contains(reason)));
        let reading = track.reading();
        cases.holds(format!("{name}, track: {:?}", reading.outcome), reading.outcome.is_err());
        let rate = SampleRate::new(48_000).expect("a rate");
        let judged = Judged { spaced_secs: None, secs: 10.0 };
        let advice = Advice::of(&reading, judged, rate, FrameRate::F25, 20.0);
        let left = matches!(advice, Advice::Leave(NoFix::CannotTell(_) | NoFix::Room | NoFix::Unrelated));
        cases.holds(format!("{name}, advice: {advice:?}"), left);
        let gains = reading.thirds.iter().filter(|third| third.gain_db.get().is_some()).count();
        cases.holds(format!("{name}: {gains} gains predicted"), gains == 0);
    }
    cases.end(4 * negatives.len());
}

#[test]
fn too_little_sound_is_said_to_be_too_little() {
    let mut cases = Cases::new("short input");
    let pink = Noise::new(3).pink(95_999, 0.1, RATE);
    let mut with = plumbline_programme::pair::Correlator::new(super::rate());
    for frames in [0, 1, 2, 1_000, 95_999] {
        let window = super::compared(&mut with, &pink[..frames], &pink[..frames]);
        cases.holds(format!("{frames}: {:?}", window.outcome), window.outcome == Err(CannotTell::TooShort));
    }
    let reading = tracked(&pink[..95_000], &pink[..95_000]);
    cases.holds("no window", reading.outcome == Err(CannotTell::TooShort));
    cases.end(6);
}
