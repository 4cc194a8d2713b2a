//! FFT windows: F. J. Harris, Proc. IEEE 66(1), 1978, Table I; G. Heinzel, A. Rüdiger, R. Schilling, 2002.

use crate::rig::{frames, in_both};
use plumbline_measure::window::{
    HANN_COHERENT_GAIN, HANN_NOISE_BANDWIDTH, hann, hann_peak, hann_response, tone_near,
};
use plumbline_measure::{Averaging, View};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, sine};

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

/// The view over a full-scale sine at `bin` of the 4096-sample window at 48 kHz (its lines lie at 224 to 2 239 Hz).
fn sine_at(bin: f64) -> View {
    let hz = bin * 48_000.0 / 4_096.0;
    in_both(48_000, &sine(frames(2.0, 48_000), 1.0, hz, 0.4, 48_000.0)).view
}

/// The line nearest to bin `bin` of the 4096-sample window.
fn line(view: &View, bin: f64) -> usize {
    let hz = bin * 48_000.0 / 4_096.0;
    let off = |i: &usize| (f64::from(view.line_hz[*i]) - hz).abs();
    (0..view.line_hz.len()).min_by(|a, b| off(a).total_cmp(&off(b))).expect("there are lines")
}

#[test]
fn a_sine_reads_its_level_in_the_line_spectrum() {
    let mut cases = Cases::new("calibration, N = 4096, Hann, 48 kHz (computed)");
    let rows = [("W1", 85.0, 0.0, 1e-6), ("W2", 85.25, -0.3515, 1e-3), ("W3", 85.5, -1.4236, 1e-3)];
    for (name, bin, expected, tolerance) in rows {
        let view = sine_at(bin);
        for averaging in Averaging::ALL {
            let lines = &view.spectral(averaging).lines_dbfs;
            let highest = f64::from(lines.iter().copied().fold(f32::NEG_INFINITY, f32::max));
            cases.near(format!("{name}, {averaging:?}"), highest, expected, tolerance);
        }
        let held = f64::from(view.hold_dbfs.iter().copied().fold(f32::NEG_INFINITY, f32::max));
        cases.near(format!("{name}, peak hold"), held, expected, tolerance);
        let found = line(&view, 85.0);
        cases.near(format!("{name}, line of bin 85"), f64::from(view.line_hz[found]), 996.093_75, 1e-4);
    }
    cases.end(15);
}

#[test]
fn noise_reads_its_density_in_the_line_spectrum() {
    let mut cases = Cases::new("W4: white noise, mean line power in RMS units σ²·2·ENBW/N, ± 0.1 dB");
    let mut noise = Noise::new(0x44);
    // A sine of full scale has a mean square of ½: dBFS lies 3.01 dB over RMS units.
    let (sigma, rms_to_dbfs) = (0.1_f64, 10.0 * 2.0_f64.log10());
    // Rate, window, its lines in Hz, expected dB for σ = 1.
    for (hz, window, low, high, expected) in [
        (48_000, 1_024, 2_300.0, 20_000.0, -25.332),
        (48_000, 4_096, 230.0, 2_200.0, -31.352),
        (48_000, 16_384, 10.0, 220.0, -37.373),
        (96_000, 2_048, 2_300.0, 20_000.0, -28.342),
        (96_000, 8_192, 230.0, 2_200.0, -34.363),
    ] {
        let samples = noise.white(frames(40.0, hz), sigma);
        let view = in_both(hz, &samples).view;
        let lines = view.line_hz.iter().zip(&view.spectral(Averaging::SinceReset).lines_dbfs);
        let powers: Vec<f64> = lines
            .filter(|(line_hz, _)| (low..high).contains(&f64::from(**line_hz)))
            .map(|(_, dbfs)| 10.0_f64.powf(f64::from(*dbfs) / 10.0))
            .collect();
        let mean = 10.0 * (powers.iter().sum::<f64>() / powers.len() as f64).log10();
        let got = mean - rms_to_dbfs - 20.0 * sigma.log10();
        cases.near(format!("N = {window} at {hz}, {} lines", powers.len()), got, expected, 0.1);
    }
    cases.end(5);
}

#[test]
fn a_frequency_is_read_between_the_lines() {
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
        let view = sine_at(bin);
        let lines = &view.spectral(Averaging::Slow).lines_dbfs;
        let power = |i: usize| 10.0_f64.powf(f64::from(lines[i]) / 10.0);
        // Midway between two lines rounding says which is the higher.
        let [below, above] = [bin.floor(), bin.ceil()].map(|bin| line(&view, bin));
        let peak = if power(above) > power(below) { above } else { below };
        let readout = hann_peak(power(peak - 1), power(peak), power(peak + 1));
        let middle = f64::from(view.line_hz[peak]) * 4_096.0 / 48_000.0;
        // 1e-4 bin is 1 mHz: single precision and the leak from the negative frequency are left.
        cases.near(format!("readout at bin {bin}"), readout.map(|r| middle + r.0), bin, 0.000_5);
        cases.near(format!("level at bin {bin}, dB"), readout.map(|r| 10.0 * r.1.log10()), 0.0, 0.001);
    }
    cases.end(20);
}

/// Frequencies across the range, and close to each other where windows change over.
fn tones() -> Vec<f64> {
    let mut all: Vec<f64> = (0..40).map(|i| 21.0 * 900.0_f64.powf(f64::from(i) / 39.0)).collect();
    all.extend((0..24).map(|i| 221.0 + 0.73 * f64::from(i)));
    all.extend((0..24).map(|i| 2_210.0 + 5.9 * f64::from(i)));
    all
}

#[test]
fn a_tone_reads_its_level_between_all_lines() {
    let mut cases = Cases::new(
        "a sine anywhere: its line within scalloping (1.4236 dB), the tone between lines within 0.1 dB (computed)",
    );
    let mut rates = 0;
    for hz in [22_050, 32_000, 44_100, 48_000, 96_000, 192_000, 384_000] {
        rates += 1;
        let tones: Vec<f64> = tones().into_iter().filter(|tone| *tone < 0.45 * f64::from(hz)).collect();
        let step = if hz > 100_000 { 4 } else { 1 };
        for tone in tones.into_iter().step_by(step) {
            let view = in_both(hz, &sine(frames(0.8, hz), 0.5, tone, 0.4, f64::from(hz))).view;
            let lines = &view.spectral(Averaging::Slow).lines_dbfs;
            let level = 20.0 * 0.5_f64.log10();
            let highest = f64::from(lines.iter().copied().fold(f32::NEG_INFINITY, f32::max));
            let name = format!("{tone:.2} Hz at {hz}");
            cases.within(format!("{name}, highest line"), highest, level - 1.5, level + 0.03);
            // Asked for nearby, as by a hand.
            for asked in [tone, tone * 1.002] {
                let read = tone_near(&view.line_hz, lines, asked);
                cases.near(format!("{name}, level, asked at {asked:.2}"), read.map(|t| t.dbfs), level, 0.1);
                cases.near(
                    format!("{name}, frequency, asked at {asked:.2}"),
                    read.map(|t| t.hz / tone),
                    1.0,
                    0.004,
                );
            }
        }
    }
    cases.holds("rates", rates == 7);
    cases.end(478 * 5 + 1);
}

#[test]
fn lines_are_nowhere_further_apart_than_the_window_above() {
    let mut cases =
        Cases::new("distance of neighbouring lines: that of the window of the upper one (construction)");
    for hz in [22_050, 32_000, 36_000, 44_100, 47_952, 48_000, 88_200, 96_000, 176_400, 192_000, 384_000] {
        let line_hz = in_both(hz, &sine(64, 0.5, 1_000.0, 0.0, f64::from(hz))).view.line_hz;
        let steps: Vec<f32> = line_hz.windows(2).map(|pair| pair[1] - pair[0]).collect();
        // Finer and finer downwards: no step is wider than the one above it.
        let widest = steps.windows(2).all(|pair| pair[0] <= pair[1] * 1.001);
        cases.holds(format!("{hz}: {} lines, no step wider than the next", line_hz.len()), widest);
        let kinds = steps.windows(2).filter(|pair| pair[1] > pair[0] * 1.5).count();
        cases.holds(format!("{hz}: {kinds} changes of windows"), kinds == 2);
    }
    cases.end(22);
}
