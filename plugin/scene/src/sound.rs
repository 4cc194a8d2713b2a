//! Synthesis: a decaying tone, a burst of noise, a resonant filter.

use super::noise::Chance;
use super::plan::{RATE_HZ, frame};
use std::f64::consts::{PI, TAU};

/// Adds a tone with exponential decay; `decay` is the time to 1/e.
pub(crate) fn ring(out: &mut [f64], at: f64, hz: f64, gain: f64, decay: f64) {
    let first = frame(at);
    for (i, sample) in out.iter_mut().skip(first).take(frame(decay * 9.0)).enumerate() {
        let t = i as f64 / RATE_HZ;
        // An attack of 0.3 ms prevents a click.
        let attack = (t / 0.000_3).min(1.0);
        *sample += gain * attack * (-t / decay).exp() * (TAU * hz * t).sin();
    }
}

/// Adds a burst of noise through a resonance.
pub(crate) fn burst(
    out: &mut [f64],
    at: f64,
    decay: f64,
    gain: f64,
    mut tone: Resonance,
    chance: &mut Chance,
) {
    for (i, sample) in out.iter_mut().skip(frame(at)).take(frame(decay * 9.0)).enumerate() {
        let t = i as f64 / RATE_HZ;
        *sample += gain * (t / 0.000_3).min(1.0) * (-t / decay).exp() * tone.step(chance.white());
    }
}

/// A second-order band-pass filter with 0 dB at its centre (bilinear transform).
#[derive(Clone, Copy)]
pub(crate) struct Resonance {
    b: f64,
    a1: f64,
    a2: f64,
    x: [f64; 2],
    y: [f64; 2],
}

impl Resonance {
    pub(crate) fn new(hz: f64, q: f64) -> Self {
        let turn = TAU * hz / RATE_HZ;
        let alpha = turn.sin() / (2.0 * q);
        let a0 = 1.0 + alpha;
        Self { b: alpha / a0, a1: -2.0 * turn.cos() / a0, a2: (1.0 - alpha) / a0, x: [0.0; 2], y: [0.0; 2] }
    }

    pub(crate) fn step(&mut self, x: f64) -> f64 {
        let y = self.b * (x - self.x[1]) - self.a1 * self.y[0] - self.a2 * self.y[1];
        self.x = [x, self.x[0]];
        self.y = [y, self.y[0]];
        y
    }
}

/// A first-order low-pass over a whole signal.
pub(crate) fn darken(signal: &mut [f64], hz: f64) {
    let keep = (-TAU * hz / RATE_HZ).exp();
    let mut state = 0.0;
    for sample in signal {
        state = *sample + keep * (state - *sample);
        *sample = state;
    }
}

/// One period of a raised cosine: 0 at 0 and 1, 1 at 0.5.
pub(crate) fn arch(x: f64) -> f64 {
    if (0.0..=1.0).contains(&x) { 0.5 - 0.5 * (TAU * x).cos() } else { 0.0 }
}

/// Constant-power pan (sine and cosine) for a position −1…1: the gains of left and right.
pub(crate) fn pan(position: f64) -> [f64; 2] {
    let angle = (PI / 4.0) * (1.0 + position.clamp(-1.0, 1.0));
    [angle.cos(), angle.sin()]
}

/// Limits peaks smoothly to `limit`.
pub(crate) fn soften(signal: &mut [f64], limit: f64) {
    signal.iter_mut().for_each(|s| *s = limit * (*s / limit).tanh());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_resonance_lets_its_middle_through_and_nothing_else() {
        let gain_at = |hz: f64| {
            let mut filter = Resonance::new(1_000.0, 4.0);
            let tone = (0..48_000).map(|n| filter.step((TAU * hz * f64::from(n) / RATE_HZ).sin()));
            tone.skip(24_000).fold(0.0_f64, |peak, s| peak.max(s.abs()))
        };
        assert!((gain_at(1_000.0) - 1.0).abs() < 1e-3);
        assert!(gain_at(100.0) < 0.1 && gain_at(10_000.0) < 0.1);
    }

    #[test]
    fn pan_keeps_its_power_and_meets_the_table() {
        // Sine/cosine law, level difference 20·lg tan θ: 7.66 dB at half way.
        let [left, right] = pan(0.5);
        assert!((left * left + right * right - 1.0).abs() < 1e-12);
        assert!((20.0 * (right / left).log10() - 7.66).abs() < 0.01);
        assert!(pan(-1.0)[1].abs() < 1e-12);
    }
}
