//! Two microphones on one source: `reference.md` section 6, and what the pair measurement promises.

mod bound;
mod delay;

use plumbline_measure::SampleRate;
use plumbline_measure::pair::{CannotTell, Correlator, Found, Reading, Spectrum, Track, Window};
use plumbline_tests::signal::{Noise, delayed, single};

/// Rate of all signals here in Hz.
pub(crate) const RATE_HZ: u32 = 48_000;
/// The same as a float.
pub(crate) const RATE: f64 = 48_000.0;
/// Samples of one window.
pub(crate) const WINDOW: usize = 96_000;

pub(crate) fn rate() -> SampleRate {
    SampleRate::new(RATE_HZ).expect("a rate that can be measured")
}

/// Two windows of the length that the correlator has.
pub(crate) fn compared(with: &mut Correlator, first: &[f64], second: &[f64]) -> Window {
    let mut spectra = [Spectrum::default(), Spectrum::default()];
    for (samples, spectrum) in [first, second].into_iter().zip(&mut spectra) {
        with.spectrum(&single(samples), spectrum);
    }
    with.compare(&spectra[0], &spectra[1])
}

/// Every window of two signals, a quarter of a second apart, with the time at its end.
pub(crate) fn windows(first: &[f64], second: &[f64]) -> Vec<(f64, Window)> {
    let mut with = Correlator::new(rate());
    let ends = (WINDOW..=first.len()).step_by(WINDOW / 8);
    let part = |samples: &[f64], end: usize| samples[end - WINDOW..end].to_vec();
    ends.map(|end| (end as f64 / RATE, compared(&mut with, &part(first, end), &part(second, end)))).collect()
}

/// What a track makes of two signals.
pub(crate) fn tracked(first: &[f64], second: &[f64]) -> Reading {
    let mut track = Track::new();
    for (end, window) in windows(first, second) {
        track.push(end, &window);
    }
    track.reading()
}

/// Delay in samples of what was found.
pub(crate) fn samples(outcome: Result<Found, CannotTell>) -> Option<f64> {
    outcome.ok().map(|found| found.delay_secs * RATE)
}

/// Adds white noise to a signal, `db` under its own power.
pub(crate) fn noisy(samples: &[f64], db: f64, noise: &mut Noise) -> Vec<f64> {
    let power = samples.iter().map(|x| x * x).sum::<f64>() / samples.len() as f64;
    let rms = (power * 10.0_f64.powf(-db / 10.0)).sqrt();
    samples.iter().map(|x| x + rms * noise.gauss()).collect()
}

/// A signal and its copy that trails by `by` samples, not circular: what enters at the start comes from before it.
pub(crate) fn trailing(long: &[f64], by: f64, frames: usize) -> [Vec<f64>; 2] {
    let late = delayed(long, by);
    let from = (long.len() - frames) / 2;
    [long[from..from + frames].to_vec(), late[from..from + frames].to_vec()]
}
