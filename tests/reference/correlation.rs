//! Correlation of known signals, and the scatter of its estimate.

use crate::rig::{frames, measured};
use plumbline_measure::{Averaging, StereoPower, Tenth};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, delayed, mixed, sine};

const RATE: u32 = 48_000;
const FS: f64 = 48_000.0;

#[test]
#[expect(clippy::approx_constant, reason = "digits as printed")]
fn correlation_of_known_pairs() {
    let mut cases =
        Cases::new("C1 to C5: ρ = cos φ (trigonometric identity), identical, opposed, scaled, dead");
    let left = sine(frames(3.0, RATE), 0.5, 1_000.0, 0.0, FS);
    for (degrees, expected) in [
        (0.0, 1.0),
        (30.0, 0.866_025_4),
        (45.0, 0.707_106_8),
        (60.0, 0.5),
        (90.0, 0.0),
        (120.0, -0.5),
        (135.0, -0.707_106_8),
        (150.0, -0.866_025_4),
        (180.0, -1.0),
    ] {
        let right = sine(left.len(), 0.5, 1_000.0, f64::to_radians(degrees), FS);
        let view = measured(RATE, &[&left, &right]).view;
        cases.near(format!("C1 {degrees}°, 300 ms"), view.meters.correlation, expected, 1e-6);
        for averaging in Averaging::ALL {
            let spectral = view.spectral(averaging);
            let name = format!("C1 {degrees}°, {averaging:?}");
            cases.near(format!("{name}, third of 1 kHz"), spectral.thirds[17].correlation, expected, 1e-6);
            cases.near(format!("{name}, whole range"), spectral.whole.correlation, expected, 1e-6);
        }
    }
    let noise = Noise::new(0xC2).white(frames(3.0, RATE), 0.1);
    for (name, gain, expected) in
        [("C2", 1.0, 1.0), ("C3", -1.0, -1.0), ("C4", 0.3, 1.0), ("C4", 0.001, 1.0), ("C4", 4.0, 1.0)]
    {
        let right: Vec<f64> = noise.iter().map(|x| gain * x).collect();
        let view = measured(RATE, &[&noise, &right]).view;
        cases.near(format!("{name}, gain {gain}, 300 ms"), view.meters.correlation, expected, 1e-12);
        let whole = view.spectral(Averaging::SinceReset).whole.correlation;
        cases.near(format!("{name}, gain {gain}, spectra"), whole, expected, 1e-12);
    }
    let view = measured(RATE, &[&noise, &vec![0.0; noise.len()]]).view;
    cases.absent("C5, 300 ms", view.meters.correlation);
    for averaging in Averaging::ALL {
        cases.absent(format!("C5, {averaging:?}"), view.spectral(averaging).whole.correlation);
    }
    cases.end(9 * 7 + 10 + 4);
}

/// The transform's rounding error is 140 dB below the whole sound, so a quiet third next to a loud tone reads the same
/// as alone, down to the gate, 80 dB below the loudest. The expected values follow by arithmetic.
#[test]
fn a_quiet_third_is_read_beside_a_loud_tone() {
    let mut cases =
        Cases::new("C1 beside a tone of nearly full scale: level and ρ = cos φ of a third far under it");
    let length = frames(3.0, RATE);
    let loud = sine(length, 0.9, 63.0, 0.3, FS);
    for quiet_dbfs in [-40.0_f64, -60.0, -75.0] {
        let amplitude = 10.0_f64.powf(quiet_dbfs / 20.0);
        for degrees in [0.0_f64, 60.0, 150.0] {
            let with = |phase: f64| -> Vec<f64> {
                let tone = sine(length, amplitude, 10_000.0, phase, FS);
                tone.iter().zip(&loud).map(|(tone, loud)| tone + loud).collect()
            };
            let view = measured(RATE, &[&with(0.0), &with(degrees.to_radians())]).view;
            let third = &view.spectral(Averaging::Slow).thirds[27];
            let name = format!("{quiet_dbfs} dBFS at 10 kHz, {degrees}°");
            cases.near(format!("{name}: level"), third.level_dbfs, quiet_dbfs, 0.005);
            cases.near(
                format!("{name}: correlation"),
                third.correlation,
                degrees.to_radians().cos(),
                0.000_5,
            );
        }
    }
    cases.end(3 * 3 * 2);
}

/// Four standard deviations of r over N independent pairs: σ ≈ (1−ρ²)/√N·√(1+11ρ²/(2N)) (from memory; recomputed).
fn four_sigma(rho: f64, pairs: f64) -> f64 {
    4.0 * ((1.0 - rho * rho).powi(2) / pairs * (1.0 + 5.5 * rho * rho / pairs)).sqrt()
}

/// The matrix over all tenths.
fn over_all(tenths: &[Tenth]) -> StereoPower {
    tenths.iter().map(|t| StereoPower { ll: t.sums.ll, rr: t.sums.rr, re: t.sums.lr }).sum()
}

#[test]
fn correlation_of_constructed_noise() {
    let mut cases = Cases::new("C6, C7: construction, ± 4σ with N independent pairs");
    let mut dice = Noise::new(0xC6);
    let count = frames(10.0, RATE);
    let mut check = |name: String, left: &[f64], right: &[f64], rho: f64| {
        let run = measured(RATE, &[left, right]);
        let whole = over_all(&run.tenths).correlation();
        cases.near(format!("{name}, time domain, 10 s"), whole, rho, four_sigma(rho, count as f64));
        let newest = run.view.meters.correlation;
        cases.near(format!("{name}, newest 300 ms"), newest, rho, four_sigma(rho, 0.3 * FS));
        // Spectra cover 20 Hz to 20 kHz: 2·B·T pairs.
        let pairs = 2.0 * 19_980.0 * 10.0;
        let spectra = run.view.spectral(Averaging::SinceReset).whole.correlation;
        cases.near(format!("{name}, spectra, 10 s"), spectra, rho, four_sigma(rho, pairs));
    };
    for rho in [-0.9_f64, -0.5, 0.0, 0.25, 0.5, 0.75, 0.9] {
        let [n1, n2] = [0, 1].map(|_| dice.white(count, 0.1));
        let scaled: Vec<f64> = n1.iter().map(|x| rho * x).collect();
        let right = mixed(&scaled, &n2, (1.0 - rho * rho).sqrt());
        check(format!("C6 ρ = {rho}"), &n1, &right, rho);
    }
    for (a, b) in [(1.0, 1.0), (1.0, 0.5), (0.5, 1.0)] {
        let [common, n1, n2] = [0, 1, 2].map(|_| dice.white(count, 0.1));
        let scaled: Vec<f64> = common.iter().map(|x| a * x).collect();
        let rho = a * a / (a * a + b * b);
        check(format!("C7 a = {a}, b = {b}"), &mixed(&scaled, &n1, b), &mixed(&scaled, &n2, b), rho);
    }
    cases.end(30);
}

#[test]
#[expect(clippy::approx_constant, reason = "digits as printed")]
fn correlation_of_delayed_band_noise() {
    let mut cases = Cases::new("C8: ρ = sinc(2Bd/fs) (Wiener–Khinchin)");
    let mut dice = Noise::new(0xC8);
    let secs = 10.0;
    for (band, shift, rho) in [
        (4_000.0, 1, 0.9549),
        (4_000.0, 6, 0.0),
        (1_000.0, 6, 0.9003),
        (1_000.0, 12, 0.6366),
        (1_000.0, 24, 0.0),
    ] {
        let left = dice.coloured(frames(secs, RATE), 0.1, 0.0, 0.0, band, FS);
        let run = measured(RATE, &[&left, &delayed(&left, f64::from(shift))]);
        let pairs = 2.0 * band * secs;
        let got = over_all(&run.tenths).correlation();
        let name = format!("B = {band} Hz, d = {shift}");
        cases.near(format!("{name}, 10 s"), got, rho, four_sigma(rho, pairs) + 0.000_05);
        let newest = four_sigma(rho, 2.0 * band * 0.3);
        cases.near(format!("{name}, newest 300 ms"), run.view.meters.correlation, rho, newest);
    }
    cases.end(10);
}

#[test]
fn estimates_scatter_as_their_bandwidth_says() {
    let mut cases = Cases::new("N = 2BT: variance of r over 0.1 s (published and Monte Carlo), and its bias");
    let mut dice = Noise::new(0x52);
    let secs = 60.0;
    // The standard error of a variance over 600 tenths is √(2/600): four times that is 23 %.
    for (band, variance) in
        [(24_000.0, 2.083e-4), (12_000.0, 4.17e-4), (6_000.0, 8.33e-4), (1_000.0, 5.00e-3)]
    {
        let [left, right] = [0, 1].map(|_| dice.coloured(frames(secs, RATE), 0.1, 0.0, 0.0, band, FS));
        let tenths = measured(RATE, &[&left, &right]).tenths;
        let of = |t: &Tenth| over_all(std::slice::from_ref(t)).correlation().expect("noise is loud");
        let squares: f64 = tenths.iter().map(|t| of(t).powi(2)).sum();
        let got = squares / tenths.len() as f64;
        cases.near(format!("variance at ρ = 0, B = {band} Hz"), got / variance, 1.0, 0.23);
    }
    // ρ = 0.7 over N = 4800: (1−ρ²)²/N·(1+11ρ²/2N), and a bias of −ρ(1−ρ²)/2N far below the scatter.
    let [n1, n2] = [0, 1].map(|_| dice.white(frames(secs, RATE), 0.1));
    let scaled: Vec<f64> = n1.iter().map(|x| 0.7 * x).collect();
    let right = mixed(&scaled, &n2, 0.51_f64.sqrt());
    let tenths = measured(RATE, &[&n1, &right]).tenths;
    let values: Vec<f64> = tenths
        .iter()
        .map(|t| over_all(std::slice::from_ref(t)).correlation().expect("noise is loud"))
        .collect();
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let variance = values.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / values.len() as f64;
    let expected: f64 = 0.51_f64.powi(2) / 4_800.0 * (1.0 + 11.0 * 0.49 / 9_600.0);
    cases.near("variance at ρ = 0.7", variance / expected, 1.0, 0.23);
    let bias = -0.7 * 0.51 / 9_600.0;
    cases.near("mean at ρ = 0.7", mean, 0.7 + bias, 4.0 * (expected / 600.0).sqrt());
    cases.end(6);
}

#[test]
fn dc_is_no_common_sound() {
    let mut cases = Cases::new("correlation of unrelated noise with DC in both channels");
    let mut noise = Noise::new(0xDC);
    for offset in [0.0, 0.05, 0.5] {
        let [left, right] = [0, 1]
            .map(|_| noise.pink(96_000, 0.05, 48_000.0).iter().map(|x| x + offset).collect::<Vec<f64>>());
        let meters = measured(48_000, &[&left, &right]).view.meters;
        // The lowest octaves of pink noise scatter over 300 ms.
        cases.within(format!("DC {offset}"), meters.correlation, -0.35, 0.35);
    }
    cases.end(3);
}
