//! The designed sounds: booms and a bell, two swells with planted faults, and two planted spots at a fixed level.

use super::noise::Chance;
use super::plan::{
    CLIP_SECS, FLIPPED, FLIPPED_CORE, LATE, LATE_CORE, LATE_SAMPLES, PING_SECS, RATE_HZ, Stretch, frame,
    frames,
};
use super::sound::{darken, pan, ring, soften};
use super::spectrum::{noise, pink};
use std::f64::consts::TAU;

type Stereo = [Vec<f64>; 2];

/// The band of the late swell in Hz, with a pink spectrum.
pub(crate) const LATE_BAND: (f64, f64) = (100.0, 6_400.0);
/// The band of the inverted swell in Hz, with a pink spectrum.
pub(crate) const FLIPPED_BAND: (f64, f64) = (80.0, 3_200.0);

/// The negative peak of the thump before the bus clips it at −1.
const THUMP: f64 = -1.12;
/// Standard deviation of the thump's Gaussian in seconds.
const THUMP_SECS: f64 = 0.002;
/// True peak of the ping, between samples, linear: +1.51 dBTP.
pub(crate) const PING: f64 = 1.19;
/// Samples of the ping at full level, and of each of its fades.
const PING_FLAT: usize = 48;
const PING_FADE: usize = 72;

/// Booms at cuts, and a bell.
pub(crate) fn booms() -> Stereo {
    let mut out: Stereo = [vec![0.0; frames()], vec![0.0; frames()]];
    for (i, at) in [39.6, 53.0, 63.4].into_iter().enumerate() {
        boom(&mut out, at, i as u64);
    }
    for (at, gain) in [(64.6, 0.9), (67.6, 1.0)] {
        bell(&mut out, at, gain);
    }
    out.iter_mut().for_each(|side| soften(side, 0.4));
    out
}

fn boom(out: &mut Stereo, at: f64, number: u64) {
    let count = frame(2.6);
    for (side, channel) in out.iter_mut().enumerate() {
        let mut chance = Chance::of(50 + 2 * number + side as u64);
        let mut tail = noise(&mut chance, count, pink(40.0, 900.0));
        darken(&mut tail, 300.0);
        let mut phase = 0.0;
        for (i, (sample, tail)) in channel.iter_mut().skip(frame(at)).zip(tail).enumerate() {
            let t = i as f64 / RATE_HZ;
            phase += TAU * (38.0 + 60.0 * (-t / 0.09).exp()) / RATE_HZ;
            let attack = (t / 0.004).min(1.0);
            let end = ((2.6 - t) / 0.3).clamp(0.0, 1.0);
            *sample +=
                attack * end * (0.34 * (-t / 0.8).exp() * phase.sin() + 0.05 * (-t / 0.6).exp() * tail);
        }
    }
}

fn bell(out: &mut Stereo, at: f64, gain: f64) {
    // Hum, prime, tierce, quint, nominal and two above: the usual partials of a tuned church bell
    // (common practice, no source).
    let partials = [
        (0.5, 0.5, 2.6),
        (1.0, 0.6, 1.9),
        (1.2, 0.45, 1.5),
        (1.5, 0.25, 1.1),
        (2.0, 0.6, 0.9),
        (2.5, 0.2, 0.5),
        (3.0, 0.15, 0.35),
    ];
    for (i, (ratio, strength, decay)) in partials.into_iter().enumerate() {
        let gains = pan(if i % 2 == 0 { -0.12 } else { 0.12 });
        for (channel, side) in out.iter_mut().zip(gains) {
            ring(channel, at, 233.0 * ratio, 0.11 * gain * strength * side, decay * 0.5);
        }
    }
}

/// One period of a swell, as long as its stretch, with unit power.
fn sound(stretch: Stretch, (low, high): (f64, f64), number: u64) -> Vec<f64> {
    noise(&mut Chance::of(60 + number), stretch.range().len(), pink(low, high))
}

fn swell(out: &mut Stereo, stretch: Stretch, core: Stretch, sound: &[f64], right: impl Fn(usize) -> f64) {
    let fade = core.start - stretch.start;
    for (n, at) in stretch.range().enumerate() {
        let gain = stretch.gate(at as f64 / RATE_HZ, fade);
        out[0][at] += gain * sound[n];
        out[1][at] += gain * right(n);
    }
}

/// The swells: one with its right channel 3 ms late, one with its right channel inverted.
pub(crate) fn swells() -> Stereo {
    let mut out: Stereo = [vec![0.0; frames()], vec![0.0; frames()]];
    let late = sound(LATE, LATE_BAND, 1);
    // The sound is periodic, so a rotation is an exact delay.
    swell(&mut out, LATE, LATE_CORE, &late, |n| late[(n + late.len() - LATE_SAMPLES) % late.len()]);
    let flipped = sound(FLIPPED, FLIPPED_BAND, 2);
    swell(&mut out, FLIPPED, FLIPPED_CORE, &flipped, |n| -flipped[n]);
    out
}

/// The two spots with a fixed level on the mix bus: a thump in both channels that clips, and a ping in the left
/// channel, all of whose samples are below its true peak.
pub(crate) fn spots() -> Stereo {
    let mut out: Stereo = [vec![0.0; frames()], vec![0.0; frames()]];
    let (middle, reach) = (frame(CLIP_SECS), frame(THUMP_SECS * 6.0));
    for channel in &mut out {
        for (i, sample) in channel[middle - reach..middle + reach].iter_mut().enumerate() {
            let t = (i as f64 - reach as f64) / RATE_HZ / THUMP_SECS;
            *sample = THUMP * (-0.5 * t * t).exp();
        }
    }
    // A quarter of the rate at 45°: every sample is 3.01 dB below the peak (as in EBU Tech 3341, case 16).
    let length = PING_FLAT + 2 * PING_FADE;
    for i in 0..length {
        let inside = i.min(length - 1 - i) as f64 / PING_FADE as f64;
        let gain = 0.5 - 0.5 * (std::f64::consts::PI * inside.min(1.0)).cos();
        out[0][frame(PING_SECS) + i] = gain * PING * (TAU * (i as f64 / 4.0 + 0.125)).sin();
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_sample_of_the_ping_comes_near_its_peak() {
        let [left, right] = spots();
        let peak = left[frame(70.0)..].iter().fold(0.0_f64, |p, s| p.max(s.abs()));
        assert!((peak - PING * std::f64::consts::FRAC_1_SQRT_2).abs() < 1e-9, "{peak}");
        assert!(right[frame(70.0)..].iter().all(|s| *s == 0.0));
    }

    #[test]
    fn the_late_swell_is_one_sound_and_the_flipped_one_cancels() {
        let [left, right] = swells();
        for n in LATE_CORE.range().skip(LATE_SAMPLES) {
            assert_eq!(right[n], left[n - LATE_SAMPLES]);
        }
        assert!(FLIPPED.range().all(|n| left[n] + right[n] == 0.0));
        assert!(left[FLIPPED_CORE.range()].iter().any(|s| *s != 0.0));
    }
}
