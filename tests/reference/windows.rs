//! FFT windows: F. J. Harris, Proc. IEEE 66(1), 1978, Table I; G. Heinzel, A. Rüdiger, R. Schilling, 2002.

use plumbline_measure::test_support::{
    HANN_COHERENT_GAIN, HANN_NOISE_BANDWIDTH, hann, hann_peak, hann_response,
};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::sine;
use realfft::RealFftPlanner;

/// Offset in bins at which the window's response has fallen to `amplitude`.
fn offset_at(amplitude: f64) -> f64 {
    let (mut near, mut far) = (0.0, 1.9);
    for _ in 0..60 {
        let middle = (near + far) / 2.0;
        if hann_response(middle) > amplitude { near = middle } else { far = middle }
    }
    near
}

#[test]
fn the_hann_row() {
    let mut cases = Cases::new("Hann row: Harris 1978 Table I (from memory), Heinzel 2002, and computed");
    for length in [512, 1_024, 4_096, 16_384, 131_072] {
        let w = hann(length);
        let n = length as f64;
        let sum: f64 = w.iter().sum();
        let squares: f64 = w.iter().map(|x| x * x).sum();
        cases.near(format!("coherent gain, {length}"), sum / n, 0.5, 1e-5);
        cases.near(format!("noise bandwidth, {length}"), n * squares / (sum * sum), 1.5, 1e-5);
        let overlap = |hop: usize| (hop..length).map(|i| w[i] * w[i - hop]).sum::<f64>() / squares;
        cases.near(format!("overlap correlation 50 %, {length}"), overlap(length / 2), 0.167, 0.000_5);
        cases.near(format!("overlap correlation 75 %, {length}"), overlap(length / 4), 0.659, 0.000_5);
    }
    cases.near("coherent gain as used", HANN_COHERENT_GAIN, 0.5, 0.0);
    cases.near("noise bandwidth as used", HANN_NOISE_BANDWIDTH, 1.5, 0.0);
    let bandwidth_db = 10.0 * HANN_NOISE_BANDWIDTH.log10();
    cases.near("noise bandwidth, dB", bandwidth_db, 1.7609, 1e-4);
    let scalloping = -20.0 * hann_response(0.5).log10();
    cases.near("scalloping (Harris 1.42, Heinzel 1.4236)", scalloping, 1.4236, 1e-4);
    cases.near("worst-case loss", scalloping + bandwidth_db, 3.185, 0.000_5);
    cases.near("−3 dB bandwidth (power ½)", 2.0 * offset_at(0.5_f64.sqrt()), 1.4406, 1e-4);
    cases.near("−3.000 dB bandwidth (Heinzel)", 2.0 * offset_at(10.0_f64.powf(-0.15)), 1.4382, 1e-4);
    cases.near("−6 dB bandwidth", 2.0 * offset_at(0.5), 2.0, 1e-4);
    let lobe = (2_000..6_000).map(|i| hann_response(f64::from(i) / 1_000.0)).fold(0.0, f64::max);
    cases.near("highest side lobe (Harris −32, Heinzel −31.5)", 20.0 * lobe.log10(), -31.47, 0.05);
    cases.end(29);
}

/// Powers of the bins of a full-scale sine at `bin` of 4096 samples under the window: 1 on a bin.
fn powers_of_sine_at(bin: f64) -> Vec<f64> {
    let length = 4_096;
    let transform = RealFftPlanner::<f64>::new().plan_fft_forward(length);
    let tone = sine(length, 1.0, bin, 0.4, length as f64);
    let mut input: Vec<f64> = tone.iter().zip(hann(length)).map(|(x, w)| x * w).collect();
    let mut output = transform.make_output_vec();
    transform.process(&mut input, &mut output).expect("lengths come from the plan");
    output.iter().map(|x| x.norm_sqr() / (length as f64 * HANN_COHERENT_GAIN / 2.0).powi(2)).collect()
}

#[test]
fn a_frequency_is_read_between_the_bins() {
    let mut cases =
        Cases::new("W5: a parabola on dB values errs by 0.0160 bin and 0.32 dB; the readout does not");
    let [mut worst_bin, mut worst_db] = [0.0_f64; 2];
    for step in 0..=100 {
        let offset = f64::from(step) / 200.0;
        let [a, b, c] = [-1.0, 0.0, 1.0].map(|bin: f64| 20.0 * hann_response(bin - offset).max(1e-9).log10());
        let found = 0.5 * (a - c) / (a - 2.0 * b + c);
        worst_bin = worst_bin.max((found - offset).abs());
        worst_db = worst_db.max(b - 0.25 * (a - c) * found);
    }
    cases.near("parabola, frequency", worst_bin, 0.0160, 0.000_1);
    cases.near("parabola, level", worst_db, 0.32, 0.005);

    for step in -4..=4 {
        let bin = 85.0 + f64::from(step) / 8.0;
        let power = powers_of_sine_at(bin);
        let peak = if power[86] > power[85] {
            86
        } else if power[84] > power[85] {
            84
        } else {
            85
        };
        let readout = hann_peak(power[peak - 1], power[peak], power[peak + 1]);
        // 1e-4 bin is 1 mHz: the remaining leakage from the negative frequency.
        cases.near(format!("readout at bin {bin}"), readout.map(|r| peak as f64 + r.0), bin, 0.000_1);
        cases.near(format!("level at bin {bin}, dB"), readout.map(|r| 10.0 * r.1.log10()), 0.0, 0.001);
    }
    cases.end(20);
}
