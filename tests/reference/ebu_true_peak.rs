//! EBU Tech 3341 v4 Table 1 cases 15 to 23, true peak, and the permitted under-read of a true peak.
//!
//! Cases 20 to 23 leave the anti-alias filter open; the one here (257 taps, Kaiser β = 10, 0.45 of the rate) is ours,
//! not the EBU's.

use crate::rig::{RATES, frames, in_both};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{delayed, sine};
use std::f64::consts::PI;

/// Tolerance of Tech 3341 for true peak, dB.
const PUBLISHED: (f64, f64) = (-0.4, 0.2);

/// Fades the first and last 10 ms, as required by case 15.
fn faded(mut samples: Vec<f64>, rate: f64) -> Vec<f64> {
    let (count, fade) = (samples.len(), 0.010 * rate);
    for (n, sample) in samples.iter_mut().enumerate() {
        *sample *= (n.min(count - 1 - n) as f64 / fade).min(1.0);
    }
    samples
}

#[test]
fn sines_between_the_samples_read_their_true_peak() {
    let mut cases = Cases::new("Tech 3341 Table 1 cases 15 to 19");
    // Case, rate over frequency, amplitude, phase in degrees, published dBTP; sample peak dBFS; reading of a 49-tap
    // windowed sinc at 4 × (computed, as in `ebur128`).
    let signals = [
        (15, 4.0, 0.50, 0.0, -6.0, -6.021, -6.021),
        (16, 4.0, 0.50, 45.0, -6.0, -9.031, -6.053),
        (17, 6.0, 0.50, 60.0, -6.0, -7.270, -6.005),
        (18, 8.0, 0.50, 67.5, -6.0, -6.708, -6.018),
        (19, 4.0, 1.41, 45.0, 3.0, -0.026, 2.952),
    ];
    for hz in RATES {
        for (case, divisor, size, degrees, published, sample_peak, windowed_sinc) in signals {
            let samples = (0..frames(1.0, hz))
                .map(|n| size * (2.0 * PI * n as f64 / divisor + f64::to_radians(degrees)).sin())
                .collect();
            let view = in_both(hz, &faded(samples, f64::from(hz))).view;
            for (side, name) in [(0, "left"), (1, "right")] {
                let got = view.loudness.true_peak_dbtp[side];
                let name = format!("case {case} {name} at {hz}");
                let (under, over) = PUBLISHED;
                cases.within(format!("{name}, published"), got, published + under, published + over);
                let peak = view.meters.max_peak_dbfs[side];
                cases.near(format!("{name}, sample peak"), peak, sample_peak, 0.001);
                // From 96 kHz on, two phases suffice (BS.1770-5 Annex 2), with which a quarter of the rate reads
                // differently.
                if hz < 96_000 {
                    cases.near(format!("{name}, 4 × windowed sinc"), got, windowed_sinc, 0.001);
                }
            }
        }
    }
    cases.end(3 * 5 * 2 * 2 + 2 * 5 * 2);
}

/// Modified Bessel function of the first kind, order 0, by its series.
fn bessel_i0(x: f64) -> f64 {
    let (mut sum, mut term) = (1.0, 1.0);
    for k in 1..60 {
        term *= (x / 2.0 / f64::from(k)).powi(2);
        sum += term;
    }
    sum
}

/// Low-pass of `taps` taps, Kaiser window of `beta`, corner at `corner` of the rate, unit gain at 0 Hz.
fn kaiser_low_pass(taps: i32, beta: f64, corner: f64) -> Vec<f64> {
    let middle = f64::from(taps - 1) / 2.0;
    let filter: Vec<f64> = (0..taps)
        .map(|n| {
            let t = f64::from(n) - middle;
            let sinc = if t == 0.0 { 2.0 * corner } else { (2.0 * PI * corner * t).sin() / (PI * t) };
            sinc * bessel_i0(beta * (1.0 - (t / middle).powi(2)).max(0.0).sqrt())
        })
        .collect();
    let gain: f64 = filter.iter().sum();
    filter.into_iter().map(|h| h / gain).collect()
}

/// The signal of cases 20 to 23 at four times the rate, after the low-pass.
fn spliced(rate: f64) -> Vec<f64> {
    let tone = |n: usize| 0.5 * (2.0 * PI * (n % 24) as f64 / 24.0).sin();
    let mut samples: Vec<f64> = (0..24_000).map(tone).collect();
    samples.extend((0..16).map(|n| (2.0 * PI * f64::from(n) / 16.0).sin()));
    samples.extend((0..24_000).map(tone));
    let samples = faded(samples, 4.0 * rate);
    let filter = kaiser_low_pass(257, 10.0, 0.45 / 4.0);
    let half = filter.len() / 2;
    (0..samples.len())
        .map(|n| {
            let tap =
                |(k, h): (usize, &f64)| (n + half).checked_sub(k).and_then(|i| samples.get(i)).map(|x| h * x);
            filter.iter().enumerate().filter_map(tap).sum()
        })
        .collect()
}

#[test]
fn a_spliced_period_reads_its_true_peak_at_every_offset() {
    let mut cases = Cases::new("Tech 3341 Table 1 cases 20 to 23, our anti-alias filter");
    let fine = spliced(48_000.0);
    // Including the peak between the samples of the fourfold rate.
    let shifts = (0..8).map(|eighth| delayed(&fine, f64::from(eighth) / 8.0));
    let exact = 20.0 * shifts.flatten().fold(0.0_f64, |peak, x| peak.max(x.abs())).log10();
    cases.near("construction: band-limited peak after the filter", exact, -0.126, 0.001);
    for hz in [44_100, 48_000] {
        let fine = spliced(f64::from(hz));
        for (offset, sample_peak) in [-0.158, -0.558, -2.650, -0.558].into_iter().enumerate() {
            let samples: Vec<f64> = fine.iter().skip(offset).step_by(4).copied().collect();
            let view = in_both(hz, &samples).view;
            let name = format!("case {} at {hz}", 20 + offset);
            let got = view.loudness.true_peak_dbtp[0];
            cases.within(format!("{name}, published"), got, PUBLISHED.0, PUBLISHED.1);
            // A grid of quarter samples under-reads the filtered signal by no more than the 4 × grid does at its
            // corner.
            cases.within(
                format!("{name}, filtered signal"),
                got,
                exact - under_read_db(0.45, 4.0),
                exact + 0.02,
            );
            cases.near(format!("{name}, sample peak"), view.meters.max_peak_dbfs[0], sample_peak, 0.001);
        }
    }
    cases.end(25);
}

/// Greatest under-read in dB of an ideal peak grid of `times` points a sample, for a sine at `share` of the rate.
fn under_read_db(share: f64, times: f64) -> f64 {
    -20.0 * (PI * share / times).cos().log10()
}

#[test]
fn true_peak_under_reads_no_more_than_its_grid_must() {
    let mut cases = Cases::new("BS.1770-5 Annex 2 attachment (table from memory; T1), EBU R 128 v5 (m) (T2)");
    for (times, at_045, at_05) in [
        (4.0, 0.554, 0.688),
        (8.0, 0.136, 0.169),
        (10.0, 0.087, 0.108),
        (14.0, 0.044, 0.055),
        (16.0, 0.034, 0.042),
        (32.0, 0.008, 0.010),
    ] {
        cases.near(format!("T1 {times} × at 0.45"), under_read_db(0.45, times), at_045, 0.001);
        cases.near(format!("T1 {times} × at 0.5"), under_read_db(0.5, times), at_05, 0.001);
    }
    // If the rate is a multiple of the frequency, the samples stay at the same points of the cycle: 32 phases find the
    // worst.
    for (hz, times) in GRIDS {
        for divisor in [2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 12.0, 24.0, 48.0] {
            let tone = f64::from(hz) / divisor;
            if tone > 20_000.0 {
                continue;
            }
            let errors = (0..32).map(|phase| {
                let start = PI * f64::from(phase) / 16.0;
                let samples = (0..frames(0.1, hz))
                    .map(|n| 0.5 * (2.0 * PI * n as f64 / divisor + start).sin())
                    .collect();
                true_peak_db(hz, samples) - 20.0 * 0.5_f64.log10()
            });
            let [under, over] = errors.fold([0.0_f64; 2], |[u, o], e| [u.min(e), o.max(e)]);
            // The interpolator's own ripple is added.
            let bound = under_read_db(1.0 / divisor, times) + 0.03;
            cases.within(format!("T1 {tone:.0} Hz at {hz}, worst phase"), under, -bound, 0.0);
            cases.within(format!("T1 {tone:.0} Hz at {hz}, over-read"), over, 0.0, FIR_OVER_READ_DB);
        }
    }
    cases.end(12 + 2 * (9 + 9 + 6 + 3));
}

/// The most by which the interpolator of BS.1770-5 Annex 2 over-reads a steady sine, dB (computed from its 48 taps, at
/// 4 and 12 kHz). Ours stays under the same bound.
const FIR_OVER_READ_DB: f64 = 0.22;

/// Rates, and the points per sample of the true peak at each (BS.1770-5 Annex 2: 4 × at 48 kHz, 2 × at 96 kHz, the
/// samples themselves from 192 kHz on).
const GRIDS: [(u32, f64); 4] = [(44_100, 4.0), (48_000, 4.0), (96_000, 2.0), (192_000, 1.0)];

fn true_peak_db(hz: u32, samples: Vec<f64>) -> f64 {
    in_both(hz, &faded(samples, f64::from(hz))).view.loudness.true_peak_dbtp[0].expect("a loud sine")
}

/// The tolerance is for tones that move against the sampling grid, as sound does. A tone of 19.2 kHz locked to a rate
/// of 48 kHz at its worst phase reads 0.44 dB low on the grid of BS.1770-5, on any meter with that grid.
#[test]
fn true_peak_of_moving_tones_is_within_the_tolerance() {
    let mut cases = Cases::new("EBU R 128 v5 (m): ± 0.3 dB, signals band-limited to 20 kHz (T2)");
    for (hz, _) in GRIDS {
        for tone in [61.0, 997.0, 4_001.0, 7_993.0, 12_007.0, 15_991.0, 19_001.0, 19_997.0] {
            let got = true_peak_db(hz, sine(frames(0.5, hz), 0.5, tone, 0.3, f64::from(hz)));
            cases.near(format!("{tone} Hz at {hz}"), got, 20.0 * 0.5_f64.log10(), 0.3);
        }
    }
    cases.end(32);
}
