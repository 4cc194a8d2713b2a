//! Noise colours, synthesised in the frequency domain.

use crate::rig::{frames, in_both, label};
use plumbline_measure::bands::{FIRST_ACCURATE_THIRD, THIRDS, third_span};
use plumbline_measure::test_support::thirds_at;
use plumbline_measure::{Averaging, SampleRate};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::Noise;

/// Seconds of noise.
const SECS: f64 = 40.0;

/// Share of the power between `low` and `high` of noise with power density ∝ f^slope from 20 Hz to 20 kHz.
fn share(slope: f64, low: f64, high: f64) -> f64 {
    let (low, high) = (low.max(20.0), high.min(20_000.0));
    let integral = |a: f64, b: f64| {
        if slope == -1.0 { (b / a).ln() } else { b.powf(slope + 1.0) - a.powf(slope + 1.0) }
    };
    integral(low, high) / integral(20.0, 20_000.0)
}

/// Levels of the thirds relative to the sum of the noise, dB.
fn thirds_of(exponent: f64, rate: u32, seed: u64) -> Vec<Option<f64>> {
    let count = frames(SECS, rate);
    let top = 20_000.0_f64.min(0.499 * f64::from(rate));
    let samples = Noise::new(seed).coloured(count, 0.1, exponent, 20.0, top, f64::from(rate));
    let total = 10.0 * (2.0 * samples.iter().map(|x| x * x).sum::<f64>() / count as f64).log10();
    let view = in_both(rate, &samples).view;
    view.spectral(Averaging::SinceReset).thirds.iter().map(|t| t.level_dbfs.map(|l| l - total)).collect()
}

/// Four standard deviations of a third's level: 4·4.343/√(B·T).
fn four_sigma_db(third: usize) -> f64 {
    let span = third_span(third);
    4.0 * 4.343 / ((span.high_hz - span.low_hz) * SECS).sqrt()
}

#[test]
fn each_colour_has_its_slope() {
    let mut cases = Cases::new("density f⁰, f⁻¹, f⁻², f⁺¹, f⁺²: level of each third, and slope over them");
    // Colour, density slope, band slope per base-10 octave as printed.
    for (seed, (colour, slope, per_octave)) in [
        ("white", 0.0, 3.00),
        ("pink", -1.0, 0.0),
        ("brown", -2.0, -3.00),
        ("blue", 1.0, 6.00),
        ("violet", 2.0, 9.00),
    ]
    .into_iter()
    .enumerate()
    {
        let levels = thirds_of(-slope / 2.0, 48_000, 0xA0 + seed as u64);
        // The 20 kHz third is cut by the noise's own limit; the lowest thirds of violet noise are below the relative
        // gate.
        let mut points = Vec::new();
        for (third, &level) in levels.iter().enumerate().take(THIRDS - 1).skip(FIRST_ACCURATE_THIRD) {
            let span = third_span(third);
            let expected = 10.0 * share(slope, span.low_hz, span.high_hz).log10();
            let name = format!("{colour}, {}", label(third));
            cases.near(name, level, expected, four_sigma_db(third) + 0.02);
            points.extend(level.map(|level| (third as f64, level)));
        }
        // Least squares over the thirds from 200 Hz up, each of which is accurate to 0.1 dB.
        let far: Vec<_> = points.into_iter().filter(|p| p.0 >= 10.0).collect();
        let n = far.len() as f64;
        let (mx, my) = (far.iter().map(|p| p.0).sum::<f64>() / n, far.iter().map(|p| p.1).sum::<f64>() / n);
        let got = far.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum::<f64>()
            / far.iter().map(|p| (p.0 - mx).powi(2)).sum::<f64>();
        cases.near(format!("{colour}, slope per octave"), 3.0 * got, per_octave, 0.05);
    }
    cases.end(5 * 26);
}

#[test]
fn pink_noise_is_flat_across_the_thirds() {
    let mut cases = Cases::new("pink 20 Hz to 20 kHz: each base-10 third holds 1/30, −14.771 dB");
    for rate in [44_100, 48_000, 96_000] {
        let levels = thirds_of(0.5, rate, 0xB0);
        for (third, &level) in levels.iter().enumerate().take(THIRDS - 1).skip(1) {
            let name = format!("{} at {rate}", label(third));
            // Thirds below 63 Hz are approximate: their skirts reach past their edges.
            let reach = if third < FIRST_ACCURATE_THIRD { 0.3 } else { 0.02 };
            cases.near(name, level, -14.771, four_sigma_db(third) + reach);
        }
    }
    // Cut at half the rate: 20 Hz to 11 003 Hz are 9.1 octaves.
    let levels = thirds_of(0.5, 22_050, 0xB1);
    let rate = SampleRate::new(22_050).expect("the lowest rate");
    for (third, &level) in levels.iter().enumerate().take(thirds_at(rate) - 1).skip(FIRST_ACCURATE_THIRD) {
        let expected = 10.0 * (0.1 * std::f64::consts::LN_10 / (0.499 * 22_050.0_f64 / 20.0).ln()).log10();
        let name = format!("{} at 22050", label(third));
        cases.near(name, level, expected, four_sigma_db(third) + 0.02);
    }
    cases.holds(
        "no reading of a third over half the rate",
        levels[thirds_at(rate)..].iter().all(Option::is_none),
    );
    cases.end(3 * 29 + 22 + 1);
}
