//! ITU-R BS.1770-5 (11/2023) and Report ITU-R BS.2217-2 (10/2016).
//!
//! The bus has two channels, so only the weights of L and R of Annex 1 Table 3 apply, and the position weights of
//! Annex 3 Table 4 do not; `ebu_cases` runs the one 5.0 signal through the K-filter directly.

use crate::rig::{K_TABLES, RATES, amplitude, frames, in_both, k_db, k_shift_db, k_stages_db, measured};
use plumbline_measure::SampleRate;
use plumbline_measure::loudness::{
    ABSOLUTE_GATE_LUFS, TENTHS_PER_BLOCK, integrated_lufs, lufs, mean_square_of,
};
use plumbline_measure::test_support::{LOUDNESS_OFFSET, RELATIVE_GATE_LU, k_coefficients};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, sine};

fn rate(hz: u32) -> SampleRate {
    SampleRate::new(hz).expect("a rate that can be measured")
}

#[test]
fn k_weighting_has_the_published_coefficients() {
    let mut cases = Cases::new("BS.1770-5 Annex 1 Tables 1 and 2; other rates derived from their prototype");
    for (hz, shelf, high_pass) in K_TABLES {
        let [got_shelf, got_high_pass] = k_coefficients(rate(hz));
        for (i, name) in ["b0", "b1", "b2", "a1", "a2"].into_iter().enumerate() {
            cases.near(format!("{hz} Hz shelf {name}"), got_shelf[i], shelf[i], 1e-14);
        }
        let expected = [1.0, -2.0, 1.0, high_pass[0], high_pass[1]];
        for (i, name) in ["b0", "b1", "b2", "a1", "a2"].into_iter().enumerate() {
            cases.near(format!("{hz} Hz high-pass {name}"), got_high_pass[i], expected[i], 1e-14);
        }
    }
    cases.end(50);
}

/// Frequency, stage 1, stage 2, K in dB at 48 kHz, and the loudness of a 0 dBFS sine in one channel: BS.1770-5
/// Annex 1 Tables 1 and 2 evaluated on the unit circle. NaN where the table has no figure.
const WEIGHTS: [(f64, f64, f64, f64, f64); 17] = [
    (20.0, 0.0000, -13.2754, -13.2754, -16.9767),
    (25.0, 0.0000, -10.3928, -10.3928, -14.0941),
    (38.0, 0.0000, -6.0026, -6.0026, -9.7039),
    (50.0, 0.0000, -3.9341, -3.9341, -7.6354),
    (100.0, 0.0001, -1.1336, -1.1335, -4.8348),
    (200.0, 0.0012, -0.2661, -0.2649, -3.9662),
    (500.0, 0.0494, -0.0069, 0.0425, -3.6588),
    (997.0, 0.6604, 0.0306, 0.691014, -3.0103),
    (1_000.0, 0.6670, 0.0307, 0.6977, -3.0036),
    (2_000.0, f64::NAN, f64::NAN, 3.0713, -0.6300),
    (4_000.0, f64::NAN, f64::NAN, 3.9680, 0.2667),
    (5_000.0, f64::NAN, f64::NAN, 4.0134, 0.3121),
    (8_000.0, f64::NAN, f64::NAN, 4.0394, 0.3381),
    (10_000.0, f64::NAN, f64::NAN, 4.0419, 0.3406),
    (16_000.0, f64::NAN, f64::NAN, 4.0431, 0.3418),
    (20_000.0, f64::NAN, f64::NAN, 4.0431, 0.3418),
    // The −3 dB point.
    (58.82, f64::NAN, f64::NAN, -3.0, -6.7013),
];

#[test]
fn k_weighting_is_read_in_the_loudness_of_sines() {
    let mut cases =
        Cases::new("BS.1770-5 Annex 1 Tables 1 and 2, magnitude and one-channel loudness at 48 kHz");
    for (hz, shelf, high_pass, k, loudness) in WEIGHTS {
        let [got_shelf, got_high_pass] = k_stages_db(hz, 48_000);
        if shelf.is_finite() {
            cases.near(format!("{hz} Hz stage 1"), got_shelf, shelf, 0.001);
            cases.near(format!("{hz} Hz stage 2"), got_high_pass, high_pass, 0.001);
        }
        cases.near(format!("{hz} Hz K"), k_db(hz, 48_000), k, 0.001);
        let left = sine(frames(5.0, 48_000), 1.0, hz, 0.0, 48_000.0);
        let run = measured(48_000, &[&left, &vec![0.0; left.len()]]);
        cases.near(format!("{hz} Hz short-term"), run.view.loudness.short_term_lufs, loudness, 0.001);
    }
    cases.near("0 dB crossing at 425.55 Hz", k_db(425.55, 48_000), 0.0, 0.001);
    cases.near("K at 997 Hz, 44.1 kHz", k_db(997.0, 44_100), 0.6938, 0.0001);
    cases.near("K at 997 Hz, 96 kHz", k_db(997.0, 96_000), 0.6737, 0.0001);
    cases.end(55);
}

#[test]
fn the_anchors_of_loudness_hold_at_every_rate() {
    let mut cases = Cases::new("BS.1770-5 Annex 1");
    for (hz, ..) in K_TABLES {
        let fs = f64::from(hz);
        let left = sine(frames(6.0, hz), 1.0, 997.0, 0.0, fs);
        let silent = vec![0.0; left.len()];
        let inverted: Vec<f64> = left.iter().map(|x| -x).collect();
        let shift = k_shift_db(997.0, hz);

        for (name, channels) in [("left", [&left, &silent]), ("right", [&silent, &left])] {
            let got = measured(hz, &[channels[0], channels[1]]).view.loudness;
            cases.near(format!("L1 {name} at {hz}: integrated"), got.integrated_lufs, -3.0103 + shift, 0.001);
            cases.near(format!("L1 {name} at {hz}: short-term"), got.short_term_lufs, -3.0103 + shift, 0.001);
            cases.near(format!("L1 {name} at {hz}: momentary"), got.momentary_lufs, -3.0103 + shift, 0.001);
        }
        let both = in_both(hz, &left).view.loudness;
        cases.near(format!("L3 at {hz}"), both.integrated_lufs, shift, 0.001);
        let opposed = measured(hz, &[&left, &inverted]).view.loudness;
        let same = both.integrated_lufs.expect("a loud sine");
        cases.near(format!("L4 at {hz}: polarity is invisible"), opposed.integrated_lufs, same, 1e-9);
    }
    cases.end(40);
}

#[test]
fn loudness_follows_the_level_exactly() {
    let mut cases = Cases::new("BS.1770-5: 1 dB is 1 LKFS (L5), constant (L2), weights of L and R (L6)");
    cases.near("L2 constant", LOUDNESS_OFFSET, -0.691, 0.0);
    cases.near("L2 of a unit mean square", lufs(1.0), -0.691, 1e-12);
    cases.near("L2 cancels K at 997 Hz", k_db(997.0, 48_000) + LOUDNESS_OFFSET, 0.0, 0.000_1);

    let full = sine(frames(5.0, 48_000), 1.0, 997.0, 0.0, 48_000.0);
    let silent = vec![0.0; full.len()];
    let loudness = |gain: f64, left: bool| {
        let scaled: Vec<f64> = full.iter().map(|x| x * gain).collect();
        let channels = if left { [&scaled, &silent] } else { [&silent, &scaled] };
        measured(48_000, &[channels[0], channels[1]]).view.loudness.integrated_lufs.expect("over the gate")
    };
    let anchor = loudness(1.0, true);
    cases.near("L6 left and right weigh the same", loudness(1.0, false), anchor, 0.0);
    // Powers of two scale single precision without rounding.
    for halvings in [1, 3, 6, 10] {
        let gain = 0.5_f64.powi(halvings);
        let moved = 20.0 * gain.log10();
        cases.near(format!("L5 by {moved:.2} dB"), loudness(gain, true) - anchor, moved, 1e-9);
    }
    // Other gains are rounded to 24 bits, sample by sample.
    for db in [-1.0, -6.0, -23.0, -40.0] {
        cases.near(format!("L5 by {db} dB"), loudness(amplitude(db), true) - anchor, db, 1e-7);
    }
    cases.end(12);
}

#[test]
fn gating_blocks_are_400_ms_and_whole() {
    let mut cases = Cases::new("BS.1770-5 Annex 1 eq. (3)–(7) (L8, L9; part from memory)");
    cases.near("L8 a block is four tenths", TENTHS_PER_BLOCK as f64, 4.0, 0.0);
    cases.near("L9 absolute gate", ABSOLUTE_GATE_LUFS, -70.0, 0.0);
    cases.near("L9 relative gate", RELATIVE_GATE_LU, -10.0, 0.0);
    let tone = |secs: f64, dbfs: f64| sine(frames(secs, 48_000), amplitude(dbfs), 1_000.0, 0.0, 48_000.0);
    let integrated = |samples: &[f64]| in_both(48_000, samples).view.loudness.integrated_lufs;
    cases.absent("L8 390 ms hold no block", integrated(&tone(0.39, -23.0)));
    cases.near("L8 400 ms hold one", integrated(&tone(0.4, -23.0)), -22.9933, 0.01);
    let one_second = integrated(&tone(1.0, -23.0)).expect("seven blocks");
    let mut with_rest = tone(1.0, -23.0);
    with_rest.extend(tone(0.09, 0.0));
    cases.near("L8 an incomplete last block is dropped", integrated(&with_rest), one_second, 1e-12);
    // 75 % overlap: a tone of one tenth is in four blocks, a quarter of each.
    let mut burst = vec![0.0; 48_000];
    burst[28_800..33_600].copy_from_slice(&tone(0.1, -23.0));
    cases.near("L8 hop of 100 ms: a tone of 100 ms", integrated(&burst), -22.9933 - 6.0206, 0.01);

    cases.absent("L9 −70 itself is not over the gate", integrated_lufs([mean_square_of(-70.0)].into_iter()));
    cases.near("L9 just over −70", integrated_lufs([mean_square_of(-69.999)].into_iter()), -69.999, 1e-9);
    // Ten blocks at −20 and one at x: the gate is 10 LU below the mean of all eleven.
    let gated =
        |x: f64| integrated_lufs((0..11).map(move |i| mean_square_of(if i == 10 { x } else { -20.0 })));
    // A block at the gate is a tenth of the mean: x = (10·e + x)/110, so x = e/10.9.
    let gate = -20.0 + 10.0 * (1.0_f64 / 10.9).log10();
    cases.near("L9 just under the relative gate", gated(gate - 0.001), -20.0, 1e-9);
    let kept = -20.0 + 10.0 * ((10.0 + 10.0_f64.powf((gate + 20.001) / 10.0)) / 11.0).log10();
    cases.near("L9 just over the relative gate", gated(gate + 0.001), kept, 1e-9);
    cases.end(11);
}

#[test]
fn noise_reads_its_derived_loudness() {
    let mut cases = Cases::new("BS.1770-5, mean |K|² of white and of pink noise (derived; L10, L11)");
    let count = frames(30.0, 48_000);
    let mut noise = Noise::new(0x10);
    let [left, right] = [0, 1].map(|_| noise.white(count, 0.1));
    let run = measured(48_000, &[&left, &right]);
    cases.near("L10 white, both at −20 dB", run.view.loudness.integrated_lufs, -13.85, 0.05);

    let [left, right] = [0, 1].map(|_| noise.pink(count, 0.1, 48_000.0));
    let one = measured(48_000, &[&left, &vec![0.0; count]]);
    cases.near("L11 pink, one channel at −20 dB", one.view.loudness.integrated_lufs, -20.0 + 0.733, 0.1);
    let two = measured(48_000, &[&left, &right]);
    cases.near("L11 pink, both at −20 dB", two.view.loudness.integrated_lufs, -20.0 + 3.743, 0.1);
    cases.end(3);
}

/// Frequency, and the peak level per channel that reads −23.0 LKFS at 48 kHz: X + 0.691 − K(f).
const TONES: [(f64, f64); 6] = [
    (25.0, -11.9162),
    (100.0, -21.1755),
    (500.0, -22.3515),
    (1_000.0, -23.0067),
    (2_000.0, -25.3803),
    (10_000.0, -26.3509),
];

#[test]
fn compliance_tones_read_their_loudness() {
    let mut cases = Cases::new("Report ITU-R BS.2217-2, tones for −23 and −24 LKFS, synthesised");
    for hz in RATES {
        for (tone, peak) in TONES {
            for target in [-23.0, -24.0] {
                let size = amplitude(peak + target + 23.0);
                let samples = sine(frames(5.0, hz), size, tone, 0.0, f64::from(hz));
                let loudness = in_both(hz, &samples).view.loudness;
                let name = format!("{tone} Hz for {target} at {hz}");
                cases.near(format!("{name}: published"), loudness.integrated_lufs, target, 0.1);
                let exact = target + k_shift_db(tone, hz);
                cases.near(format!("{name}: exact"), loudness.short_term_lufs, exact, 0.000_2);
            }
        }
        // The absolute-gate signal of the report reads −69.5; its construction is not described, so this construction
        // is ours.
        let tone = |dbfs: f64| sine(frames(5.0, hz), amplitude(dbfs), 1_000.0, 0.0, f64::from(hz));
        let loudness = |dbfs: f64| in_both(hz, &tone(dbfs)).view.loudness.integrated_lufs;
        cases.near(format!("over the absolute gate at {hz}"), loudness(-69.5067), -69.5, 0.1);
        cases.absent(format!("under the absolute gate at {hz}"), loudness(-70.5067));
    }
    cases.end(78);
}
