//! Onsets: the synthetic cases for spectral flux (ours, no published number; the flux is Dixon's L1 of DAFx-06 and the
//! threshold that of Bello et al., IEEE Trans. SAP 13(5), 2005 §IV, both from memory).
//!
//! The time of an onset is the middle of the frame with the highest flux. A Hann window is steepest an eighth of its
//! length off its middle, so a click is dated up to 5.3 ms early (a hop at 48 kHz) and a step up to 5.3 ms late, plus
//! an error from noise.

use crate::rig::{RATES, frames, measured};
use plumbline_measure::{Analyzer, BandEdges, Grid, Position, SampleRate, Tenth};
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, sine, single};

/// Tolerance of the time of an onset, seconds.
const NEAR_SECS: f64 = 0.012;
/// A hop of the shortest window at the rate where it is longest in seconds (44.1 kHz), plus an error from noise.
const CLICK_EARLY_SECS: f64 = 256.0 / 44_100.0 + 0.001;

/// The times of onsets in seconds.
pub(crate) fn found(tenths: &[Tenth], rate: u32) -> Vec<f64> {
    let rate_of = SampleRate::new(rate).expect("a rate that can be measured");
    let sounding = tenths.iter().filter(|tenth| tenth.onset.strength > 0.0);
    let sample = |tenth: &Tenth| rate_of.tenth_start(tenth.index) + i64::from(tenth.onset.at);
    sounding.map(|tenth| sample(tenth) as f64 / f64::from(rate)).collect()
}

fn onsets(samples: &[f64], rate: u32) -> Vec<f64> {
    let mono = found(&measured(rate, &[samples]).tenths, rate);
    let both = found(&measured(rate, &[samples, samples]).tenths, rate);
    assert_eq!(mono, both, "one channel against two equal ones");
    both
}

#[test]
fn clicks_in_noise_are_all_found_and_nothing_else() {
    let mut cases = Cases::new("clicks of 0.5 every 500 ms in white noise of RMS 0.001: F = 1.000 at ±12 ms");
    for rate in RATES {
        let step = frames(0.5, rate);
        // The phase of the clicks against the hop, in hundredths of a hop.
        for phase in [0, 13, 39, 50, 78, 99] {
            let late = frames(256.0 / 48_000.0, rate) * phase / 100;
            let mut samples = Noise::new(u64::from(rate) + phase as u64).white(frames(10.0, rate), 0.001);
            let clicks: Vec<usize> = (1..20).map(|k| k * step + late).collect();
            clicks.iter().for_each(|&at| samples[at] += 0.5);
            let got = onsets(&samples, rate);
            let name = format!("{rate} Hz, phase {phase}");
            cases.holds(format_args!("{name}: 19 of 19, found {}", got.len()), got.len() == 19);
            for (click, got) in clicks.iter().zip(&got) {
                let off = got - *click as f64 / f64::from(rate);
                cases.within(format!("{name}: onset against click, secs"), off, -CLICK_EARLY_SECS, 0.001);
                cases.holds(format_args!("{name}: within 12 ms"), off.abs() <= NEAR_SECS);
            }
        }
    }
    cases.end(3 * 6 * (1 + 2 * 19));
}

#[test]
fn a_steady_tone_has_none_and_a_step_has_one() {
    let mut cases =
        Cases::new("1 kHz: steady 0, stepped +6 dB at 5.000 s exactly one, linear fade-in of 10 s 0");
    for rate in RATES {
        let (count, hz) = (frames(10.0, rate), f64::from(rate));
        for size in [1.0, 0.1, 0.001] {
            let name = format!("{rate} Hz, amplitude {size}");
            let steady = sine(count, size, 1_000.0, 0.0, hz);
            cases.holds(format_args!("{name}: steady"), onsets(&steady, rate).is_empty());
            let stepped: Vec<f64> =
                steady.iter().enumerate().map(|(n, x)| if n < count / 2 { x / 2.0 } else { *x }).collect();
            let got = onsets(&stepped, rate);
            cases.holds(format_args!("{name}: one step, found {got:?}"), got.len() == 1);
            cases.near(format!("{name}: step"), got.first().copied(), 5.0, CLICK_EARLY_SECS);
            let rising: Vec<f64> =
                steady.iter().enumerate().map(|(n, x)| x * n as f64 / count as f64).collect();
            cases.holds(format_args!("{name}: fade-in"), onsets(&rising, rate).is_empty());
        }
    }
    cases.end(3 * 3 * 4);
}

#[test]
fn a_jump_of_the_transport_is_no_onset() {
    let mut cases = Cases::new("no frame reaches across a jump (ours)");
    let rate = SampleRate::new(48_000).expect("a rate that can be measured");
    let loud = single(&sine(48_000, 0.5, 1_000.0, 0.0, 48_000.0));
    let quiet = single(&sine(48_000, 0.001, 700.0, 0.0, 48_000.0));
    // From a quiet passage to a loud one and back: at tenths' edges, inside a tenth, and within the same tenth.
    for (name, to) in [("edge", 96_000), ("inside", 97_777), ("back", -333), ("a short gap", 48_010)] {
        let mut analyzer = Analyzer::new(rate, 1, BandEdges::default());
        let mut tenths = Vec::new();
        for (at, samples) in [(0, &quiet), (to, &loud), (9_600_000, &quiet)] {
            analyzer.push(Position { grid: Grid::Song, sample: at }, &[samples], &mut tenths);
        }
        analyzer.flush(&mut tenths);
        cases.holds(format_args!("{name}: heard"), tenths.len() >= 30);
        cases.holds(format_args!("{name}: {:?}", found(&tenths, 48_000)), found(&tenths, 48_000).is_empty());
        // The same change without a jump is an onset.
        let mut joined = quiet.clone();
        joined.extend(&loud);
        let joined: Vec<f64> = joined.into_iter().map(f64::from).collect();
        cases.holds(format_args!("{name}: without the jump"), onsets(&joined, 48_000).len() == 1);
    }
    cases.end(12);
}

#[test]
fn digital_silence_is_counted_from_where_it_began() {
    let mut cases = Cases::new("longest run of digital silence in samples (ours: exact)");
    let zeros = |parts: &[&[f64]]| -> Vec<u32> {
        let run = measured(48_000, &parts.iter().map(|p| &p[..]).collect::<Vec<_>>());
        run.tenths.iter().map(|tenth| tenth.zeros).collect()
    };
    let mut samples = vec![0.1; 48_000];
    samples[9_000..9_000 + 14_400].fill(0.0);
    samples[40_000..40_007].fill(0.0);
    samples[40_100..40_105].fill(-0.0);
    let wanted = [0, 600, 5_400, 10_200, 14_400, 0, 0, 0, 7, 0];
    cases.holds(format_args!("one channel: {:?}", zeros(&[&samples])), zeros(&[&samples]) == wanted);
    // A run counts only while all channels are silent.
    let mut other = vec![0.0; 48_000];
    cases.holds("two", zeros(&[&samples, &other]) == wanted && zeros(&[&other, &samples]) == wanted);
    other[12_000] = 1e-30;
    let wanted = [0, 600, 3_000, 7_199, 11_399, 0, 0, 0, 7, 0];
    let got = zeros(&[&samples, &other]);
    cases.holds(format_args!("one sample in one channel: {got:?}"), got == wanted);
    // Samples that are not finite count as silence; a jump restarts the count.
    let rate = SampleRate::new(48_000).expect("a rate that can be measured");
    let mut analyzer = Analyzer::new(rate, 1, BandEdges::default());
    let mut tenths = Vec::new();
    for at in [0, 4_800, 100_800] {
        let silent = vec![f32::NAN; 4_800];
        analyzer.push(Position { grid: Grid::Song, sample: at }, &[&silent], &mut tenths);
    }
    analyzer.flush(&mut tenths);
    let got: Vec<u32> = tenths.iter().map(|tenth| tenth.zeros).collect();
    cases.holds(format_args!("a jump: {got:?}"), got == [4_800, 9_600, 4_800]);
    cases.end(4);
}
