//! The mason at work: chisel on stone, breathing, and talking to himself; recorded by a boom at a distance and a
//! lavalier on his coat.

use super::noise::Chance;
use super::plan::{BOOM_DELAY_SAMPLES, RATE_HZ, WORK, frame, frames};
use super::sound::{Resonance, arch, burst, darken, ring, soften};
use super::spectrum::{convolved, delayed, noise};
use std::f64::consts::TAU;

/// One blow of the mallet.
#[derive(Clone, Copy)]
pub(crate) struct Strike {
    pub(crate) at: f64,
    /// From 0.5 to 1.
    pub(crate) force: f64,
}

/// The limit of the soft limiter on a microphone channel.
const PEAK: f64 = 0.34;

/// The blows: bursts of work with pauses.
pub(crate) fn strikes() -> Vec<Strike> {
    let mut chance = Chance::of(11);
    let mut blows = Vec::new();
    for work in WORK {
        let mut at = work.start + 0.6;
        let mut left_in_bout = 6;
        while at < work.end - 0.8 {
            blows.push(Strike { at, force: chance.between(0.55, 1.0) });
            left_in_bout -= 1;
            at += chance.between(0.48, 0.66);
            if left_in_bout == 0 {
                at += chance.between(1.2, 2.4);
                left_in_bout = 4 + frame(chance.between(0.0, 4.0)) / frame(1.0);
            }
        }
    }
    blows
}

/// The mason's sound at close range.
pub(crate) fn close_sound(strikes: &[Strike]) -> Vec<f64> {
    let mut out = vec![0.0; frames()];
    let mut chance = Chance::of(12);
    for strike in strikes {
        chisel_on_stone(&mut out, *strike, 1.0, &mut chance);
    }
    let pauses = strikes.windows(2).filter(|pair| pair[1].at - pair[0].at > 1.0);
    for (i, pause) in pauses.enumerate() {
        let (start, length) = (pause[0].at + 0.25, pause[1].at - pause[0].at - 0.4);
        if i % 2 == 0 {
            talk(&mut out, start, length, &mut chance);
        } else {
            breath(&mut out, start, length, &mut chance);
        }
    }
    out
}

/// One blow: steel partials, the crack of the stone, the thud of the mallet, and falling chips.
pub(crate) fn chisel_on_stone(out: &mut [f64], strike: Strike, bright: f64, chance: &mut Chance) {
    let Strike { at, force } = strike;
    for (hz, gain, decay) in
        [(2_350.0, 0.30, 0.045), (3_720.0, 0.22, 0.032), (5_480.0, 0.15, 0.020), (7_900.0, 0.08, 0.012)]
    {
        let detune = chance.between(0.985, 1.015);
        ring(out, at, hz * detune * bright, force * gain, decay);
    }
    burst(out, at, 0.009, force * 1.3, Resonance::new(1_900.0 * bright, 0.8), chance);
    ring(out, at, 172.0 * chance.between(0.95, 1.05), force * 0.18, 0.030);
    for _ in 0..4 {
        let later = at + chance.between(0.05, 0.28);
        let hz = chance.between(2_500.0, 6_000.0);
        burst(out, later, 0.003, force * chance.between(0.05, 0.16), Resonance::new(hz, 2.0), chance);
    }
}

/// Half-voiced words: a series of harmonics shaped by three formants per syllable.
fn talk(out: &mut [f64], start: f64, length: f64, chance: &mut Chance) {
    const VOWELS: [[f64; 3]; 4] = [
        [700.0, 1_150.0, 2_500.0],
        [450.0, 900.0, 2_400.0],
        [350.0, 2_000.0, 2_700.0],
        [550.0, 1_700.0, 2_500.0],
    ];
    let mut at = start;
    while at < start + length - 0.2 {
        let syllable = chance.between(0.14, 0.26);
        let formants = VOWELS[frame(chance.between(0.0, 4.0)) / frame(1.0) % VOWELS.len()];
        let pitch = chance.between(96.0, 124.0);
        let mut phase = 0.0;
        let harmonics: Vec<f64> = (1..38_u32)
            .map(|h| {
                let hz = f64::from(h) * pitch;
                let shape: f64 = formants.iter().map(|f| 1.0 / (1.0 + ((hz - f) / 90.0).powi(2))).sum();
                (0.02 + shape) / f64::from(h).sqrt()
            })
            .collect();
        let count = frame(syllable);
        for (i, sample) in out.iter_mut().skip(frame(at)).take(count).enumerate() {
            let x = i as f64 / count as f64;
            phase += TAU * pitch * (1.0 - 0.12 * x) / RATE_HZ;
            let sum: f64 = harmonics.iter().zip(1_u32..).map(|(g, h)| g * (phase * f64::from(h)).sin()).sum();
            *sample += 0.11 * arch(x).sqrt() * sum;
        }
        at += syllable * chance.between(0.9, 1.5);
    }
}

/// One breath out.
fn breath(out: &mut [f64], start: f64, length: f64, chance: &mut Chance) {
    let count = frame(length.min(1.1));
    let air = noise(chance, count.max(64), |hz| if (400.0..6_000.0).contains(&hz) { 1.0 / hz } else { 0.0 });
    for (i, (sample, air)) in out.iter_mut().skip(frame(start)).zip(air).enumerate() {
        *sample += 0.035 * arch(i as f64 / count as f64) * air;
    }
}

/// Mutes the channel wherever the mason does not work, like an edited clip.
fn cut_to_work(signal: &mut [f64]) {
    for (n, sample) in signal.iter_mut().enumerate() {
        let secs = n as f64 / RATE_HZ;
        *sample *= WORK.iter().map(|work| work.gate(secs, 0.08)).sum::<f64>();
    }
}

/// The boom: delayed by its distance, darker, with the tower's reverberation and its own noise.
pub(crate) fn boom(close: &[f64]) -> Vec<f64> {
    let mut chance = Chance::of(13);
    let direct = delayed(close, BOOM_DELAY_SAMPLES);
    let length = frame(1.4);
    let mut answer: Vec<f64> = (0..length)
        .map(|n| {
            let t = n as f64 / RATE_HZ;
            // The first 12 ms are empty, so that only the direct sound determines the delay.
            if t < 0.012 { 0.0 } else { 0.05 * chance.white() * (-t / 0.26).exp() }
        })
        .collect();
    darken(&mut answer, 3_500.0);
    let mut out = convolved(&direct, &answer);
    let hiss = noise(&mut chance, frames(), |hz| if hz > 60.0 { 1.0 } else { 0.0 });
    for ((sample, direct), hiss) in out.iter_mut().zip(&direct).zip(&hiss) {
        *sample += 0.8 * direct + 0.000_25 * hiss;
    }
    soften(&mut out, PEAK);
    cut_to_work(&mut out);
    out
}

/// The lavalier: close and undelayed, with cloth noise, spill from the tower, and its own noise.
pub(crate) fn lavalier(close: &[f64], tower: &[Vec<f64>; 2]) -> Vec<f64> {
    let mut chance = Chance::of(14);
    let mut out = close.to_vec();
    let mut chest = Resonance::new(420.0, 0.7);
    let hiss = noise(&mut chance, frames(), |hz| if hz > 60.0 { 1.0 } else { 0.0 });
    for (n, sample) in out.iter_mut().enumerate() {
        let bleed = 0.09 * (tower[0][n] + tower[1][n]);
        *sample = 0.7 * *sample + 0.5 * chest.step(*sample) + bleed + 0.000_4 * hiss[n];
    }
    for work in WORK {
        let mut at = work.start + 1.1;
        while at < work.end - 0.5 {
            burst(&mut out, at, chance.between(0.02, 0.06), 0.06, Resonance::new(330.0, 0.6), &mut chance);
            at += chance.between(0.9, 3.0);
        }
    }
    soften(&mut out, PEAK);
    cut_to_work(&mut out);
    out
}
