//! Comb filtering of a blend and the gain of a repair: the two-path comb |H|² = 1 + g² + 2g·cos ωτ, and the predicted
//! gain against repaired blends.

use super::{RATE, mixed, noisy, rate, tracked, trailing};
use plumbline_measure::FrameRate;
use plumbline_measure::bands::{THIRDS, third_span};
use plumbline_programme::pair::{Advice, Comb, Judged, NoFix, Polarity, Reading, Side};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, analysed};

#[test]
fn comb_by_delay() {
    let mut cases = Cases::new("two-path comb |H|² = 1 + g² + 2g·cos ωτ: notches by delay");
    let table: [(f64, [f64; 3], f64); 8] = [
        (0.1, [5_000.0, 15_000.0, 25_000.0], 10_000.0),
        (0.25, [2_000.0, 6_000.0, 10_000.0], 4_000.0),
        (0.5, [1_000.0, 3_000.0, 5_000.0], 2_000.0),
        (1.0, [500.0, 1_500.0, 2_500.0], 1_000.0),
        (2.0, [250.0, 750.0, 1_250.0], 500.0),
        (5.0, [100.0, 300.0, 500.0], 200.0),
        (10.0, [50.0, 150.0, 250.0], 100.0),
        (20.0, [25.0, 75.0, 125.0], 50.0),
    ];
    for (ms, notches, spacing) in table {
        let comb = Comb::new(-ms * 1e-3, 0.0, Polarity::Same);
        let found: Vec<f64> = comb.notches_hz(30_000.0).take(3).collect();
        for (k, expected) in notches.into_iter().enumerate() {
            cases.near(format!("{ms} ms, notch {k}"), found.get(k).copied(), expected, 1e-6);
        }
        cases.near(format!("{ms} ms, spacing"), comb.spacing_hz(), spacing, 1e-6);
        cases.near(format!("{ms} ms, first peak"), comb.peaks_hz(30_000.0).nth(1), spacing, 1e-6);
        // With polarity inverted, notches and peaks swap.
        let comb = Comb::new(ms * 1e-3, 0.0, Polarity::Inverted);
        let found: Vec<f64> = comb.notches_hz(30_000.0).take(2).collect();
        cases.near(format!("{ms} ms inverted, notch at 0"), found.first().copied(), 0.0, 0.0);
        cases.near(format!("{ms} ms inverted, notch"), found.get(1).copied(), spacing, 1e-6);
        cases.near(format!("{ms} ms inverted, peak"), comb.peaks_hz(30_000.0).next(), notches[0], 1e-6);
    }
    let comb = Comb::new(48.0 / RATE, -6.020_599_913, Polarity::Same);
    cases.near("48 samples, g = 0.5, 500 Hz", comb.gain_db(500.0), -6.0206, 1e-4);
    cases.near("48 samples, g = 0.5, 1 kHz", comb.gain_db(1_000.0), 3.5218, 1e-4);
    cases.holds("no delay, no comb", Comb::new(0.0, 0.0, Polarity::Same).notches_hz(1e9).next().is_none());
    cases.end(67);
}

#[test]
fn comb_by_level() {
    let mut cases = Cases::new("two-path comb |H|² = 1 + g² + 2g·cos ωτ: ripple by level difference");
    let infinity = f64::INFINITY;
    let table = [
        (0.0, 1.0, 6.02, -infinity, infinity, 3.01),
        (0.5, 0.9441, 5.77, -25.05, 30.82, 2.77),
        (1.0, 0.8913, 5.53, -19.27, 24.81, 2.54),
        (2.0, 0.7943, 5.08, -13.74, 18.81, 2.12),
        (3.0, 0.7079, 4.65, -10.69, 15.34, 1.76),
        (4.0, 0.631, 4.25, -8.66, 12.91, 1.46),
        (6.0, 0.5012, 3.53, -6.04, 9.57, 0.97),
        (9.542_425, 0.3333, 2.5, -3.52, 6.02, 0.46),
        (10.0, 0.3162, 2.39, -3.3, 5.69, 0.41),
        (12.0, 0.2512, 1.95, -2.51, 4.46, 0.27),
        (15.0, 0.1778, 1.42, -1.7, 3.12, 0.14),
        (18.0, 0.1259, 1.03, -1.17, 2.2, 0.07),
        (20.0, 0.1, 0.83, -0.92, 1.74, 0.04),
        (30.0, 0.0316, 0.27, -0.28, 0.55, 0.0),
    ];
    // The row printed as 9.54 dB is 20·lg 3.
    for (db, gain, peak, notch, ripple, sum) in table {
        for level in [db, -db] {
            let comb = Comb::new(1e-3, level, Polarity::Same);
            cases.near(format!("{level} dB, g"), comb.gain, gain, 6e-5);
            cases.near(format!("{level} dB, peak"), comb.peak_db(), peak, 0.0051);
            cases.near(format!("{level} dB, notch"), comb.notch_db(), notch, 0.0051);
            cases.near(format!("{level} dB, ripple"), comb.ripple_db(), ripple, 0.0051);
            cases.near(format!("{level} dB, power sum"), comb.power_sum_db(), sum, 0.0051);
        }
    }
    cases.end(140);
}

/// Levels of the thirds of a mono signal, dBFS.
fn thirds_dbfs(samples: &[f64]) -> Vec<f64> {
    let (_, view) = analysed(48_000, &[samples]);
    view.averages[2].thirds.iter().map(|third| third.level_dbfs.unwrap_or(f64::NAN)).collect()
}

fn advised(reading: &Reading) -> Advice {
    Advice::of(reading, Judged { spaced_secs: None, secs: 10.0 }, rate(), FrameRate::F24, 20.0)
}

#[test]
fn predicted_gain_is_what_the_mended_blend_wins() {
    let mut cases = Cases::new("gain of the sum per third against a repaired blend");
    let frames = 12 * 48_000;
    for (name, by, level_db, sign) in [("trails", 224.0, -2.0, 1.0), ("leads, inverted", -31.0, 4.0, -1.0)] {
        let mut noise = Noise::new(51);
        let source = noise.pink(frames + 8_000, 0.1, RATE);
        let [first, second] = trailing(&source, by, frames);
        let gain = sign * 10.0_f64.powf(level_db / 20.0);
        let second: Vec<f64> = second.iter().map(|x| x * gain).collect();
        let [_, aligned] = trailing(&source, 0.0, frames);
        let own = [0, 1].map(|_| noise.pink(frames, 0.05, RATE));
        let (first, second) = (mixed(&first, &own[0], 1.0), mixed(&second, &own[1], 1.0));
        let before = thirds_dbfs(&mixed(&first, &second, 1.0));
        // The second, moved by the delay and inverted where necessary, with its own noise.
        let mended: Vec<f64> =
            aligned.iter().zip(&own[1]).map(|(x, own)| x * gain.abs() + sign * own).collect();
        let after = thirds_dbfs(&mixed(&first, &mended, 1.0));
        let reading = tracked(&first, &second);
        let agreed = reading.outcome.ok();
        cases.near(format!("{name}, delay"), agreed.map(|a| a.delay_secs * RATE), by, 0.05);
        let expected_level = 10.0 * ((gain * gain * 0.01 + 0.0025) / (0.01 + 0.0025)).log10();
        cases.near(format!("{name}, level difference"), reading.level_db, expected_level, 0.2);
        // From 100 Hz: below that, 12 s of noise give too few averages for different windows to agree.
        for third in 7..THIRDS {
            let won = after[third] - before[third];
            cases.near(format!("{name}, third {third}"), reading.thirds[third].gain_db.get(), won, 0.5);
        }
        let Advice::Repair(fix) = advised(&reading) else {
            cases.holds(format!("{name}: {:?}", advised(&reading)), false);
            continue;
        };
        println!("{name}: {fix:?}");
        cases.holds("side", fix.trails == Some(if by > 0.0 { Side::Second } else { Side::First }));
        cases.holds("whole samples", fix.move_earlier as f64 == by.abs());
        cases.holds("polarity", fix.flip == (sign < 0.0));
        cases.near("seconds", fix.by.secs, by.abs() / RATE, 1e-6);
        cases.near("samples", fix.by.samples, by.abs(), 0.05);
        cases.near("frames", fix.by.frames, by.abs() / RATE * 24.0, 1e-4);
        cases.near("metres", fix.by.metres, by.abs() / RATE * 343.2, 1e-3);
        cases.holds("gains", !fix.gains.is_empty());
        for gain in &fix.gains {
            let inside = |third: &usize| {
                let span = third_span(*third);
                span.low_hz >= gain.span.low_hz * 0.999 && span.high_hz <= gain.span.high_hz * 1.001
            };
            let power = |levels: &[f64]| {
                (0..THIRDS).filter(inside).map(|third| 10.0_f64.powf(levels[third] / 10.0)).sum::<f64>()
            };
            let won = 10.0 * (power(&after) / power(&before)).log10();
            let near = (won - gain.gain_db).abs() <= 0.7;
            if !near {
                cases.holds(format!("{name}, {:?}: predicted {}, won {won}", gain.span, gain.gain_db), false);
            }
        }
    }
    cases.end(2 * (2 + THIRDS - 7 + 8));
}

#[test]
fn what_is_no_fault_is_left() {
    let mut cases = Cases::new("advice to leave");
    let frames = 8 * 48_000;
    let mut noise = Noise::new(61);
    let source = noise.pink(frames + 8_000, 0.1, RATE);
    // Aligned microphones: nothing to gain.
    let [first, _] = trailing(&source, 0.0, frames);
    let second = noisy(&first, 20.0, &mut noise);
    let advice = advised(&tracked(&first, &second));
    cases.holds(format!("in step: {advice:?}"), advice == Advice::Leave(NoFix::NothingToWin));
    // One of them 30 dB down: a comb of half a decibel.
    let [first, second] = trailing(&source, 100.0, frames);
    let quiet: Vec<f64> = second.iter().map(|x| x * 10.0_f64.powf(-1.5)).collect();
    let advice = advised(&tracked(&first, &quiet));
    cases.holds(format!("30 dB apart: {advice:?}"), advice == Advice::Leave(NoFix::NothingToWin));
    // A spaced pair in an ambience: a faint common sound, plus unrelated sound in each.
    for db in [-200.0, -8.0] {
        let [a, b] = [0, 1].map(|_| noise.pink(frames, 0.1, RATE));
        let [first, second] = trailing(&source, 300.0, frames);
        let faint = 10.0_f64.powf(db / 20.0);
        let reading = tracked(&mixed(&a, &first, faint), &mixed(&b, &second, faint));
        let advice = advised(&reading);
        println!("{db} dB: {:?}, coherence {:?}", reading.outcome, reading.coherence);
        let left = matches!(advice, Advice::Leave(NoFix::Room | NoFix::Unrelated));
        cases.holds(format!("ambience, {db} dB: {advice:?}"), left);
    }
    // Aligned but inverted: invert one, move nothing.
    let [first, _] = trailing(&source, 0.0, frames);
    let second: Vec<f64> = noisy(&first, 20.0, &mut noise).iter().map(|x| -0.7 * x).collect();
    match advised(&tracked(&first, &second)) {
        Advice::Repair(fix) => {
            cases.holds("flip", fix.flip && fix.trails.is_none() && fix.move_earlier == 0);
            cases.within("wins", fix.gains.first().map(|gain| gain.gain_db), 10.0, 20.0);
        }
        other => cases.holds(format!("upside down: {other:?}"), false),
    }
    cases.end(6);
}
