//! Sources of sound from formulas: voices, hits, tones.

use crate::signal::Noise;
use std::f64::consts::TAU;

/// A number between two others, uniformly distributed on a log scale.
pub fn log(noise: &mut Noise, low: f64, high: f64) -> f64 {
    low * (high / low).powf(noise.uniform())
}

/// A number between two others, uniformly distributed.
pub fn between(noise: &mut Noise, low: f64, high: f64) -> f64 {
    low + (high - low) * noise.uniform()
}

/// A gliding voice of many harmonics, broken into words.
pub fn voice(noise: &mut Noise, frames: usize, rate: f64) -> Vec<f64> {
    let base = between(noise, 90.0, 260.0);
    let (glide, tremor, words) =
        (between(noise, 0.05, 0.2), between(noise, 4.0, 6.0), between(noise, 0.8, 2.5));
    let phases: Vec<f64> = (0..28).map(|_| noise.uniform() * TAU).collect();
    let mut phase = 0.0;
    (0..frames)
        .map(|n| {
            let t = n as f64 / rate;
            let hz =
                base * (1.0 + glide * (TAU * 0.31 * t + phases[0]).sin() + 0.02 * (TAU * tremor * t).sin());
            phase += TAU * hz / rate;
            let sum: f64 =
                (1..28).map(|k| (f64::from(k) * phase + phases[k as usize]).sin() / f64::from(k)).sum();
            0.05 * sum * ((TAU * words * t + phases[1]).sin() + 0.5).max(0.0)
        })
        .collect()
}

/// Hits: short resonant bursts at random times.
pub fn hits(noise: &mut Noise, frames: usize, rate: f64) -> Vec<f64> {
    let mut sound = vec![0.0; frames];
    let mut at = 0.2 * rate;
    while at < frames as f64 - rate {
        let (hz, decay, size) =
            (log(noise, 200.0, 4_000.0), between(noise, 300.0, 2_000.0), between(noise, 0.1, 0.4));
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place in the sound")]
        let start = at as usize;
        for n in 0..4_000 {
            let ring = (TAU * hz * n as f64 / rate).sin() + 0.5 * noise.gauss();
            sound[start + n] += size * ring * (-(n as f64) / decay).exp();
        }
        at += rate * between(noise, 0.15, 0.8);
    }
    sound
}

/// Steady tones of random pitch, like a held chord.
pub fn tones(noise: &mut Noise, frames: usize, rate: f64) -> Vec<f64> {
    let tones: Vec<(f64, f64)> =
        (0..24).map(|_| (log(noise, 90.0, 6_000.0), noise.uniform() * TAU)).collect();
    let at = |n: usize| -> f64 {
        tones.iter().map(|(hz, phase)| (TAU * hz * n as f64 / rate + phase).sin() / hz.sqrt()).sum()
    };
    (0..frames).map(|n| 0.3 * at(n)).collect()
}
