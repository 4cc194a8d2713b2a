//! Two microphones on one source: published values, and the documented properties of the pair measurement.

mod blend;
mod bound;
mod cannot_tell;
mod chance;
mod delay;
mod ears;
mod room;
mod sound;
mod table;
mod time;

use plumbline_measure::SampleRate;
use plumbline_programme::pair::{CannotTell, Correlator, Found, Reading, Spectrum, Track, Window};
use plumbline_tests::signal::{Noise, delayed, mixed, sine, single};
use realfft::RealFftPlanner;

/// Rate of all signals here in Hz.
pub(crate) const RATE_HZ: u32 = 48_000;
/// The rate as a float.
pub(crate) const RATE: f64 = 48_000.0;
/// Samples of one window.
pub(crate) const WINDOW: usize = 96_000;

pub(crate) fn rate() -> SampleRate {
    SampleRate::new(RATE_HZ).expect("a rate that can be measured")
}

/// The correlator's result for one window of two signals.
pub(crate) fn compared(with: &mut Correlator, first: &[f64], second: &[f64]) -> Window {
    let mut spectra = [Spectrum::default(), Spectrum::default()];
    for (samples, spectrum) in [first, second].into_iter().zip(&mut spectra) {
        with.spectrum(&single(samples), spectrum);
    }
    with.compare(&spectra[0], &spectra[1])
}

/// Every window of two signals, at intervals of 0.25 s, with the time at its end.
pub(crate) fn windows(first: &[f64], second: &[f64]) -> Vec<(f64, Window)> {
    let mut with = Correlator::new(rate());
    let ends = (WINDOW..=first.len()).step_by(WINDOW / 8);
    let part = |samples: &[f64], end: usize| samples[end - WINDOW..end].to_vec();
    ends.map(|end| (end as f64 / RATE, compared(&mut with, &part(first, end), &part(second, end)))).collect()
}

/// A track's reading of two signals.
pub(crate) fn tracked(first: &[f64], second: &[f64]) -> Reading {
    let mut track = Track::new();
    for (end, window) in windows(first, second) {
        track.push(end, &window);
    }
    track.reading()
}

/// The delay found, in samples.
pub(crate) fn samples(outcome: Result<Found, CannotTell>) -> Option<f64> {
    outcome.ok().map(|found| found.delay_secs * RATE)
}

/// Adds white noise to a signal, `db` below its power.
pub(crate) fn noisy(samples: &[f64], db: f64, noise: &mut Noise) -> Vec<f64> {
    let power = samples.iter().map(|x| x * x).sum::<f64>() / samples.len() as f64;
    let rms = (power * 10.0_f64.powf(-db / 10.0)).sqrt();
    samples.iter().map(|x| x + rms * noise.gauss()).collect()
}

/// A signal and a copy that is late by `by` samples. Not circular: the copy starts with earlier samples of the source.
pub(crate) fn trailing(long: &[f64], by: f64, frames: usize) -> [Vec<f64>; 2] {
    let late = delayed(long, by);
    let from = (long.len() - frames) / 2;
    [long[from..from + frames].to_vec(), late[from..from + frames].to_vec()]
}

/// Noise in syllables: four bursts a second, each with its own spectral slope and a fall of 20 dB.
pub(crate) fn speech_like(frames: usize, noise: &mut Noise) -> Vec<f64> {
    let vowels = noise.coloured(frames, 0.2, 1.0, 90.0, 4_000.0, RATE);
    let hisses = noise.coloured(frames, 0.05, 0.0, 2_000.0, 9_000.0, RATE);
    let both = mixed(&vowels, &hisses, 1.0);
    let beat = RATE / 4.0;
    let gate = |n: usize| {
        let into = (n as f64 % beat) / beat;
        if into < 0.6 { (std::f64::consts::PI * into / 0.6).sin() * 10.0_f64.powf(-into) } else { 0.0 }
    };
    both.iter().enumerate().map(|(n, x)| x * gate(n)).collect()
}

/// A steady tone of harmonics that fall off by 1/n up to 8 kHz.
pub(crate) fn harmonic(frames: usize, amplitude: f64, hz: f64, phase: f64) -> Vec<f64> {
    let mut sum = vec![0.0; frames];
    let mut n = 1.0;
    while n * hz < 8_000.0 {
        let partial = sine(frames, amplitude / n, n * hz, phase * n * n, RATE);
        sum.iter_mut().zip(partial).for_each(|(s, p)| *s += p);
        n += 1.0;
    }
    sum
}

/// `samples` convolved with the impulse response `response`, cut to the length of `samples`.
pub(crate) fn convolved(samples: &[f64], response: &[f64]) -> Vec<f64> {
    let length = (samples.len() + response.len()).next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(length), planner.plan_fft_inverse(length));
    let spectrum = |input: &[f64]| {
        let mut padded = input.to_vec();
        padded.resize(length, 0.0);
        let mut bins = forward.make_output_vec();
        forward.process(&mut padded, &mut bins).expect("lengths come from the plan");
        bins
    };
    let mut product: Vec<_> =
        spectrum(samples).iter().zip(spectrum(response)).map(|(x, h)| x * h / length as f64).collect();
    let mut out = vec![0.0; length];
    inverse.process(&mut product, &mut out).expect("lengths come from the plan");
    out.truncate(samples.len());
    out
}
