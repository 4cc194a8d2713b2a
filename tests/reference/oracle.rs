//! Momentary, short-term, integrated loudness and loudness range against an independent implementation of BS.1770, the
//! `ebur128` crate, on programme material: noise and tones of changing level, different in the two channels.

use crate::rig::{frames, watched};
use ebur128::{EbuR128, Mode};
use plumbline_measure::loudness::{mean_square_of, range_lu};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, single};
use std::f64::consts::PI;

/// Tolerance between two exact implementations, LU.
const TOLERANCE: f64 = 0.000_1;

/// Noise and a tone of varying frequency, stepped every 0.7 s by up to 45 dB, with pauses.
fn programme(noise: &mut Noise, secs: f64, rate: u32) -> [Vec<f64>; 2] {
    let mut channels = [Vec::new(), Vec::new()];
    let fs = f64::from(rate);
    for n in 0..frames(secs, rate) {
        let step = n / frames(0.7, rate);
        // A fixed hash of the step, so that both channels change at the same time but differently.
        let mut dice = Noise::new(step as u64 * 77 + 5);
        let pause = dice.uniform() < 0.1;
        let (tone, share) = (40.0 * 300.0_f64.powf(dice.uniform()), dice.uniform());
        for channel in &mut channels {
            let gain = if pause { 0.0 } else { 10.0_f64.powf(-2.5 + 2.2 * dice.uniform()) };
            let wave = (2.0 * PI * tone * n as f64 / fs).sin();
            channel.push(gain * (share * wave + (1.0 - share) * noise.gauss() * 0.3));
        }
    }
    channels
}

#[test]
fn loudness_agrees_with_an_independent_implementation() {
    let mut cases = Cases::new("BS.1770-5 by `ebur128`: M, S, I and LRA on programme material");
    let mut noise = Noise::new(0xE8);
    let mut compared = 0;
    for rate in [22_050, 32_000, 44_100, 48_000, 96_000, 192_000] {
        let secs = if rate > 48_000 { 12.0 } else { 30.0 };
        let [left, right] = programme(&mut noise, secs, rate);
        let (left_in, right_in) = (single(&left), single(&right));
        let mut oracle =
            EbuR128::new(2, rate, Mode::M | Mode::S | Mode::I | Mode::LRA).expect("a rate that it knows");
        let mut start = 0;
        let mut worst = [0.0_f64; 2];
        let run = watched(rate, &[&left, &right], |end, view| {
            oracle
                .add_frames_planar_f32(&[&left_in[start..end], &right_in[start..end]])
                .expect("two channels");
            start = end;
            let whole_tenth = end % frames(0.1, rate) == 0;
            let pairs = [
                (0, view.loudness.momentary_lufs, oracle.loudness_momentary(), 0.4),
                (1, view.loudness.short_term_lufs, oracle.loudness_shortterm(), 3.0),
            ];
            for (window, ours, theirs, needs) in pairs {
                let theirs = theirs.expect("the mode is on");
                let due = end >= frames(needs, rate) && (window == 0 || whole_tenth);
                if due && theirs > -80.0 {
                    compared += 1;
                    let off = ours.map_or(f64::INFINITY, |o| (o - theirs).abs());
                    worst[window] = worst[window].max(off);
                }
            }
        });
        cases.near(format!("M at {rate}, every 10 ms"), worst[0], 0.0, TOLERANCE);
        cases.near(format!("S at {rate}, every 100 ms"), worst[1], 0.0, TOLERANCE);
        let integrated = oracle.loudness_global().expect("the mode is on");
        cases.near(format!("I at {rate}"), run.view.loudness.integrated_lufs, integrated, TOLERANCE);
        // The crate takes one short-term value a second, Tech 3342 v4 ten: our range is given the same values as the
        // crate's.
        let each_second = run.tenths.iter().skip(29).step_by(10).filter_map(|tenth| tenth.short_term.get());
        let range = range_lu(each_second.map(mean_square_of));
        let theirs = oracle.loudness_range().expect("the mode is on");
        cases.near(format!("LRA at {rate}, once a second"), range, theirs, TOLERANCE);
        cases.within(format!("LRA at {rate} is worth comparing"), theirs, 3.0, 40.0);
    }
    cases.holds(format!("{compared} momentary and short-term values compared"), compared > 10_000);
    cases.end(31);
}

#[test]
fn range_takes_the_published_percentiles() {
    // Tech 3342 v4: v[round((n−1)·0.95+1)] − v[round((n−1)·0.10+1)], counted from 1, on values 0.01 LU apart.
    let mut cases = Cases::new("Tech 3342 v4, percentiles by hand");
    for (count, high, low) in [(1, 0, 0), (2, 1, 0), (6, 5, 1), (11, 10, 1), (100, 94, 10), (371, 352, 37)] {
        let values = (0..count).map(|i| mean_square_of(-30.0 + f64::from(i) / 100.0));
        let expected = f64::from(high - low) / 100.0;
        cases.near(format!("{count} values"), range_lu(values), expected, 1e-9);
    }
    cases.absent("no value", range_lu(std::iter::empty()));
    cases.end(7);
}
