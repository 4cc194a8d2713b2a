//! EBU Tech 3341 v4 (November 2023) Table 1 and Tech 3342 v4, minimum-requirement signals, synthesised.
//!
//! Cases 7 and 8 are programmes that exist only as EBU files, so they are not run. Cases 15 to 23 are in
//! `ebu_true_peak`. "Exact" is the result of exact arithmetic on the synthesised signal at 48 kHz; at other rates it
//! shifts with the gain of the K-weighting at 1 kHz.

use crate::rig::{RATES, frames, in_both, k_shift_db, steps, watched};
use plumbline_measure::SampleRate;
use plumbline_measure::loudness::integrated_lufs;
use plumbline_measure::test_support::k_weighted;
use plumbline_tests::cases::Cases;

/// Published tolerance, LU.
const PUBLISHED: f64 = 0.1;
/// Tolerance of exact arithmetic against a value printed with four decimals, LU.
const TIGHT: f64 = 0.000_2;

/// Seconds and peak level in dBFS.
type Segment = (f64, f64);

fn both(cases: &mut Cases, name: &str, got: Option<f64>, published: f64, exact: f64) {
    cases.near(format!("{name}, published"), got, published, PUBLISHED);
    cases.near(format!("{name}, exact"), got, exact, TIGHT);
}

#[test]
fn steady_tones_read_alike_in_all_three_windows() {
    let mut cases = Cases::new("Tech 3341 Table 1 cases 1 and 2; calibration of §2.1");
    for rate in RATES {
        let shift = k_shift_db(1_000.0, rate);
        for (name, dbfs) in [("case 1", -23.0), ("case 2", -33.0), ("calibration", -18.0)] {
            let loudness = in_both(rate, &steps(&[(20.0, dbfs)], 1_000.0, rate)).view.loudness;
            let exact = dbfs + 0.0067 + shift;
            both(&mut cases, &format!("{name} M at {rate}"), loudness.momentary_lufs, dbfs, exact);
            both(&mut cases, &format!("{name} S at {rate}"), loudness.short_term_lufs, dbfs, exact);
            both(&mut cases, &format!("{name} I at {rate}"), loudness.integrated_lufs, dbfs, exact);
        }
    }
    cases.end(54);
}

#[test]
fn gated_programmes_read_their_integrated_loudness() {
    let mut cases = Cases::new("Tech 3341 Table 1 cases 3, 4 and 5");
    let quiet_loud_quiet = [(10.0, -36.0), (60.0, -23.0), (10.0, -36.0)];
    let five = [(10.0, -72.0), (10.0, -36.0), (60.0, -23.0), (10.0, -36.0), (10.0, -72.0)];
    let swell = [(20.0, -26.0), (20.1, -20.0), (20.0, -26.0)];
    for rate in RATES {
        let shift = k_shift_db(1_000.0, rate);
        let signals: [(&str, &[Segment], f64); 3] = [
            ("case 3", &quiet_loud_quiet, -23.0139),
            ("case 4", &five, -23.0139),
            ("case 5", &swell, -22.9787),
        ];
        for (name, segments, exact) in signals {
            let loudness = in_both(rate, &steps(segments, 1_000.0, rate)).view.loudness;
            let name = format!("{name} I at {rate}");
            both(&mut cases, &name, loudness.integrated_lufs, -23.0, exact + shift);
        }
    }
    cases.end(18);
}

/// The analyser is stereo and cannot take five channels, so the K-filter, the weights of BS.1770-5 Annex 1 Table 3 and
/// the gating are applied to them directly.
#[test]
fn five_channels_read_their_integrated_loudness() {
    let mut cases = Cases::new("Tech 3341 Table 1 case 6; channel weights L6 (surrounds 1.41)");
    for hz in RATES {
        let rate = SampleRate::new(hz).expect("a rate that can be measured");
        let mut tenths = vec![0.0; 200];
        for (dbfs, weight) in [(-28.0, 1.0), (-28.0, 1.0), (-24.0, 1.0), (-30.0, 1.41), (-30.0, 1.41)] {
            let samples = k_weighted(rate, &steps(&[(20.0, dbfs)], 1_000.0, hz));
            for (tenth, part) in tenths.iter_mut().zip(samples.chunks(frames(0.1, hz))) {
                *tenth += weight * part.iter().map(|x| x.powi(2)).sum::<f64>();
            }
        }
        let block = frames(0.4, hz) as f64;
        let blocks = tenths.windows(4).map(|w| w.iter().sum::<f64>() / block);
        let exact = -23.0163 + k_shift_db(1_000.0, hz);
        both(&mut cases, &format!("case 6 I at {hz}"), integrated_lufs(blocks), -23.0, exact);
    }
    cases.end(6);
}

#[test]
fn alternating_levels_read_constant_in_their_window() {
    let mut cases = Cases::new("Tech 3341 Table 1 cases 9 and 12");
    for rate in RATES {
        let shift = k_shift_db(1_000.0, rate);
        let slow = [(1.34, -20.0), (1.66, -30.0)].repeat(5);
        let run = in_both(rate, &steps(&slow, 1_000.0, rate));
        let settled: Vec<_> = run.tenths.iter().skip(29).map(|tenth| tenth.short_term.get()).collect();
        cases.near(format!("case 9 tenths at {rate}"), settled.len() as f64, 121.0, 0.0);
        for (i, got) in settled.into_iter().enumerate() {
            both(&mut cases, &format!("case 9 S, tenth {i} at {rate}"), got, -23.0, -22.9863 + shift);
        }

        let quick = steps(&[(0.18, -20.0), (0.22, -30.0)].repeat(25), 1_000.0, rate);
        let mut readings = Vec::new();
        watched(rate, &[&quick, &quick], |end, view| {
            if end >= frames(1.0, rate) {
                readings.push(view.loudness.momentary_lufs);
            }
        });
        cases.near(format!("case 12 cells at {rate}"), readings.len() as f64, 901.0, 0.0);
        for (i, got) in readings.into_iter().enumerate() {
            both(&mut cases, &format!("case 12 M, cell {i} at {rate}"), got, -23.0, -22.9604 + shift);
        }
    }
    cases.end(3 * (2 + 2 * (121 + 901)));
}

#[test]
fn a_tone_of_three_seconds_is_caught_wherever_it_starts() {
    let mut cases = Cases::new("Tech 3341 Table 1 cases 10 and 11");
    for rate in RATES {
        let shift = k_shift_db(1_000.0, rate);
        let mut live = Vec::new();
        for i in 0..20 {
            let start = f64::from(i) * 0.15;
            // Short-term loudness is updated ten times a second: a start between two updates loses 50 ms of tone.
            let exact = if i % 2 == 0 { -22.9933 } else { -23.0663 };
            let file =
                steps(&[(start, f64::NEG_INFINITY), (3.0, -23.0), (1.0, f64::NEG_INFINITY)], 1_000.0, rate);
            let got = in_both(rate, &file).view.loudness.max_short_term_lufs;
            let name = format!("case 10 max S, segment {i} at {rate}");
            cases.near(format!("{name}, published"), got, -23.0, PUBLISHED);
            cases.near(format!("{name}, exact at 10 Hz"), got, exact + shift, 0.001);
            live.extend([
                (start, f64::NEG_INFINITY),
                (3.0, -38.0 + f64::from(i)),
                (3.0 - start, f64::NEG_INFINITY),
            ]);
        }
        let run = in_both(rate, &steps(&live, 1_000.0, rate));
        for (i, segment) in run.tenths.chunks(60).enumerate() {
            let got = segment.iter().filter_map(|tenth| tenth.short_term.get()).reduce(f64::max);
            let expected = -38.0 + i as f64;
            let name = format!("case 11 max S, segment {i} at {rate}");
            cases.near(format!("{name}, published"), got, expected, PUBLISHED);
            let exact = if i % 2 == 0 { 0.0067 } else { -0.0663 };
            cases.near(format!("{name}, exact at 10 Hz"), got, expected + exact + shift, 0.001);
        }
    }
    cases.end(3 * 80);
}

#[test]
fn a_tone_of_400_ms_is_caught_wherever_it_starts() {
    let mut cases = Cases::new("Tech 3341 Table 1 cases 13 and 14");
    for rate in RATES {
        let shift = k_shift_db(1_000.0, rate);
        let mut live = Vec::new();
        for i in 0..20 {
            let start = f64::from(i) * 0.02;
            let file =
                steps(&[(start, f64::NEG_INFINITY), (0.4, -23.0), (1.0, f64::NEG_INFINITY)], 1_000.0, rate);
            let got = in_both(rate, &file).view.loudness.max_momentary_lufs;
            let name = format!("case 13 max M, segment {i} at {rate}");
            cases.near(format!("{name}, published"), got, -23.0, PUBLISHED);
            cases.near(format!("{name}, exact"), got, -22.9936 + shift, 0.000_5);
            live.extend([
                (start, f64::NEG_INFINITY),
                (0.4, -38.0 + f64::from(i)),
                (0.4 - start, f64::NEG_INFINITY),
            ]);
        }
        let run = in_both(rate, &steps(&live, 1_000.0, rate));
        for (i, segment) in run.tenths.chunks(8).enumerate() {
            let got = segment.iter().filter_map(|tenth| tenth.max_momentary.get()).reduce(f64::max);
            let expected = -38.0 + i as f64;
            let name = format!("case 14 max M, segment {i} at {rate}");
            cases.near(format!("{name}, published"), got, expected, PUBLISHED);
            cases.near(format!("{name}, exact"), got, expected + 0.0064 + shift, 0.000_5);
        }
    }
    cases.end(3 * 80);
}

#[test]
fn loudness_range_of_the_published_steps() {
    let mut cases = Cases::new("Tech 3342 v4 Table 1 cases 1 to 4");
    let signals: [(&str, &[f64], f64); 4] = [
        ("case 1", &[-20.0, -30.0], 10.0),
        ("case 2", &[-20.0, -15.0], 5.0),
        ("case 3", &[-40.0, -20.0], 20.0),
        ("case 4", &[-50.0, -35.0, -20.0, -35.0, -50.0], 15.0),
    ];
    for rate in RATES {
        for (name, levels, range) in signals {
            let mut segments: Vec<(f64, f64)> = levels.iter().map(|dbfs| (20.0, *dbfs)).collect();
            let got = in_both(rate, &steps(&segments, 1_000.0, rate)).view.loudness.range_lu;
            cases.near(format!("{name} at {rate}, published"), got, range, 1.0);
            cases.near(format!("{name} at {rate}, exact"), got, range, TIGHT);
            if rate == 48_000 {
                let mut tail = segments.clone();
                tail.push((1.5, f64::NEG_INFINITY));
                let got = in_both(rate, &steps(&tail, 1_000.0, rate)).view.loudness.range_lu;
                cases.near(format!("{name} with 1.5 s of silence, exact"), got, range, TIGHT);
                segments.extend(segments.clone());
                let got = in_both(rate, &steps(&segments, 1_000.0, rate)).view.loudness.range_lu;
                cases.near(format!("{name} repeated whole, exact"), got, range, TIGHT);
            }
        }
    }
    cases.end(32);
}

#[test]
fn the_gates_are_at_the_published_distance() {
    let mut cases = Cases::new("Tech 3342 v4: relative gate 20 LU under the power mean");
    // The power mean of 20 s at −20 and 20 s far below is about −23: the gate lies at about −43.
    let range = |quiet: f64| {
        let samples = steps(&[(20.0, -20.0), (20.0, quiet)], 1_000.0, 48_000);
        in_both(48_000, &samples).view.loudness.range_lu
    };
    cases.near("22 LU below counts", range(-42.0), 22.0, 0.01);
    cases.within("24 LU below does not; what is left are windows across the step", range(-44.0), 0.0, 3.0);
    cases.end(2);
}
