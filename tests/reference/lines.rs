//! The lines of the spectrum, in closed form: a tone reads its level on its highest line, and noise reads its density
//! times the width of a cell, without a step between windows.

use crate::rig::{frames, in_both, measured};
use plumbline_measure::Averaging;
use plumbline_measure::Glance;
use plumbline_measure::bands::third_span;
use plumbline_measure::test_support::tone_near;

use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, sine};

/// Rates, and the number of tones at each: fewer at high rates, where a tone takes longer.
const TONES: [(u32, usize); 8] = [
    (22_050, 120),
    (32_000, 80),
    (34_000, 60),
    (44_100, 120),
    (48_000, 160),
    (96_000, 60),
    (192_000, 20),
    (384_000, 10),
];

/// Length of the longest window by rate, as documented: the power of two nearest 16384 samples at 48 kHz.
fn long_window(rate: u32) -> f64 {
    (16_384.0 * f64::from(rate) / 48_000.0).log2().round().exp2()
}

/// Width of a cell in Hz, as documented: 1/24 octave, and not less than 2.15 bins of the longest window.
fn width_hz(rate: u32, hz: f64) -> f64 {
    let octaves = 1.0 / 48.0_f64;
    (hz * (octaves.exp2() - (-octaves).exp2())).max(2.15 * f64::from(rate) / long_window(rate))
}

/// The frequencies where the windows of lines change, as documented: 1/24 octave is 2.5 bins of the next window.
fn seams_hz(rate: u32) -> [f64; 2] {
    [4.0, 16.0]
        .map(|shorter| 2.5 * shorter * f64::from(rate) / long_window(rate) / (width_hz(rate, 1e6) / 1e6))
}

fn db(power: f64) -> f64 {
    10.0 * power.log10()
}

/// Frequency and power of each line since reset.
fn powers(view: &Glance) -> Vec<(f64, f64)> {
    let lines = &view.spectral(Averaging::SinceReset).lines_dbfs;
    assert_eq!(lines.len(), view.line_hz.len(), "a level for each line");
    let power = |db: &f32| 10.0_f64.powf(f64::from(*db) / 10.0);
    view.line_hz.iter().map(|hz| f64::from(*hz)).zip(lines.iter().map(power)).collect()
}

fn highest(lines: &[f32]) -> f64 {
    f64::from(lines.iter().copied().fold(f32::NEG_INFINITY, f32::max))
}

#[test]
fn a_tone_reads_its_level_on_its_highest_line_at_any_frequency() {
    let mut cases =
        Cases::new("a steady sine, 25 Hz to 18 kHz: highest line within 0.2 dB of its level (closed form)");
    let mut draw = Noise::new(0x70_4E);
    let (mut lowest, mut most, mut ran) = (0.0_f64, 0.0_f64, 0);
    for (rate, count) in TONES {
        let top = 18_000.0_f64.min(0.45 * f64::from(rate));
        // The seams themselves, besides random frequencies.
        let seams = seams_hz(rate).into_iter().flat_map(|seam| [0.995, 1.0, 1.005].map(|by| by * seam));
        let lots: Vec<f64> = (0..count).map(|_| 25.0 * (top / 25.0).powf(draw.uniform())).collect();
        for (number, hz) in lots.into_iter().chain(seams).enumerate() {
            let level = -40.0 * draw.uniform();
            let phase = std::f64::consts::TAU * draw.uniform();
            let tone = sine(frames(0.8, rate), 10.0_f64.powf(level / 20.0), hz, phase, f64::from(rate));
            let run = if number % 2 == 0 { measured(rate, &[&tone]) } else { in_both(rate, &tone) };
            let name = format!("{hz:.2} Hz at {rate}, {level:.1} dBFS");
            for averaging in Averaging::ALL {
                let read = highest(&run.view.spectral(averaging).lines_dbfs);
                cases.near(format!("{name}, {averaging:?}"), read, level, 0.2);
                (lowest, most) = (lowest.min(read - level), most.max(read - level));
            }
            cases.near(format!("{name}, peak hold"), highest(&run.view.hold_dbfs), level, 0.2);
            // Looked up near the tone, as by a pointer.
            let lines = &run.view.spectral(Averaging::Slow).lines_dbfs;
            let read = tone_near(&run.view.line_hz, lines, hz * 1.002);
            cases.near(format!("{name}, level by hand"), read.map(|tone| tone.dbfs), level, 0.2);
            cases.near(format!("{name}, frequency by hand"), read.map(|tone| tone.hz / hz), 1.0, 0.005);
            ran += 1;
        }
    }
    println!("{ran} tones: {lowest:+.3} to {most:+.3} dB");
    cases.holds(format!("{lowest:+.3} to {most:+.3} dB over {ran} tones"), lowest > -0.15 && most < 0.15);
    cases.end(678 * 6 + 1);
}

#[test]
fn a_tone_in_one_channel_is_a_mean_of_both() {
    let mut cases =
        Cases::new("a full-scale sine in the left channel alone: −3.0103 dBFS (definition of a level)");
    let tone = sine(frames(1.0, 48_000), 1.0, 1_000.0, 0.3, 48_000.0);
    let view = measured(48_000, &[&tone, &vec![0.0; tone.len()]]).view;
    cases.near("highest line", highest(&view.spectral(Averaging::Slow).lines_dbfs), -3.010_3, 0.001);
    cases.end(1);
}

/// Seconds of noise.
const SECS: f64 = 60.0;

/// Levels of lines, dB relative to the reading expected for noise of a given density.
fn over_expected(view: &Glance, rate: u32, density: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
    let over = |(hz, power): (f64, f64)| (hz, db(power / (density(hz) * width_hz(rate, hz))));
    powers(view).into_iter().map(over).collect()
}

/// The mean of the lines from `low` to `high` Hz.
fn mean(lines: &[(f64, f64)], low: f64, high: f64) -> f64 {
    let inside: Vec<f64> =
        lines.iter().filter(|(hz, _)| (low..high).contains(hz)).map(|(_, db)| *db).collect();
    assert!(inside.len() >= 10, "{} lines from {low} to {high} Hz", inside.len());
    inside.iter().sum::<f64>() / inside.len() as f64
}

/// A sixth of an octave.
const SIXTH: f64 = 1.122_46;

/// Checks that levels relative to the expected ones are flat: at each seam, at the thirds where windows change, and
/// everywhere.
#[expect(clippy::print_stdout, reason = "the figures that docs/measures.md has")]
fn level_everywhere(cases: &mut Cases, name: &str, rate: u32, over: &[(f64, f64)], low: f64, high: f64) {
    let places = seams_hz(rate).into_iter().chain([third_span(11).low_hz, third_span(21).low_hz]);
    for seam in places.filter(|seam| seam * SIXTH < high) {
        let (below, above) = (mean(over, seam / SIXTH, seam), mean(over, seam, seam * SIXTH));
        println!("{name}: {seam:.0} Hz, {below:+.3} below, {above:+.3} above");
        // The noise is a sum of partials of known amplitude, so there is little scatter.
        cases.near(format!("{name}, step at {seam:.0} Hz"), above - below, 0.0, 0.1);
        cases.near(format!("{name}, below {seam:.0} Hz"), below, 0.0, 0.1);
        cases.near(format!("{name}, above {seam:.0} Hz"), above, 0.0, 0.1);
    }
    let inside: Vec<f64> =
        over.iter().filter(|(hz, _)| (low..high).contains(hz)).map(|(_, db)| *db).collect();
    let worst = inside.iter().fold(0.0, |worst: f64, db| worst.max(db.abs()));
    println!("{name}: {} lines, worst {worst:.3} dB", inside.len());
    cases.near(format!("{name}, worst line"), worst, 0.0, 0.3);
}

#[test]
fn white_noise_rises_by_the_width_of_a_cell_without_a_step() {
    let mut cases =
        Cases::new("noise of even density: each line density·width, level over every seam (closed form)");
    for (seed, rate) in [22_050, 32_000, 34_000, 44_100, 48_000, 96_000].into_iter().enumerate() {
        let rms = 0.1;
        let top = 0.499 * f64::from(rate);
        let samples = Noise::new(0x3417E + seed as u64).coloured(
            frames(SECS, rate),
            rms,
            0.0,
            5.0,
            top,
            f64::from(rate),
        );
        let view = in_both(rate, &samples).view;
        // dBFS is 3.01 dB above the mean square.
        let over = over_expected(&view, rate, |_| 2.0 * rms * rms / (top - 5.0));
        let high = over.last().map_or(0.0, |line| line.0 * 1.001).min(0.98 * top);
        level_everywhere(&mut cases, &format!("even at {rate}"), rate, &over, 20.0, high);
    }
    cases.end(6 * (4 * 3 + 1));
}

#[test]
fn gaussian_noise_scatters_about_its_density_by_chance_alone() {
    let mut cases = Cases::new(
        "white Gaussian noise: each line σ²·2·width/rate in dBFS, in standard errors (closed form)",
    );
    let mut noise = Noise::new(0x3417E);
    for rate in [44_100, 48_000, 96_000] {
        let sigma = 0.1;
        let view = in_both(rate, &noise.white(frames(SECS, rate), sigma)).view;
        let over = over_expected(&view, rate, |_| 2.0 * sigma * sigma * 2.0 / f64::from(rate));
        // The standard error of a level over B Hz and T seconds: 4.343 dB/√(B·T).
        let errors: Vec<f64> =
            over.iter().map(|(hz, db)| db * (width_hz(rate, *hz) * SECS).sqrt() / 4.343).collect();
        let worst = errors.iter().fold(0.0, |worst: f64, error| worst.max(error.abs()));
        println!("Gaussian at {rate}: worst of {} lines {worst:.2} standard errors", errors.len());
        cases.within(format!("Gaussian at {rate}, worst line in standard errors"), worst, 1.0, 5.0);
        let whole = over.iter().map(|(_, db)| db).sum::<f64>() / over.len() as f64;
        cases.near(format!("Gaussian at {rate}, mean of all lines"), whole, 0.0, 0.1);
    }
    cases.end(3 * 2);
}

#[test]
fn pink_noise_lies_level_where_cells_are_of_constant_relative_width() {
    let mut cases =
        Cases::new("pink noise 20 Hz to 20 kHz: each line width/(f·ln 1000) of the whole (closed form)");
    for (seed, rate) in [(0xF1_4C, 44_100), (0xF1_4D, 48_000), (0xF1_4E, 96_000)] {
        let count = frames(SECS, rate);
        let samples = Noise::new(seed).pink(count, 0.1, f64::from(rate));
        let total = 2.0 * samples.iter().map(|x| x * x).sum::<f64>() / count as f64;
        let view = in_both(rate, &samples).view;
        let over = over_expected(&view, rate, |hz| total / (hz * 1_000.0_f64.ln()));
        // Below 63 Hz a cell is so wide relative to its frequency that the density is not linear within it.
        level_everywhere(&mut cases, &format!("pink at {rate}"), rate, &over, 63.0, 19_000.0);
        // So the spectrum is drawn flat from the 250 Hz third up.
        let lines: Vec<(f64, f64)> = powers(&view).into_iter().map(|(hz, power)| (hz, db(power))).collect();
        let all = mean(&lines, third_span(11).low_hz, 19_000.0);
        for third in 11..30 {
            let span = third_span(third);
            let level = mean(&lines, span.low_hz, span.high_hz.min(19_000.0));
            cases.near(format!("pink at {rate}, third {third}"), level, all, 0.3);
        }
    }
    cases.end(3 * (4 * 3 + 1 + 19));
}

#[test]
fn lines_add_up_to_the_thirds_on_noise() {
    let mut cases =
        Cases::new("noise: density by lines over an octave against the power of its three thirds");
    let mut noise = Noise::new(0x5EA);
    let both = [
        ("white", noise.white(frames(SECS, 48_000), 0.1)),
        ("pink", noise.pink(frames(SECS, 48_000), 0.1, 48_000.0)),
    ];
    for (colour, samples) in both {
        let view = in_both(48_000, &samples).view;
        let lines = powers(&view);
        for first in (5..29).step_by(3) {
            let (low, high) = (third_span(first).low_hz, third_span(first + 2).high_hz);
            // Each line stands for 1/120 octave of its cell's width.
            let part = |(hz, power): &(f64, f64)| {
                let reach = (1.0 / 240.0_f64).exp2();
                let (from, to) = ((hz / reach).max(low), (hz * reach).min(high));
                power / width_hz(48_000, *hz) * (to - from).max(0.0)
            };
            let by_lines: f64 = lines.iter().map(part).sum();
            let thirds = &view.spectral(Averaging::SinceReset).thirds[first..first + 3];
            let by_thirds: f64 =
                thirds.iter().map(|third| 10.0_f64.powf(third.level_dbfs.unwrap_or(-999.0) / 10.0)).sum();
            let name = format!("{colour}, {low:.0} to {high:.0} Hz");
            println!("{name}: {:+.3} dB", db(by_lines / by_thirds));
            cases.near(name, db(by_lines / by_thirds), 0.0, 0.1);
        }
    }
    cases.end(2 * 8);
}

#[test]
fn lines_lie_evenly_and_reach_over_the_whole_range() {
    let mut cases = Cases::new("lines: 120 an octave, 17.8 Hz to 22 kHz or half the rate (definition)");
    for (rate, _) in TONES {
        let line_hz = in_both(rate, &sine(64, 0.5, 1_000.0, 0.0, f64::from(rate))).view.line_hz;
        let even = line_hz
            .windows(2)
            .all(|pair| (f64::from(pair[1]) / f64::from(pair[0]) - (1.0 / 120.0_f64).exp2()).abs() < 1e-6);
        cases.holds(format!("{rate}: {} lines, evenly", line_hz.len()), even);
        let last = line_hz.last().map(|hz| f64::from(*hz));
        cases.within(format!("{rate}: first"), line_hz.first().map(|hz| f64::from(*hz)), 17.7, 18.0);
        cases.within(format!("{rate}: last"), last, 21_800.0_f64.min(0.475 * f64::from(rate)), 22_100.0);
    }
    cases.end(8 * 3);
}
