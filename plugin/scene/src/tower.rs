//! The tower's ambience: wind through the louvres, pigeons, a distant yard. Two unrelated channels.

use super::noise::Chance;
use super::plan::{CUT_SECS, FLIPPED, LATE, ONE_SIDED, RATE_HZ, TOWER_CORE, frame, frames};
use super::sound::{Resonance, arch, darken, ring};
use super::spectrum::noise;
use std::f64::consts::TAU;

/// The tower's gain during the designed swells: −36 dB.
const UNDER_SWELLS: f64 = 0.0158;

/// The end of the tower, before the ping: nothing may add to the ping's peak.
const TOWER_ENDS: f64 = 70.9;

/// Both channels of the tower.
pub(crate) fn tower() -> [Vec<f64>; 2] {
    let gusts = gusts();
    let mut sides = [channel(0, &gusts), channel(1, &gusts)];
    part(&mut sides);
    sides.iter_mut().for_each(|side| close_door(side));
    for (n, (left, right)) in (0..frames()).zip(each(&mut sides)) {
        let secs = n as f64 / RATE_HZ;
        let duck = LATE.gate(secs, 0.6) + FLIPPED.gate(secs, 0.6);
        let bed = 1.0 - (1.0 - UNDER_SWELLS) * duck;
        let ends = (secs / 0.5).min((TOWER_ENDS - secs) / 0.8).clamp(0.0, 1.0);
        *left *= bed * ends;
        *right *= bed * ends;
    }
    // An unplugged cable: exact silence inside the stretch, with fades of 20 ms on either side of it.
    for (n, sample) in sides[1].iter_mut().enumerate() {
        let secs = n as f64 / RATE_HZ;
        let away = (ONE_SIDED.start - secs).max(secs - ONE_SIDED.end);
        *sample *= (away / 0.02).clamp(0.0, 1.0);
    }
    sides
}

/// Muffles the tower before the cut, as behind a closed door.
fn close_door(side: &mut [f64]) {
    let heard = &mut side[..frame(CUT_SECS)];
    darken(heard, 160.0);
    darken(heard, 160.0);
}

fn each(sides: &mut [Vec<f64>; 2]) -> impl Iterator<Item = (&mut f64, &mut f64)> {
    let [left, right] = sides;
    left.iter_mut().zip(right.iter_mut())
}

/// Removes from the right channel any chance correlation with the left over the measured core, so that the planted
/// correlation is 0 by construction, not only on average.
fn part(sides: &mut [Vec<f64>; 2]) {
    let core = TOWER_CORE.range();
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let (left, right) = (&sides[0][core.clone()], &sides[1][core]);
    let common = dot(left, right) / dot(left, left);
    for (left, right) in each(sides) {
        *right -= common * *left;
    }
}

/// The slowly varying strength of the wind, around 1, the same for both channels. It rises and falls over seconds,
/// since a sudden rise is a step of level.
fn gusts() -> Vec<f64> {
    let slow =
        noise(&mut Chance::of(20), frames(), |hz| if (0.04..0.5).contains(&hz) { 1.0 / hz } else { 0.0 });
    slow.into_iter().map(|s| 1.0 + 0.3 * (0.3 * s).tanh()).collect()
}

fn channel(side: u64, gusts: &[f64]) -> Vec<f64> {
    let mut chance = Chance::of(30 + side);
    let wind = noise(&mut chance, frames(), |hz| {
        let low = (hz / 60.0).powi(2) / (1.0 + (hz / 60.0).powi(2));
        if (25.0..9_000.0).contains(&hz) { low / hz.powf(1.5) } else { 0.0 }
    });
    let air = noise(&mut chance, frames(), |hz| if (300.0..14_000.0).contains(&hz) { 1.0 / hz } else { 0.0 });
    let yard = noise(&mut chance, frames(), |hz| if (150.0..1_600.0).contains(&hz) { 1.0 / hz } else { 0.0 });
    let hiss = noise(&mut chance, frames(), |hz| if hz > 20.0 { 1.0 } else { 0.0 });
    let mut louvres = [(610.0, 18.0), (915.0, 24.0), (1_340.0, 30.0)].map(|(hz, q)| Resonance::new(hz, q));
    let mut out: Vec<f64> = (0..frames())
        .map(|n| {
            let gust = gusts[n];
            let whistle: f64 = louvres.iter_mut().map(|louvre| louvre.step(air[n])).sum();
            0.024 * gust * wind[n]
                + 0.012 * gust * air[n]
                + 0.03 * gust.powi(3) * whistle
                + 0.008 * yard[n]
                + 0.000_1 * hiss[n]
        })
        .collect();
    pigeons(&mut out, side, &mut chance);
    clanks(&mut out, &mut chance);
    out
}

/// Coos and wing beats in one channel; the other has different ones.
fn pigeons(out: &mut [f64], side: u64, chance: &mut Chance) {
    let mut at = 1.0 + 1.7 * side as f64;
    while at < 70.0 {
        if chance.unit() < 0.7 {
            coo(out, at, chance.between(0.012, 0.022), chance.between(350.0, 430.0));
        } else {
            wings(out, at, chance);
        }
        at += chance.between(2.0, 5.0);
    }
}

fn coo(out: &mut [f64], at: f64, gain: f64, hz: f64) {
    for (start, length, bend) in [(0.0, 0.35, 1.06), (0.45, 0.8, 1.12)] {
        let count = frame(length);
        let mut phase = 0.0;
        for (i, sample) in out.iter_mut().skip(frame(at + start)).take(count).enumerate() {
            let x = i as f64 / count as f64;
            phase += TAU * hz * (1.0 + (bend - 1.0) * arch(x)) / RATE_HZ;
            let roll = 0.6 + 0.4 * (TAU * 23.0 * i as f64 / RATE_HZ).sin();
            *sample += gain * arch(x) * roll * (phase.sin() + 0.25 * (2.0 * phase).sin());
        }
    }
}

fn wings(out: &mut [f64], at: f64, chance: &mut Chance) {
    let mut air = vec![0.0; frame(1.0)];
    for beat in 0..9 {
        let start = f64::from(beat) * 0.1 + chance.between(0.0, 0.01);
        super::sound::burst(&mut air, start, 0.02, 0.1, Resonance::new(900.0, 0.7), chance);
    }
    darken(&mut air, 3_000.0);
    out.iter_mut().skip(frame(at)).zip(air).for_each(|(sample, air)| *sample += air);
}

/// Iron clanking in the yard, far away.
fn clanks(out: &mut [f64], chance: &mut Chance) {
    let mut at = chance.between(3.0, 6.0);
    while at < 70.0 {
        for hz in [640.0, 1_120.0, 1_730.0] {
            ring(out, at, hz * chance.between(0.97, 1.03), 0.004, 0.18);
        }
        at += chance.between(3.0, 8.0);
    }
}
