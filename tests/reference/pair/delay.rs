//! Delay and polarity by cross-correlation: Knapp, Carter, IEEE Trans. ASSP 24 (1976), and the grid of fractional
//! delays.

use super::{RATE, WINDOW, compared, noisy, rate, samples, speech_like, trailing};
use plumbline_programme::pair::{CannotTell, Correlator, Polarity};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, delayed, mixed, sine};

/// Samples of the published cases.
const LENGTH: usize = 32_768;

#[test]
fn published_delays() {
    let mut cases = Cases::new("Knapp, Carter 1976: delays and polarity");
    let mut with = Correlator::over(rate(), LENGTH, 0.0);
    let white = Noise::new(1).white(LENGTH, 0.1);
    for by in [1, 37, 500, 2_880] {
        let mut late = white.clone();
        late.rotate_right(by);
        let window = compared(&mut with, &white, &late);
        cases.near(format!("D1, {by} samples, circular"), samples(window.outcome), by as f64, 0.001);
        cases.near(format!("D1, {by} samples, height"), window.peak.map(|p| p.1), 1.0, 1e-4);
        let back = compared(&mut with, &late, &white);
        cases.near(format!("D1, −{by} samples"), samples(back.outcome), -(by as f64), 0.001);
        let inverted: Vec<f64> = late.iter().map(|x| -x).collect();
        let window = compared(&mut with, &white, &inverted);
        cases.near(format!("D3, {by} samples"), samples(window.outcome), by as f64, 0.001);
        cases.near(format!("D3, {by} samples, height"), window.peak.map(|p| p.1), -1.0, 1e-4);
        let polarity = window.outcome.map(|found| found.polarity);
        cases.holds(format!("D3, {by} samples, {polarity:?}"), polarity == Ok(Polarity::Inverted));
    }
    // A linear, not circular, shift by 37 in 32 768.
    let mut heights = Vec::new();
    for seed in 0..40 {
        let long = Noise::new(100 + seed).white(LENGTH + 37, 0.1);
        heights.push(compared(&mut with, &long[37..], &long[..LENGTH]).peak.map_or(0.0, |p| p.1));
    }
    let mean = heights.iter().sum::<f64>() / heights.len() as f64;
    // The expected 0.9971 is from one draw; D5 at 29.5 dB, to which 37 of 32 768 samples correspond, gives 0.9955. The
    // tolerance for heights covers both.
    cases.near("D1, linear shift of 37 in 32 768, height", mean, 0.9971, 0.005);
    let window = compared(&mut with, &white, &delayed(&white, 3.3));
    cases.near("D2, 3.3 samples", samples(window.outcome), 3.3, 0.001);
    for hz in [50.0, 440.0, 1_000.0, 7_321.0] {
        let tone = sine(LENGTH + 100, 0.3, hz, 0.4, RATE);
        let window = compared(&mut with, &tone[100..], &tone[..LENGTH]);
        let honest = matches!(window.outcome, Err(CannotTell::Tonal | CannotTell::Ambiguous));
        cases.holds(format!("D4, {hz} Hz: {:?}", window.outcome), honest);
    }
    cases.end(30);
}

#[test]
fn published_peak_heights() {
    let mut cases = Cases::new("height of the peak of one window (computed by simulation, not published)");
    let mut with = Correlator::over(rate(), LENGTH, 0.0);
    let heights = [
        (-10.0, 0.071),
        (-5.0, 0.188),
        (0.0, 0.407),
        (5.0, 0.654),
        (10.0, 0.833),
        (20.0, 0.972),
        (30.0, 0.996),
        (40.0, 0.9995),
    ];
    for (db, expected) in heights {
        let mut sum = 0.0;
        let runs = 16;
        for seed in 0..runs {
            let mut noise = Noise::new(1_000 + seed);
            let source = noise.white(LENGTH, 0.1);
            let mut late = source.clone();
            late.rotate_right(37);
            let (a, b) = (noisy(&source, db, &mut noise), noisy(&late, db, &mut noise));
            sum += compared(&mut with, &a, &b).peak.map_or(0.0, |p| p.1);
        }
        cases.near(format!("D5, {db} dB"), sum / runs as f64, expected, 0.005);
    }
    cases.end(8);
}

#[test]
fn every_fraction_of_a_sample_at_every_lag() {
    let mut cases = Cases::new("ten steps of 0.1 sample at 40 lags over ±60 ms, 20 dB signal to noise");
    let mut with = Correlator::new(rate());
    for kind in ["pink noise", "speech-like bursts"] {
        let mut worst = 0.0_f64;
        for lag in 0..40 {
            let mut noise = Noise::new(7_000 + lag);
            let source = match kind {
                "pink noise" => noise.pink(WINDOW + 8_000, 0.1, RATE),
                _ => speech_like(WINDOW + 8_000, &mut noise),
            };
            // From −60 ms to just under +60 ms.
            let whole = -2_880.0 + (lag as f64 * 5_759.0 / 39.0).floor();
            for tenth in 0..10 {
                let by = whole + f64::from(tenth) / 10.0;
                let [first, second] = trailing(&source, by, WINDOW);
                let sign = if tenth % 2 == 0 { 1.0 } else { -1.0 };
                let second: Vec<f64> = second.iter().map(|x| x * sign).collect();
                let (first, second) = (noisy(&first, 20.0, &mut noise), noisy(&second, 20.0, &mut noise));
                let window = compared(&mut with, &first, &second);
                let found = samples(window.outcome);
                worst = worst.max(found.map_or(f64::INFINITY, |found| (found - by).abs()));
                cases.near(format!("{kind}, {by} samples"), found, by, 0.05);
                let polarity = window.outcome.map(|found| found.polarity.sign());
                cases.holds(format!("{kind}, {by} samples, polarity {polarity:?}"), polarity == Ok(sign));
            }
        }
        println!("{kind}: worst error {worst:.4} samples");
    }
    cases.end(1_600);
}

#[test]
fn narrow_sources_are_told_too() {
    let mut cases = Cases::new("sources of a few octaves and less, 20 dB signal to noise");
    let mut with = Correlator::new(rate());
    for (name, low, high, within) in
        [("rumble", 20.0, 120.0, 2.0), ("an octave", 500.0, 1_000.0, 0.2), ("hiss", 6_000.0, 12_000.0, 0.02)]
    {
        for by in [150.3, -1_500.7, 2_800.5] {
            let mut noise = Noise::new(91);
            let source = noise.coloured(WINDOW + 8_000, 0.1, 0.0, low, high, RATE);
            let [first, second] = trailing(&source, by, WINDOW);
            // The noise has the same band; outside it each microphone is silent.
            let own = [0, 1].map(|_| noise.coloured(WINDOW, 0.01, 0.0, low, high, RATE));
            let window = compared(&mut with, &mixed(&first, &own[0], 1.0), &mixed(&second, &own[1], 1.0));
            println!("{name}, {by}: {:?}", window.outcome);
            cases.near(format!("{name}, {by} samples"), samples(window.outcome), by, within);
        }
    }
    // A rumble, with the microphones' own noise at all higher frequencies.
    for by in [150.3, -1_500.7] {
        let mut noise = Noise::new(92);
        let source = noise.coloured(WINDOW + 8_000, 0.1, 0.0, 20.0, 120.0, RATE);
        let [first, second] = trailing(&source, by, WINDOW).map(|side| noisy(&side, 20.0, &mut noise));
        let window = compared(&mut with, &first, &second);
        println!("rumble under noise, {by}: {:?}", window.outcome);
        cases.near(format!("rumble under noise, {by} samples"), samples(window.outcome), by, 2.0);
    }
    cases.end(11);
}
