//! Real stereo recordings of the Debian package `sonic-pi-samples` (CC0), read from the installed package.
//!
//! Two checks: the readings equal their definition, computed directly, frame by frame, with only the Fourier transform
//! shared; and they are plausible for the sound. The bounds of the second check are our readings with a margin, because
//! no document gives values for these recordings.

use crate::rig::{label, measured};
use plumbline_measure::bands::{THIRDS, third_centre_hz, third_span};
use plumbline_measure::{Averaging, BandEdges, Glance, Readings};

use plumbline_programme::verdict::{Channels, Verdicts, Width};
use plumbline_tests::cases::Cases;
use plumbline_tests::debian;
use plumbline_tests::signal::single;
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;
use std::f64::consts::PI;
use std::fs::File;
use std::path::{Path, PathBuf};
use symphonia::core::codecs::audio::AudioDecoderOptions;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;

/// The package with the recordings.
const PACKAGE: &str = "sonic-pi-samples";

/// The path of a recording. If the package is missing and optional, prints that and returns `None`.
pub(crate) fn recording(name: &str) -> Option<PathBuf> {
    debian::file(PACKAGE, &format!("{name}.flac"))
}

/// Rate and channels of a file.
pub(crate) fn decoded(path: &Path) -> (u32, Vec<Vec<f64>>) {
    let file = File::open(path).expect("the package's file is there");
    let stream = MediaSourceStream::new(Box::new(file), Default::default());
    let mut format = symphonia::default::get_probe()
        .probe(&Hint::new(), stream, FormatOptions::default(), MetadataOptions::default())
        .expect("a known format");
    let track = format.default_track(TrackType::Audio).expect("an audio track");
    let parameters = track.codec_params.as_ref().and_then(|p| p.audio()).expect("audio parameters").clone();
    let mut decoder = symphonia::default::get_codecs()
        .make_audio_decoder(&parameters, &AudioDecoderOptions::default())
        .expect("a known codec");
    let mut channels: Vec<Vec<f64>> = Vec::new();
    while let Some(packet) = format.next_packet().expect("a readable file") {
        let mut planes: Vec<Vec<f64>> = Vec::new();
        decoder.decode(&packet).expect("an intact packet").copy_to_vecs_planar(&mut planes);
        channels.resize(planes.len(), Vec::new());
        for (all, plane) in channels.iter_mut().zip(planes) {
            all.extend(plane);
        }
    }
    (parameters.sample_rate.expect("a rate"), channels)
}

/// Spectra of all long frames, by definition: Hann of 16 384 samples, a hop of a quarter on the song's grid.
fn long_frames(samples: &[f64]) -> Vec<Vec<Complex<f64>>> {
    let samples = single(samples);
    let length = 16_384;
    let transform = RealFftPlanner::<f64>::new().plan_fft_forward(length);
    let window = |n: usize| (PI * n as f64 / length as f64).sin().powi(2);
    let starts = (0..=samples.len() - length).step_by(length / 4);
    starts
        .map(|start| {
            let part = samples[start..start + length].iter().enumerate();
            let mut input: Vec<f64> = part.map(|(n, x)| f64::from(*x) * window(n)).collect();
            let mut output = transform.make_output_vec();
            transform.process(&mut input, &mut output).expect("lengths come from the plan");
            output
        })
        .collect()
}

/// Coherence and out of step of each third over the last 2 s, by definition: |Slr|²/(Sll·Srr) per bin, with the bias
/// for N = 0.52 × windows filled removed, weighted by √(Sll·Srr); and that times 1 − r², r = Re ΣSlr over
/// Σ√(Sll·Srr)·√γ², 0 where negative.
fn by_definition(rate: u32, left: &[f64], right: &[f64]) -> Vec<(f64, f64)> {
    let (left, right) = (long_frames(left), long_frames(right));
    let windows = 2 * rate as usize / 4_096;
    let newest = left.len() - windows..left.len();
    let bin_hz = f64::from(rate) / 16_384.0;
    let filled = windows_filled(&left[newest.clone()], &right[newest.clone()], bin_hz);
    (0..THIRDS)
        .map(|third| {
            let bias = 1.0 / (0.52 * filled[third]);
            let (mut weight, mut weighted, mut in_phase, mut re) = (0.0, 0.0, 0.0, 0.0);
            for bin in 0..left[0].len() {
                let share = share(bin, third, bin_hz);
                if share == 0.0 {
                    continue;
                }
                let pairs = || newest.clone().map(|frame| (left[frame][bin], right[frame][bin]));
                let sll: f64 = pairs().map(|(l, _)| l.norm_sqr()).sum();
                let srr: f64 = pairs().map(|(_, r)| r.norm_sqr()).sum();
                let slr: Complex<f64> = pairs().map(|(l, r)| l * r.conj()).sum();
                weight += share * (sll * srr).sqrt();
                let raw = slr.norm_sqr() / (sll * srr);
                weighted += share * raw * (sll * srr).sqrt();
                // A bin on the border of two thirds has the bias of the upper one.
                let of = if share < 1.0 && bin_hz * bin as f64 > third_centre_hz(third) && third + 1 < THIRDS
                {
                    1.0 / (0.52 * filled[third + 1])
                } else {
                    bias
                };
                in_phase += share * (sll * srr * ((raw - of) / (1.0 - of)).max(0.0)).sqrt();
                re += share * slr.re;
            }
            let coherence = ((weighted / weight - bias) / (1.0 - bias)).clamp(0.0, 1.0);
            let r = (re / in_phase).clamp(0.0, 1.0);
            (coherence, coherence * (1.0 - r * r))
        })
        .collect()
}

/// The share of a bin inside a third.
fn share(bin: usize, third: usize, bin_hz: f64) -> f64 {
    let (from, to) = ((bin as f64 - 0.5) * bin_hz, (bin as f64 + 0.5) * bin_hz);
    let span = third_span(third);
    (to.min(span.high_hz) - from.max(span.low_hz)).max(0.0) / bin_hz
}

/// Number of windows over which the energy of each third is spread, by definition: Σl·Σr/Σ(l·r) of its energies per
/// window, times 1 + 1.5/bins; from four fifths of the windows up, all of them. A third of fewer than eight bins
/// includes its neighbours, one by one on both sides, until there are eight, each weighted by its strength relative to
/// the third's, at most 1.
fn windows_filled(left: &[Vec<Complex<f64>>], right: &[Vec<Complex<f64>>], bin_hz: f64) -> Vec<f64> {
    let windows = left.len() as f64;
    let bins: Vec<f64> =
        (0..THIRDS).map(|t| (0..left[0].len()).map(|bin| share(bin, t, bin_hz)).sum()).collect();
    let energies = |frames: &[Vec<Complex<f64>>], third: usize| -> Vec<f64> {
        let of = |frame: &Vec<Complex<f64>>| {
            frame.iter().enumerate().map(|(bin, x)| share(bin, third, bin_hz) * x.norm_sqr()).sum()
        };
        frames.iter().map(of).collect()
    };
    let both: Vec<[Vec<f64>; 2]> = (0..THIRDS).map(|t| [energies(left, t), energies(right, t)]).collect();
    let totals = |third: usize| [0, 1].map(|side| both[third][side].iter().sum::<f64>());
    let strength = |third: usize| totals(third).iter().product::<f64>().sqrt();
    (0..THIRDS)
        .map(|third| {
            let (mut low, mut high) = (third, third);
            while bins[low..=high].iter().sum::<f64>() < 8.0 {
                (low, high) = (low.saturating_sub(1), high + 1);
            }
            let weight = |t: usize| (strength(t) / strength(third)).min(1.0);
            let weights: f64 = (low..=high).map(weight).sum();
            let cells: f64 = (low..=high).map(|t| weight(t) * bins[t] / 1.5).sum();
            let product: f64 = (0..left.len())
                .map(|frame| {
                    let side = |side: usize| -> f64 {
                        (low..=high).map(|t| weight(t) * both[t][side][frame] / totals(t)[side]).sum()
                    };
                    side(0) * side(1)
                })
                .sum();
            let filled = weights * weights / product * (1.0 + 1.0 / cells);
            if filled >= 0.8 * windows { windows } else { filled.max(1.0) }
        })
        .collect()
}

#[test]
fn coherence_and_out_of_step_are_what_their_definition_says() {
    let mut cases =
        Cases::new("coherence and out of step of recordings against their definition, computed plainly");
    let (mut expected, mut skipped) = (0, 0);
    for name in ["vinyl_hiss", "perc_bell2", "ambi_sauna", "loop_safari", "loop_weirdo"] {
        let Some(path) = recording(name) else {
            skipped += 1;
            continue;
        };
        let (rate, channels) = decoded(&path);
        let view = measured(rate, &[&channels[0], &channels[1]]).view;
        // The 20 kHz third is cut at half the rate.
        for (third, (coherence, out_of_step)) in
            by_definition(rate, &channels[0], &channels[1]).into_iter().enumerate().take(THIRDS - 1)
        {
            let got = view.spectral(Averaging::Slow).thirds[third];
            // No reading if the average of the last second is below the gate or has too few events.
            if got.coherence.is_some() {
                expected += 2;
                let label = label(third);
                cases.near(format!("{name}, {label}, coherence"), got.coherence, coherence, 1e-4);
                cases.near(format!("{name}, {label}, out of step"), got.out_of_step, out_of_step, 1e-4);
            }
        }
    }
    cases.holds(
        format!("{expected} readings compared, {skipped} recordings skipped"),
        expected > 150 || skipped > 0,
    );
    cases.end(expected + 1);
}

/// The expected readings of one recording, since reset.
struct Expected {
    name: &'static str,
    /// First and last third, and the range of out of step in each of them that is within 30 dB of the loudest.
    out_of_step: &'static [(usize, usize, f64, f64)],
    /// First and last third without a reading: their sound is a few events, or swells only a few times in 2 s.
    absent: &'static [(usize, usize)],
    /// First and last third, and the range of correlation.
    correlation: &'static [(usize, usize, f64, f64)],
    width: fn(Width) -> bool,
    cases: usize,
}

const RECORDINGS: [Expected; 7] = [
    // A worn groove: out of phase in the lowest lows, which swell with each turn; the same noise in both channels in
    // the mids.
    Expected {
        name: "vinyl_hiss",
        out_of_step: &[(0, 0, 0.5, 0.8), (5, 25, 0.0, 0.1)],
        absent: &[(1, 4)],
        correlation: &[(0, 1, -0.9, -0.65), (10, 21, 0.6, 0.95)],
        width: |width| matches!(width, Width::Wide { .. }),
        cases: 41,
    },
    // One stroke of few partials, two of them nearly opposite in phase: one event, so there is no reading of width.
    Expected {
        name: "perc_bell",
        out_of_step: &[(18, 18, 0.0, 0.3)],
        absent: &[(23, 27)],
        correlation: &[(18, 23, 0.7, 1.0), (25, 27, -1.0, -0.7)],
        width: |width| width == Width::Unknown,
        cases: 9,
    },
    // A wide bell: partly common sound, more side than mid, from the low mids up, worth few averages.
    Expected {
        name: "perc_bell2",
        out_of_step: &[(16, 22, 0.1, 0.6), (24, 25, 0.1, 0.6)],
        absent: &[(23, 23)],
        correlation: &[(16, 25, -0.6, 0.0)],
        width: |width| matches!(width, Width::Spacious { .. }),
        cases: 21,
    },
    // Synthetic spaces: two unrelated channels.
    Expected {
        name: "ambi_drone",
        out_of_step: &[(0, 30, 0.0, 0.1)],
        absent: &[],
        correlation: &[(11, 14, -0.2, 0.2)],
        width: |width| matches!(width, Width::Spacious { .. }),
        cases: 10,
    },
    Expected {
        name: "ambi_lunar_land",
        out_of_step: &[(0, 30, 0.0, 0.2)],
        absent: &[],
        correlation: &[(0, 30, -0.1, 0.1)],
        width: |width| matches!(width, Width::Spacious { .. }),
        cases: 45,
    },
    // Water on stones, near and far at once: wide, and nothing to repair.
    Expected {
        name: "ambi_sauna",
        out_of_step: &[(0, 30, 0.0, 0.3)],
        absent: &[],
        correlation: &[(6, 7, 0.8, 1.0), (13, 25, 0.5, 0.95)],
        width: |width| matches!(width, Width::Wide { .. }),
        cases: 47,
    },
    // Nearly mono; its lows are a few thumps.
    Expected {
        name: "vinyl_rewind",
        out_of_step: &[(10, 10, 0.0, 0.03), (13, 28, 0.0, 0.03)],
        absent: &[(0, 9)],
        correlation: &[(0, 30, 0.93, 1.0)],
        width: |width| matches!(width, Width::Narrow { .. }),
        cases: 59,
    },
];

/// The thirds within 30 dB of the loudest, since reset.
fn loud_thirds(view: &Glance) -> Vec<(usize, Readings)> {
    let thirds = &view.spectral(Averaging::SinceReset).thirds;
    let loudest = thirds.iter().filter_map(|t| t.level_dbfs).fold(f64::NEG_INFINITY, f64::max);
    let loud = |t: &Readings| t.level_dbfs.is_some_and(|level| level >= loudest - 30.0);
    thirds.iter().copied().enumerate().filter(|(_, t)| loud(t)).collect()
}

#[test]
fn recordings_read_plausibly_in_every_third() {
    let mut cases =
        Cases::new("out of step per third of CC0 stereo recordings (plausible bounds, no source)");
    let mut expected = 0;
    for recorded in &RECORDINGS {
        let name = recorded.name;
        let Some(path) = recording(name) else { continue };
        let (rate, channels) = decoded(&path);
        let view = measured(rate, &[&channels[0], &channels[1]]).view;
        let thirds = loud_thirds(&view);
        println!("{name}: third, correlation, coherence, out of step");
        for (third, got) in &thirds {
            let label = label(*third);
            println!("  {label}: {:.2?} {:.2?} {:.2?}", got.correlation, got.coherence, got.out_of_step);
        }
        for (what, ranges, read) in [
            ("out of step", recorded.out_of_step, (|t| t.out_of_step) as fn(&Readings) -> Option<f64>),
            ("correlation", recorded.correlation, |t| t.correlation),
        ] {
            for &(first, last, low, high) in ranges {
                for (third, got) in thirds.iter().filter(|(third, _)| (first..=last).contains(third)) {
                    cases.within(format!("{name}, {what}, {}", label(*third)), read(got), low, high);
                }
            }
        }
        for &(first, last) in recorded.absent {
            for (third, got) in thirds.iter().filter(|(third, _)| (first..=last).contains(third)) {
                cases.absent(format!("{name}, out of step, {}", label(*third)), got.out_of_step);
            }
        }
        let width =
            Verdicts::of(view.spectral(Averaging::SinceReset), &BandEdges::default(), Channels::of(2)).width;
        cases.holds(format!("{name}, verdict {width:?}"), (recorded.width)(width));
        expected += recorded.cases;
    }
    cases.end(expected);
}

/// Levels at some frequencies by an independent estimate: transforms of 65 536 samples (Hann, hop of a quarter) over
/// the whole recording, power summed over 1/24 octave around each, both channels, dBFS.
fn by_long_transforms(rate: u32, channels: &[Vec<f64>], at_hz: &[f64]) -> Vec<f64> {
    let length = 65_536;
    let transform = RealFftPlanner::<f64>::new().plan_fft_forward(length);
    let window = |n: usize| (PI * n as f64 / length as f64).sin().powi(2);
    let mut powers = vec![0.0; length / 2 + 1];
    let mut frames = 0.0;
    for start in (0..=channels[0].len() - length).step_by(length / 4) {
        for samples in channels {
            let part = samples[start..start + length].iter().enumerate();
            let mut input: Vec<f64> = part.map(|(n, x)| x * window(n)).collect();
            let mut output = transform.make_output_vec();
            transform.process(&mut input, &mut output).expect("lengths come from the plan");
            powers.iter_mut().zip(&output).for_each(|(sum, x)| *sum += x.norm_sqr());
        }
        frames += 1.0;
    }
    // A full-scale sine in both channels reads 0: Σ|X|² of one is N²·(3/8)/4 on its side of the spectrum.
    let scale = 0.5 / (frames * (length as f64).powi(2) * 0.375 / 4.0);
    let bin_hz = f64::from(rate) / length as f64;
    let edge = (1.0_f64 / 48.0).exp2();
    let cell = |hz: &f64| {
        let inside = |bin: usize| {
            let (from, to) = ((bin as f64 - 0.5) * bin_hz, (bin as f64 + 0.5) * bin_hz);
            (to.min(hz * edge) - from.max(hz / edge)).max(0.0) / bin_hz
        };
        10.0 * (powers.iter().enumerate().map(|(bin, power)| inside(bin) * power).sum::<f64>() * scale)
            .log10()
    };
    at_hz.iter().map(cell).collect()
}

#[test]
fn lines_of_recordings_have_no_step_that_a_long_transform_has_not() {
    let mut cases = Cases::new(
        "step over seams and old change-overs: lines against transforms of 65536 samples (computed)",
    );
    let (mut expected, mut skipped) = (0, 0);
    let mut errors = Vec::new();
    // Noise-like recordings: in a hum, a partial near the border would fall on either side, depending on the
    // resolution.
    for name in ["vinyl_hiss", "ambi_sauna", "ambi_lunar_land", "loop_safari"] {
        let Some(path) = recording(name) else {
            skipped += 1;
            continue;
        };
        let (rate, channels) = decoded(&path);
        let view = measured(rate, &[&channels[0], &channels[1]]).view;
        let lines = &view.spectral(Averaging::SinceReset).lines_dbfs;
        let line_hz: Vec<f64> = view.line_hz.iter().map(|hz| f64::from(*hz)).collect();
        let long = by_long_transforms(rate, &channels, &line_hz);
        // 44.1 kHz: lines change windows where 1/24 octave is 2.5 bins of 4096, of 1024 samples.
        assert_eq!(rate, 44_100, "{name}");
        for seam in [third_span(11).low_hz, third_span(21).low_hz, 931.9, 3_727.8] {
            // Mean power over a sixth of an octave on either side, which does not depend on the resolution of partials.
            let mean = |levels: &dyn Fn(usize) -> f64, low: f64, high: f64| {
                let inside: Vec<f64> = (0..line_hz.len())
                    .filter(|i| (low..high).contains(&line_hz[*i]))
                    .map(|i| 10.0_f64.powf(levels(i) / 10.0))
                    .collect();
                10.0 * (inside.iter().sum::<f64>() / inside.len() as f64).log10()
            };
            let (low, high) = (seam / 1.122_46, seam * 1.122_46);
            let step = |levels: &dyn Fn(usize) -> f64| mean(levels, seam, high) - mean(levels, low, seam);
            let (ours, theirs) = (step(&|i| f64::from(lines[i])), step(&|i| long[i]));
            println!("{name}, {seam:.0} Hz: {ours:+.2} dB, {theirs:+.2} dB by long transforms");
            cases.near(format!("{name}, step at {seam:.0} Hz"), ours, theirs, 0.5);
            errors.push(ours - theirs);
            expected += 1;
        }
    }
    if !errors.is_empty() {
        let count = errors.len() as f64;
        let mean = errors.iter().sum::<f64>() / count;
        let size = errors.iter().map(|error| error.abs()).sum::<f64>() / count;
        println!("{count} steps: {mean:+.3} dB on average, {size:.3} dB in size");
        cases.near("steps on average", mean, 0.0, 0.3);
        cases.within("size of steps on average", size, 0.0, 0.3);
        expected += 2;
    }
    cases.holds(format!("{expected} compared, {skipped} recordings skipped"), expected > 16 || skipped > 0);
    cases.end(expected + 1);
}
