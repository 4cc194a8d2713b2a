//! Pairs on which the advice was once wrong, each with the right advice. The signals follow formulas; a filter or room
//! has its response written out.

use plumbline_measure::{FrameRate, SampleRate};
use plumbline_programme::pair::{Advice, CannotTell, Judged, NoFix, Polarity};
use plumbline_programme::{LayerId, Mic, PairLine};
use plumbline_tests::cases::Cases;
use plumbline_tests::pairs::whole_line;
use plumbline_tests::signal::{Noise, delayed, filtered, mixed, single};
use plumbline_tests::sources::voice;
use realfft::num_complex::Complex;

const HZ: u32 = 48_000;
const FS: f64 = 48_000.0;
const FRAMES: usize = 20 * 48_000;
const LAYERS: [Mic; 2] = [Mic::Layer(LayerId(1)), Mic::Layer(LayerId(2))];
const STEREO: [Mic; 2] = [Mic::Left, Mic::Right];

fn compared_as(mics: [Mic; 2], first: &[f64], second: &[f64]) -> PairLine {
    whole_line(HZ, mics, &single(first), &single(second))
}

fn advised(line: &PairLine) -> Advice {
    line.advice(FrameRate::F25, 20.0)
}

fn gained(sound: &[f64], gain: f64) -> Vec<f64> {
    sound.iter().map(|x| x * gain).collect()
}

#[test]
fn sound_further_apart_than_the_range_is_said_to_be() {
    let mut cases = Cases::new("delays beyond ±60 ms, up to folds of the search");
    let mut noise = Noise::new(340);
    for ms in [61.0, 100.0, 150.0, 190.0, 250.0, 340.0, 350.0, 440.0, 750.0] {
        let white = noise.white(FRAMES, 0.1);
        let line = compared_as(LAYERS, &white, &delayed(&white, ms * FS / 1e3));
        let beyond = Advice::Leave(NoFix::CannotTell(CannotTell::BeyondRange));
        cases.holds(format!("{ms} ms: {:?}", advised(&line)), advised(&line) == beyond);
    }
    cases.end(9);
}

#[test]
fn a_second_microphone_behind_a_low_pass_is_moved_and_not_inverted() {
    let mut cases = Cases::new("low-passed at 100 samples: move only");
    let mut noise = Noise::new(800);
    for hz in [800.0, 400.0, 200.0] {
        let white = noise.pink(FRAMES, 0.1, FS);
        // Second order, Q = 1/√2 (Butterworth).
        let low = filtered(&white, FS, |f| {
            let s = Complex::new(0.0, f / hz);
            Complex::new(1.0, 0.0) / (s * s + s * std::f64::consts::SQRT_2 + 1.0)
        });
        let line = compared_as(LAYERS, &white, &delayed(&low, 100.0));
        let right = match advised(&line) {
            Advice::Repair(fix) => !fix.flip && (99..=102).contains(&fix.move_earlier),
            Advice::Leave(_) => false,
        };
        cases.holds(format!("{hz} Hz: {:?}", advised(&line)), right);
    }
    cases.end(3);
}

#[test]
fn two_delays_are_two_stretches_with_their_times() {
    let mut cases = Cases::new("100 samples, then 500");
    let noise = Noise::new(100).pink(FRAMES, 0.1, FS);
    let mut second = delayed(&noise, 100.0);
    second[FRAMES / 2..].copy_from_slice(&delayed(&noise, 500.0)[FRAMES / 2..]);
    let line = compared_as(LAYERS, &noise, &second);
    let stretches = line.advice_by_stretch(FrameRate::F25, 20.0);
    cases.holds(format!("{} stretches", stretches.len()), stretches.len() == 2);
    for ((stretch, advice), (samples, from, to)) in
        stretches.iter().zip([(100, 0.0, 10.0), (500, 10.0, 20.0)])
    {
        let near = (stretch.start_secs - from).abs() <= 1.0 && (stretch.end_secs - to).abs() <= 1.0;
        cases.holds(format!("{} to {} s", stretch.start_secs, stretch.end_secs), near);
        let moved = matches!(advice, Advice::Repair(fix) if fix.move_earlier == samples && !fix.flip);
        cases.holds(format!("{advice:?}"), moved);
    }
    cases.end(5);
}

#[test]
fn clocks_that_differ_are_told_before_any_move() {
    let mut cases = Cases::new("drift");
    let frames = 60 * 48_000;
    let noise = Noise::new(350).pink(frames, 0.1, FS);
    for ppm in [350.0, -120.0] {
        let at = |n: usize| {
            let place = (n as f64 * (1.0 - ppm * 1e-6)).clamp(0.0, (frames - 2) as f64);
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a place in the sound"
            )]
            let whole = place as usize;
            noise[whole] + (noise[whole + 1] - noise[whole]) * place.fract()
        };
        let second: Vec<f64> = (0..frames).map(at).collect();
        let line = compared_as(LAYERS, &noise, &second);
        let told =
            matches!(advised(&line), Advice::Leave(NoFix::Drifts(drift)) if (drift.ppm - ppm).abs() < 1.0);
        cases.holds(format!("{ppm} ppm: {:?}", advised(&line)), told);
    }
    cases.end(2);
}

#[test]
fn what_a_move_would_harm_or_not_help_is_left() {
    let mut cases = Cases::new("no move");
    let mut noise = Noise::new(400);
    let pink = noise.pink(FRAMES, 0.1, FS);
    let leaves =
        |advice: &Advice, wanted: &[NoFix]| matches!(advice, Advice::Leave(why) if wanted.contains(why));
    for samples in [0.2, 0.4, 0.49] {
        let line = compared_as(LAYERS, &pink, &delayed(&pink, samples));
        let advice = advised(&line);
        let same = line.reading.outcome.is_ok_and(|agreed| agreed.polarity == Polarity::Same);
        cases
            .holds(format!("{samples} samples: {advice:?}"), same && leaves(&advice, &[NoFix::NothingToWin]));
    }
    // A near-coincident pair: 0.3 ms and 3 dB.
    let near = gained(&delayed(&pink, 0.3e-3 * FS), 0.708);
    let advice = advised(&compared_as(STEREO, &pink, &near));
    cases.holds(format!("0.3 ms and 3 dB: {advice:?}"), leaves(&advice, &[NoFix::Spaced]));
    // The halves of a comb.
    let late = gained(&delayed(&pink, 0.012 * FS), 0.9);
    let advice = advised(&compared_as(STEREO, &mixed(&pink, &late, 1.0), &mixed(&pink, &late, -1.0)));
    let ambiguous = NoFix::CannotTell(CannotTell::Ambiguous);
    cases.holds(format!("halves of a comb: {advice:?}"), leaves(&advice, &[ambiguous]));
    // Two talkers, two lavaliers, 12 dB of bleed 6 ms late: talking at once, and in turns of 3.5 s.
    let [one, two] = [0, 1].map(|_| voice(&mut noise, FRAMES, FS));
    for turns in [false, true] {
        let gate = |n: usize| !turns || (n / 168_000).is_multiple_of(2);
        let first: Vec<f64> = one.iter().enumerate().map(|(n, x)| if gate(n) { *x } else { 0.0 }).collect();
        let open = |n: usize| !turns || !gate(n);
        let second: Vec<f64> = two.iter().enumerate().map(|(n, x)| if open(n) { *x } else { 0.0 }).collect();
        let [late_first, late_second] = [&first, &second].map(|talker| delayed(talker, 0.006 * FS));
        let advice = advised(&compared_as(
            LAYERS,
            &mixed(&first, &late_second, 0.25),
            &mixed(&second, &late_first, 0.25),
        ));
        let several = matches!(advice, Advice::Leave(NoFix::SeveralDelays(_) | NoFix::CannotTell(_)));
        cases.holds(format!("two lavaliers, by turns {turns}: {advice:?}"), several);
    }
    // Opposed but with little in common: widened by 150 %.
    let side = noise.pink(FRAMES, 0.1, FS);
    let advice = advised(&compared_as(STEREO, &mixed(&pink, &side, 1.5), &mixed(&pink, &side, -1.5)));
    cases.holds(format!("side at 150 %: {advice:?}"), leaves(&advice, &[NoFix::Opposed]));
    cases.end(8);
}

#[test]
fn a_faint_agreement_is_not_told() {
    let mut cases = Cases::new("confidence under 0.13");
    let noise = Noise::new(13).pink(FRAMES, 0.1, FS);
    let line = compared_as(LAYERS, &noise, &delayed(&noise, 200.0));
    let mut reading = line.reading;
    if let Ok(agreed) = &mut reading.outcome {
        agreed.confidence = 0.12;
    }
    let judged = Judged { spaced_secs: None, secs: 10.0 };
    let rate = SampleRate::new(HZ).expect("a rate");
    let advice = Advice::of(&reading, judged, rate, FrameRate::F25, 20.0);
    cases.holds(format!("{advice:?}"), advice == Advice::Leave(NoFix::CannotTell(CannotTell::Unsure)));
    cases.end(1);
}
