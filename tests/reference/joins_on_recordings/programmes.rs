//! Programmes made of recordings: with joins at known places, and without.

use super::RATE;
use super::material::{Half, Recording, Stereo, below, levelled, scaled, stretch};
use crate::rig::frames;
use plumbline_tests::signal::Noise;
use std::f64::consts::FRAC_PI_2;

/// Joins of a class in the middle of a chain, and near an edge.
const JOINS: usize = 24;
const EDGES: usize = 12;

/// Other recordings between two appearances of one in a chain.
const APART: usize = 3;

/// A programme and where its joins are, in seconds.
pub(super) struct Made {
    pub(super) name: String,
    pub(super) sound: Stereo,
    pub(super) joins: Vec<f64>,
}

/// What is done at a join.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Class {
    /// Another recording, faded over by equal power in so many seconds; 0 is a cut.
    Fade(f64),
    /// The same recording, so many decibels louder or quieter.
    Step(f64),
}

/// A class, whether its joins are in the first or last 3 s, and its programmes.
pub(super) struct Row {
    pub(super) name: &'static str,
    pub(super) class: Class,
    pub(super) edge: bool,
}

pub(super) const ROWS: [Row; 12] = [
    Row { name: "hard cut", class: Class::Fade(0.0), edge: false },
    Row { name: "fade of 50 ms", class: Class::Fade(0.05), edge: false },
    Row { name: "fade of 0.5 s", class: Class::Fade(0.5), edge: false },
    Row { name: "fade of 2 s", class: Class::Fade(2.0), edge: false },
    Row { name: "step of 6 dB", class: Class::Step(6.0), edge: false },
    Row { name: "step of 3 dB", class: Class::Step(3.0), edge: false },
    Row { name: "hard cut, edge", class: Class::Fade(0.0), edge: true },
    Row { name: "fade of 50 ms, edge", class: Class::Fade(0.05), edge: true },
    Row { name: "fade of 0.5 s, edge", class: Class::Fade(0.5), edge: true },
    Row { name: "fade of 2 s, edge", class: Class::Fade(2.0), edge: true },
    Row { name: "step of 6 dB, edge", class: Class::Step(6.0), edge: true },
    Row { name: "step of 3 dB, edge", class: Class::Step(3.0), edge: true },
];

impl Row {
    /// Its programmes. Between fades, each recording is heard alone for at least a second.
    pub(super) fn programmes(&self, half: &Half, dice: &mut Noise) -> Vec<Made> {
        match (self.class, self.edge) {
            (Class::Fade(secs), false) => {
                let lengths: Vec<f64> = (0..=JOINS).map(|_| 6.0 + 6.0 * dice.uniform()).collect();
                vec![chain(self.name, half, &lengths, secs, dice)]
            }
            (Class::Fade(secs), true) => (0..EDGES)
                .map(|at| {
                    let near = 1.0 + secs / 2.0 + (2.0 - secs / 2.0) * dice.uniform();
                    let lengths = if at % 2 == 0 { [near, 10.0] } else { [10.0, near] };
                    chain(self.name, half, &lengths, secs, dice)
                })
                .collect(),
            (Class::Step(db), _) => {
                let count = if self.edge { EDGES } else { JOINS };
                (0..count).map(|at| self.step(half, db, at, dice)).collect()
            }
        }
    }

    fn step(&self, half: &Half, db: f64, at: usize, dice: &mut Noise) -> Made {
        let secs = if self.edge { 12.0 } else { 16.0 };
        let recording = &half.continuous[at % half.continuous.len()];
        let sound = stretch(recording, secs, dice);
        let place = match (self.edge, at % 2) {
            (false, _) => 5.0 + 6.0 * dice.uniform(),
            (true, 0) => 1.0 + 2.0 * dice.uniform(),
            (true, _) => secs - 1.0 - 2.0 * dice.uniform(),
        };
        let db = if dice.bits().is_multiple_of(2) { db } else { -db };
        let step = frames(place, RATE);
        let louder = scaled(&sound, 10.0_f64.powf(db / 20.0));
        let sound = [0, 1].map(|c| [&sound[c][..step], &louder[c][step..]].concat());
        Made { name: format!("{}: {} by {db}", self.name, recording.name), sound, joins: vec![place] }
    }
}

/// Random recordings one after the other, each heard for so many seconds from the middle of one fade to the middle of
/// the next.
fn chain(name: &str, half: &Half, lengths: &[f64], fade: f64, dice: &mut Noise) -> Made {
    let total: f64 = lengths.iter().sum();
    let mut sound: Stereo = [0, 1].map(|_| vec![0.0; frames(total, RATE)]);
    let (mut names, mut joins, mut at) = (Vec::new(), Vec::new(), 0.0);
    let mut lately: Vec<usize> = Vec::new();
    for (place, secs) in lengths.iter().enumerate() {
        let mut which = below(half.continuous.len(), dice);
        while lately.iter().rev().take(APART).any(|last| *last == which) {
            which = below(half.continuous.len(), dice);
        }
        lately.push(which);
        let (is_first, is_last) = (place == 0, place + 1 == lengths.len());
        let from: f64 = if is_first { 0.0 } else { at - fade / 2.0 };
        let to = if is_last { total } else { at + secs + fade / 2.0 };
        let heard = stretch(&half.continuous[which], to - from, dice);
        let gain = |n: usize| {
            let t = n as f64 / f64::from(RATE);
            let way = |secs: f64| if fade > 0.0 { (secs / fade).clamp(0.0, 1.0) } else { 1.0 };
            let rise = if is_first { 1.0 } else { (FRAC_PI_2 * way(t)).sin() };
            let fall = if is_last { 1.0 } else { (FRAC_PI_2 * way(to - from - t)).sin() };
            rise * fall
        };
        let start = frames(from, RATE);
        for (all, part) in sound.iter_mut().zip(&heard) {
            for (n, (all, part)) in all[start..].iter_mut().zip(part).enumerate() {
                *all += gain(n) * part;
            }
        }
        names.push(half.continuous[which].name.clone());
        at += secs;
        if !is_last {
            joins.push(at);
        }
    }
    Made { name: format!("{name}: {}", names.join(", ")), sound, joins }
}

/// Programmes without a join, by kind.
pub(super) fn unjoined(half: &Half, dice: &mut Noise) -> Vec<(&'static str, Vec<Made>)> {
    let made = |name: String, sound: Stereo| Made { name, sound, joins: Vec::new() };
    let silence = |secs: f64| vec![0.0; frames(secs, RATE)];
    let repeating = half.continuous.iter().filter(|recording| recording.repeats);
    let steady = repeating.map(|r| made(r.name.clone(), stretch(r, 30.0, dice))).collect();
    let speech = half.speech.iter().map(|r| made(r.name.clone(), r.sound.clone())).collect();
    let tail = |r: &Recording| {
        let sound = levelled(&r.sound).map(|channel| [channel, silence(4.0)].concat());
        made(r.name.clone(), sound)
    };
    let tails = half.single.iter().map(tail).collect();
    // One sound again and again, with pauses.
    let mut notes = Vec::new();
    for recording in half.single.iter().step_by(8) {
        let sound = levelled(&recording.sound);
        let mut all: Stereo = Default::default();
        for _ in 0..5 {
            let pause = silence(0.3 + 2.2 * dice.uniform());
            for (all, channel) in all.iter_mut().zip(&sound) {
                all.extend(channel);
                all.extend(&pause);
            }
        }
        notes.push(made(recording.name.clone(), all));
    }
    vec![("loops and textures", steady), ("speech", speech), ("single sounds", tails), ("notes", notes)]
}

/// Whole pieces of music.
pub(super) fn pieces(half: &Half) -> Vec<Made> {
    let pieces = half.continuous.iter().filter(|recording| !recording.repeats);
    let made = |r: &Recording| Made { name: r.name.clone(), sound: levelled(&r.sound), joins: Vec::new() };
    pieces.map(made).collect()
}
