//! Foley: a chisel, a rope, steps.

use super::mason::{Strike, chisel_on_stone};
use super::noise::Chance;
use super::plan::{ONE_SIDED, RATE_HZ, STEPS, frames};
use super::sound::{Resonance, burst, darken, pan, ring, soften};

/// The limit of the soft limiter on a Foley channel.
const PEAK: f64 = 0.3;

type Stereo = [Vec<f64>; 2];

fn placed(mono: &[f64], position: impl Fn(f64) -> f64) -> Stereo {
    let side = |channel: usize| {
        mono.iter().enumerate().map(|(n, s)| s * pan(position(n as f64 / RATE_HZ))[channel]).collect()
    };
    [side(0), side(1)]
}

/// The chisel: most of the mason's blows again, slightly shifted in time, thinner and brighter, right of the centre.
pub(crate) fn chisel(strikes: &[Strike]) -> Stereo {
    let mut chance = Chance::of(41);
    let mut mono = vec![0.0; frames()];
    for strike in strikes {
        if chance.unit() < 0.75 {
            let at = strike.at + chance.between(-0.006, 0.006);
            chisel_on_stone(&mut mono, Strike { at, ..*strike }, 1.18, &mut chance);
        }
    }
    soften(&mut mono, PEAK);
    placed(&mono, |_| 0.18)
}

/// The rope: creaks left of the centre while the mason works, and hard left in the one-sided stretch.
pub(crate) fn rope() -> Stereo {
    let mut chance = Chance::of(42);
    let mut mono = vec![0.0; frames()];
    for (start, end, gain) in [(24.0, 33.0, 0.5), (ONE_SIDED.start + 0.2, ONE_SIDED.end - 0.6, 1.0)] {
        let mut at = start;
        while at < end {
            let pull = chance.between(0.5, 1.1).min(end - at);
            creak(&mut mono, at, pull, gain, &mut chance);
            at += pull + chance.between(0.1, 0.6);
        }
    }
    soften(&mut mono, PEAK);
    placed(&mono, |secs| if secs > ONE_SIDED.start - 0.5 { -1.0 } else { -0.35 })
}

/// One stick-slip creak: an accelerating series of small clicks, through the resonances of wood and fibre.
fn creak(out: &mut [f64], start: f64, length: f64, gain: f64, chance: &mut Chance) {
    let body = chance.between(420.0, 560.0);
    let mut at = start;
    while at < start + length {
        let x = (at - start) / length;
        let strength = gain * 0.32 * chance.between(0.6, 1.0) * (0.4 + 0.6 * x);
        for (hz, q) in [(body, 9.0), (body * 2.3, 12.0), (body * 4.1, 8.0)] {
            burst(out, at, 0.007, strength, Resonance::new(hz, q), chance);
        }
        at += chance.between(0.8, 1.2) / (22.0 + 40.0 * x);
    }
}

/// Steps on the stone stair, from left to right.
pub(crate) fn steps() -> Stereo {
    let mut chance = Chance::of(43);
    let mut mono = vec![0.0; frames()];
    let mut at = STEPS.start + 0.2;
    while at < STEPS.end - 0.3 {
        ring(&mut mono, at, chance.between(84.0, 96.0), 0.16, 0.05);
        burst(&mut mono, at, 0.016, 0.42, Resonance::new(chance.between(500.0, 800.0), 0.8), &mut chance);
        burst(&mut mono, at + 0.09, 0.03, 0.16, Resonance::new(2_600.0, 0.7), &mut chance);
        at += chance.between(0.56, 0.66);
    }
    darken(&mut mono, 9_000.0);
    soften(&mut mono, PEAK);
    let (first, length) = (STEPS.start, STEPS.end - STEPS.start);
    placed(&mono, |secs| 1.6 * ((secs - first) / length).clamp(0.0, 1.0) - 0.8)
}
