//! Coherence over N independent averages: Carter, Knapp, Nuttall, IEEE Trans. Audio 21 (1973), from memory.

use super::{RATE, WINDOW, compared, rate};
use plumbline_programme::pair::{Correlator, coherence_threshold, expected_coherence};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, mixed};

#[test]
fn coherence_by_chance() {
    let mut cases = Cases::new("Carter, Knapp, Nuttall 1973 (from memory)");
    let thresholds = [
        (2.0, [0.9, 0.95, 0.99, 0.999]),
        (4.0, [0.5358, 0.6316, 0.7846, 0.9]),
        (8.0, [0.2803, 0.3482, 0.4821, 0.6272]),
        (16.0, [0.1423, 0.181, 0.2644, 0.369]),
        (32.0, [0.0716, 0.0921, 0.138, 0.1997]),
        (64.0, [0.0359, 0.0464, 0.0705, 0.1038]),
        (100.0, [0.023, 0.0298, 0.0455, 0.0674]),
    ];
    for (averages, row) in thresholds {
        for (confidence, expected) in [0.9, 0.95, 0.99, 0.999].into_iter().zip(row) {
            let got = coherence_threshold(averages, confidence);
            cases.near(format!("N = {averages}, {confidence}"), got, expected, 6e-5);
        }
    }
    let means = [
        (0.0, [0.125, 0.0625, 0.03125, 0.01562]),
        (0.25, [0.32454, 0.28624, 0.26785, 0.25886]),
        (0.5, [0.53536, 0.51663, 0.50806, 0.50397]),
        (0.9, [0.9016, 0.9007, 0.90033, 0.90016]),
    ];
    for (coherence, row) in means {
        for (averages, expected) in [8.0, 16.0, 32.0, 64.0].into_iter().zip(row) {
            // The formula is an approximation, with the largest error at N = 8.
            let got = expected_coherence(coherence, averages);
            cases.near(format!("mean, γ² = {coherence}, N = {averages}"), got, expected, 0.0035);
        }
    }
    cases.near("one average", coherence_threshold(1.0, 0.95), 1.0, 0.0);
    cases.end(45);
}

#[test]
fn coherence_of_a_pair_is_what_its_signal_to_noise_says() {
    let mut cases = Cases::new("coherence of a pair at its delay, (S/(1+S))² for equal signal to noise S");
    let mut with = Correlator::new(rate());
    for (db, runs) in [(-10.0, 4), (0.0, 4), (10.0, 4), (30.0, 4)] {
        let s = 10.0_f64.powf(db / 10.0);
        let expected = (s / (1.0 + s)).powi(2);
        let mut sum = 0.0;
        for run in 0..runs {
            let mut noise = Noise::new(300 + run);
            let source = noise.white(WINDOW + 480, 0.1);
            let [a, b] = [0, 1].map(|_| noise.white(WINDOW, 0.1 / s.sqrt()));
            let window =
                compared(&mut with, &mixed(&source[480..], &a, 1.0), &mixed(&source[..WINDOW], &b, 1.0));
            let thirds = &window.thirds[10..];
            sum += thirds.iter().map(|third| third.coherence.unwrap_or(f64::NAN)).sum::<f64>()
                / thirds.len() as f64;
        }
        // 10 ms of the 2 s are not common; small means are biased because coherence cannot be below 0.
        cases.near(format!("{db} dB"), sum / runs as f64, expected, 0.012);
    }
    let mut noise = Noise::new(9);
    let [a, b] = [0, 1].map(|_| noise.pink(WINDOW, 0.1, RATE));
    for (third, got) in compared(&mut with, &a, &b).thirds.iter().enumerate().skip(10) {
        cases.within(format!("unrelated, third {third}"), got.coherence, 0.0, 0.1);
    }
    cases.end(25);
}
