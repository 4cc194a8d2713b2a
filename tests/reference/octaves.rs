//! One-third-octave bands: IEC 61260-1:2014 and ISO 266:1997.

use crate::rig::{RATES, amplitude, frames, in_both, label};
use plumbline_measure::bands::{
    BinSpan, FIRST_ACCURATE_THIRD, THIRD_LABELS, THIRDS, third_centre_hz, third_span, window_for,
};
use plumbline_measure::test_support::{OCTAVE_RATIO, thirds_at, window_lengths};
use plumbline_measure::{Averaging, SampleRate};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, sine};

/// Nominal label (Annex E Table E.1 and ISO 266, from memory), mid-band frequency and edges in Hz, as printed.
const TABLE: [(&str, f64, f64, f64); THIRDS] = [
    ("20", 19.9526, 17.7828, 22.3872),
    ("25", 25.1189, 22.3872, 28.1838),
    ("31.5", 31.6228, 28.1838, 35.4813),
    ("40", 39.8107, 35.4813, 44.6684),
    ("50", 50.1187, 44.6684, 56.2341),
    ("63", 63.0957, 56.2341, 70.7946),
    ("80", 79.4328, 70.7946, 89.1251),
    ("100", 100.0000, 89.1251, 112.2018),
    ("125", 125.8925, 112.2018, 141.2538),
    ("160", 158.4893, 141.2538, 177.8279),
    ("200", 199.5262, 177.8279, 223.8721),
    ("250", 251.1886, 223.8721, 281.8383),
    ("315", 316.2278, 281.8383, 354.8134),
    ("400", 398.1072, 354.8134, 446.6836),
    ("500", 501.1872, 446.6836, 562.3413),
    ("630", 630.9573, 562.3413, 707.9458),
    ("800", 794.3282, 707.9458, 891.2509),
    ("1k", 1000.0000, 891.2509, 1122.0185),
    ("1.25k", 1258.9254, 1122.0185, 1412.5375),
    ("1.6k", 1584.8932, 1412.5375, 1778.2794),
    ("2k", 1995.2623, 1778.2794, 2238.7211),
    ("2.5k", 2511.8864, 2238.7211, 2818.3829),
    ("3.15k", 3162.2777, 2818.3829, 3548.1339),
    ("4k", 3981.0717, 3548.1339, 4466.8359),
    ("5k", 5011.8723, 4466.8359, 5623.4133),
    ("6.3k", 6309.5734, 5623.4133, 7079.4578),
    ("8k", 7943.2823, 7079.4578, 8912.5094),
    ("10k", 10000.0000, 8912.5094, 11220.1845),
    ("12.5k", 12589.2541, 11220.1845, 14125.3754),
    ("16k", 15848.9319, 14125.3754, 17782.7941),
    ("20k", 19952.6231, 17782.7941, 22387.2114),
];

/// Octaves made of three thirds: index of the lowest third, mid-band frequency, edges.
const OCTAVES: [(usize, f64, f64, f64); 10] = [
    (1, 31.6228, 22.3872, 44.6684),
    (4, 63.0957, 44.6684, 89.1251),
    (7, 125.8925, 89.1251, 177.8279),
    (10, 251.1886, 177.8279, 354.8134),
    (13, 501.1872, 354.8134, 707.9458),
    (16, 1000.0, 707.9458, 1412.5375),
    (19, 1995.2623, 1412.5375, 2818.3829),
    (22, 3981.0717, 2818.3829, 5623.4133),
    (25, 7943.2823, 5623.4133, 11220.1845),
    (28, 15848.9319, 11220.1845, 22387.2114),
];

#[test]
fn thirds_lie_where_the_standard_puts_them() {
    let mut cases = Cases::new("IEC 61260-1:2014 clause 5, Annex E Table E.1");
    cases.near("octave ratio G = 10^(3/10)", OCTAVE_RATIO, 1.995_262_314_968_88, 1e-14);
    // The table has four decimals, so 1e-6 of the value or half a unit of the last decimal.
    let close = |printed: f64| (printed * 1e-6).max(0.000_051);
    for (third, (label, middle, low, high)) in TABLE.into_iter().enumerate() {
        let span = third_span(third);
        cases.holds(format!("label {label}"), THIRD_LABELS[third] == label);
        cases.near(format!("{label} middle"), third_centre_hz(third), middle, close(middle));
        cases.near(format!("{label} lower edge"), span.low_hz, low, close(low));
        cases.near(format!("{label} upper edge"), span.high_hz, high, close(high));
        // The definition itself: fm = 1000·10^(x/10), edges at fm·10^(∓1/20).
        let exact = 10.0_f64.powf(3.0 + (third as f64 - 17.0) / 10.0);
        cases.near(format!("{label} middle, exact"), third_centre_hz(third) / exact, 1.0, 1e-6);
        cases.near(format!("{label} lower edge, exact"), span.low_hz / exact, 10.0_f64.powf(-0.05), 1e-6);
        cases.near(format!("{label} upper edge, exact"), span.high_hz / exact, 10.0_f64.powf(0.05), 1e-6);
        let width = (span.high_hz - span.low_hz) / third_centre_hz(third);
        cases.near(format!("{label} relative bandwidth"), width, 0.230_768, 1e-6);
    }
    for (lowest, middle, low, high) in OCTAVES {
        let (first, last) = (third_span(lowest), third_span(lowest + 2));
        cases.near(format!("octave {middle}: middle"), third_centre_hz(lowest + 1), middle, close(middle));
        cases.near(format!("octave {middle}: lower edge"), first.low_hz, low, close(low));
        cases.near(format!("octave {middle}: upper edge"), last.high_hz, high, close(high));
        let width = (last.high_hz - first.low_hz) / third_centre_hz(lowest + 1);
        cases.near(format!("octave {middle}: relative bandwidth"), width, 0.704_592, 1e-6);
    }
    cases.end(1 + 31 * 8 + 10 * 4);
}

#[test]
fn thirds_are_a_partition_of_the_bins() {
    let mut cases = Cases::new("Parseval: bin powers over all bands are the total, 1e-9 relative");
    for hz in [22_050, 44_100, 48_000, 96_000, 384_000] {
        let rate = SampleRate::new(hz).expect("a rate that can be measured");
        for (window, length) in window_lengths(rate).into_iter().enumerate() {
            // Any powers would do; these rise with the bin, so that a misplaced share shows.
            let power = |bin: usize| 1.0 + bin as f64;
            let spans = (0..thirds_at(rate)).map(third_span).filter(|span| window_for(span.low_hz) == window);
            let shares: Vec<BinSpan> = spans.clone().map(|s| BinSpan::new(window, length, rate, s)).collect();
            let by_band: f64 = shares
                .iter()
                .flat_map(|s| s.weights.iter().enumerate().map(|(i, share)| share * power(s.first + i)))
                .sum();
            let mut whole = vec![0.0; length / 2 + 1];
            for share in &shares {
                for (i, weight) in share.weights.iter().enumerate() {
                    whole[share.first + i] += weight;
                }
            }
            let (first, last) = (shares[0].first, shares[shares.len() - 1].end());
            let inside = whole[first + 1..last - 1].iter().all(|share| (share - 1.0).abs() < 1e-9);
            cases.holds(format!("{hz} window {length}: every bin inside counts once"), inside);
            let total: f64 = whole.iter().enumerate().map(|(bin, share)| share * power(bin)).sum();
            cases.near(format!("{hz} window {length}: sum of the bands"), by_band / total, 1.0, 1e-9);
        }
    }
    cases.end(5 * 3 * 2);
}

/// Seconds of noise in the tests below.
const NOISE_SECS: f64 = 40.0;

/// Four standard deviations of a level over a bandwidth, in dB: 4·4.343/√(B·T).
fn four_sigma_db(bandwidth_hz: f64) -> f64 {
    4.0 * 4.343 / (bandwidth_hz * NOISE_SECS).sqrt()
}

#[test]
fn white_noise_rises_one_db_a_third() {
    let mut cases = Cases::new("white noise, 48 kHz: octave and third levels relative to 0…24 kHz");
    let mut noise = Noise::new(0x3B);
    let count = frames(NOISE_SECS, 48_000);
    let samples = noise.white(count, 0.1);
    let total = 10.0 * (2.0 * samples.iter().map(|x| x * x).sum::<f64>() / count as f64).log10();
    let view = in_both(48_000, &samples).view;
    let thirds = &view.spectral(Averaging::SinceReset).thirds;
    let power = |third: usize| 10.0_f64.powf(thirds[third].level_dbfs.expect("noise is loud") / 10.0);
    // 31.5 Hz, 1 kHz and 16 kHz as printed; the others are exactly 3.000 dB apart.
    for (lowest, expected) in [(1, -30.32), (16, -15.32), (28, -3.32)] {
        let octave: f64 = (lowest..lowest + 3).map(power).sum();
        let span = third_span(lowest + 2).high_hz - third_span(lowest).low_hz;
        let got = 10.0 * octave.log10() - total;
        cases.near(format!("octave of {}", label(lowest + 1)), got, expected, four_sigma_db(span) + 0.005);
    }
    for (third, readings) in thirds.iter().enumerate() {
        let span = third_span(third);
        let width = span.high_hz - span.low_hz;
        let expected = 10.0 * (width / 24_000.0).log10();
        let got = readings.level_dbfs.map(|level| level - total);
        cases.near(format!("third {}", label(third)), got, expected, four_sigma_db(width));
    }
    let covered = third_span(THIRDS - 1).high_hz - third_span(0).low_hz;
    let sum: f64 = (0..THIRDS).map(power).sum();
    let expected = 10.0 * (covered / 24_000.0).log10();
    cases.near("all thirds together", 10.0 * sum.log10() - total, expected, four_sigma_db(covered));
    cases.end(35);
}

#[test]
fn a_sine_at_a_centre_reads_its_level_in_that_third() {
    let mut cases = Cases::new("level of a sine at a third's centre, from 63 Hz up: 0.05 dB");
    for hz in [22_050, 32_000, 44_100, 48_000, 96_000, 192_000, 384_000] {
        let rate = SampleRate::new(hz).expect("a rate that can be measured");
        let every = if RATES.contains(&hz) { 1 } else { 3 };
        for third in (FIRST_ACCURATE_THIRD..thirds_at(rate)).step_by(every) {
            let secs = if hz > 96_000 { 0.7 } else { 1.0 };
            let samples =
                sine(frames(secs, hz), amplitude(-12.0), third_centre_hz(third), 0.7, f64::from(hz));
            let view = in_both(hz, &samples).view;
            for averaging in [Averaging::Slow, Averaging::SinceReset] {
                let got = view.spectral(averaging).thirds[third].level_dbfs;
                let name = format!("{} Hz at {hz}, {averaging:?}", label(third));
                cases.near(name, got, -12.0, 0.05);
            }
        }
    }
    cases.end(2 * (26 + 26 + 26 + 8 + 9 + 9 + 9));
}

/// Breakpoints of the acceptance limits, IEC 61260-1:2014 Table 1 with Formulas 9 and 10: Ω of a third on the high
/// side (the low side is 1/Ω); class 1 least and greatest relative attenuation in dB, class 2 likewise.
const LIMITS: [(f64, [f64; 2], [f64; 2]); 10] = [
    (1.00000, [-0.4, 0.4], [-0.6, 0.6]),
    (1.02667, [-0.4, 0.5], [-0.6, 0.7]),
    (1.05575, [-0.4, 0.7], [-0.6, 0.9]),
    (1.08746, [-0.4, 1.4], [-0.6, 1.7]),
    (1.12202 - 0.00002, [-0.4, 5.3], [-0.6, 5.8]),
    (1.12202 + 0.00002, [1.2, f64::INFINITY], [0.8, f64::INFINITY]),
    (1.29437, [16.6, f64::INFINITY], [15.6, f64::INFINITY]),
    (1.88173, [40.5, f64::INFINITY], [39.5, f64::INFINITY]),
    (3.05365, [60.0, f64::INFINITY], [54.0, f64::INFINITY]),
    (5.39195, [70.0, f64::INFINITY], [60.0, f64::INFINITY]),
];

/// Relative attenuation in dB of a sine at `ratio` times a third's centre; 80 if the third has no reading, because
/// readings end 80 dB below the loudest third.
fn attenuation_db(hz: u32, third: usize, ratio: f64) -> Option<f64> {
    let tone = third_centre_hz(third) * ratio;
    if !(10.0..0.46 * f64::from(hz)).contains(&tone) {
        return None;
    }
    let samples = sine(frames(0.8, hz), amplitude(-6.0), tone, 0.7, f64::from(hz));
    let level = in_both(hz, &samples).view.spectral(Averaging::SinceReset).thirds[third].level_dbfs;
    Some(level.map_or(80.0, |level| -6.0 - level))
}

/// From 63 Hz up every third meets class 1 at every breakpoint, and so does 50 Hz at 48 kHz; 31.5 and 40 Hz meet class
/// 2; 20 and 25 Hz meet neither, because the longest window has only two bins in them.
#[test]
fn relative_attenuation_is_within_the_acceptance_limits() {
    let mut cases = Cases::new("IEC 61260-1:2014 Table 1 with Formulas 9 and 10, steady sines");
    for hz in RATES {
        let step = if hz == 48_000 { 1 } else { 5 };
        let accurate = (FIRST_ACCURATE_THIRD..THIRDS).step_by(step).map(|third| (third, 1));
        let indicative = [(2, 2), (3, 2), (4, 1)].into_iter().filter(|_| hz == 48_000);
        for (third, class) in indicative.chain(accurate) {
            for (ratio, class_1, class_2) in LIMITS {
                let [low, high] = if class == 1 { class_1 } else { class_2 };
                for factor in [ratio, 1.0 / ratio] {
                    if let Some(got) = attenuation_db(hz, third, factor) {
                        let label = label(third);
                        cases.within(format!("{label} at {factor:.5}, {hz}, class {class}"), got, low, high);
                    }
                }
            }
        }
    }
    // Ten breakpoints on both sides, except tones below 10 Hz or near half the rate.
    cases.end(787);
}
