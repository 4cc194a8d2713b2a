//! The layer that causes a mono loss.
//!
//! Scenes of unrelated sources, with the energies of the mix, and of the mix without each layer, in closed form. The
//! layers are taken before faders, pans and polarity.

use plumbline_measure::{BandEdges, SampleRate};
use plumbline_programme::LayerId;
use plumbline_programme::loss_attribution::{LayerAudio, LeaveOut, Passage};
use plumbline_programme::session::LossByLayer;
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::{Noise, single};
use std::f64::consts::FRAC_PI_4;

const RATE: u32 = 48_000;
const PRESENCE: usize = 4;

/// A source of power 1: its gains to left and right in the mix.
#[derive(Clone, Copy)]
struct Sounds {
    source: usize,
    gains: [f64; 2],
}

/// A layer: the sources and gains of each of its channels, and of its part in the mix.
struct Layer {
    channels: Vec<Vec<(usize, f64)>>,
    in_mix: Vec<Sounds>,
    listed: bool,
}

/// A mono layer with its gains to left and right.
fn mono(source: usize, gains: [f64; 2]) -> Layer {
    Layer { channels: vec![vec![(source, 1.0)]], in_mix: vec![Sounds { source, gains }], listed: true }
}

/// A stereo layer of one source, with its gains in its two channels and in the mix.
fn stereo(source: usize, own: [f64; 2], gains: [f64; 2]) -> Layer {
    Layer {
        channels: own.map(|gain| vec![(source, gain)]).to_vec(),
        in_mix: vec![Sounds { source, gains }],
        listed: true,
    }
}

/// An ambience of two unrelated sources; a matrix gives the gains of its channels to left and right.
fn wide(sources: [usize; 2], matrix: [[f64; 2]; 2]) -> Layer {
    let in_mix = [0, 1].map(|side| Sounds { source: sources[side], gains: matrix[side] });
    Layer {
        channels: sources.map(|source| vec![(source, 1.0)]).to_vec(),
        in_mix: in_mix.to_vec(),
        listed: true,
    }
}

const STRAIGHT: [[f64; 2]; 2] = [[1.0, 0.0], [0.0, 1.0]];

impl Layer {
    fn unlisted(self) -> Self {
        Self { listed: false, ..self }
    }
}

/// Left, right and cross power of some layers together: gains of the same source add, different sources add in power.
fn powers<'a>(layers: impl Iterator<Item = &'a Layer>) -> [f64; 3] {
    let mut gains = [[0.0; 2]; 16];
    for sounds in layers.flat_map(|layer| &layer.in_mix) {
        gains[sounds.source][0] += sounds.gains[0];
        gains[sounds.source][1] += sounds.gains[1];
    }
    gains.iter().fold([0.0; 3], |[ll, rr, lr], [l, r]| [ll + l * l, rr + r * r, lr + l * r])
}

/// 10·lg[(P_L + P_R + 2C)/(2(P_L + P_R))], with C = ρ√(P_L·P_R).
fn loss([ll, rr, lr]: [f64; 3]) -> f64 {
    10.0 * ((ll + rr + 2.0 * lr) / (2.0 * (ll + rr))).log10()
}

/// Mono loss of the mix without some layers, in closed form.
fn without(scene: &[Layer], out: &[usize]) -> f64 {
    loss(powers(scene.iter().enumerate().filter(|(i, _)| !out.contains(i)).map(|(_, layer)| layer)))
}

/// The result for a scene.
struct Asked {
    found: LossByLayer,
}

/// Makes the sources, the mix and the layers, each `late` by its number of samples (32 is on time), and asks.
fn ask_late(scene: &[Layer], band: usize, seed: u64, late: &[usize]) -> Asked {
    let rate = SampleRate::new(RATE).expect("a rate that can be measured");
    let frames = 2 * RATE as usize;
    let lead = 64;
    let mut dice = Noise::new(seed);
    let sources: Vec<Vec<f64>> = (0..16).map(|_| dice.white(frames + lead, 0.05)).collect();
    let sum = |parts: &[(usize, f64)], late: usize| -> Vec<f64> {
        (lead - late..lead - late + frames)
            .map(|n| parts.iter().map(|(s, g)| g * sources[*s][n]).sum())
            .collect()
    };
    let mix = [0, 1].map(|side| {
        let parts: Vec<(usize, f64)> =
            scene.iter().flat_map(|l| &l.in_mix).map(|s| (s.source, s.gains[side])).collect();
        // At the middle, so that a layer may be earlier or later.
        single(&sum(&parts, lead / 2))
    });
    let audio: Vec<Vec<Vec<f32>>> = scene
        .iter()
        .enumerate()
        .map(|(i, layer)| {
            let late = late.get(i).copied().unwrap_or(lead / 2);
            layer.channels.iter().map(|part| single(&sum(part, late))).collect()
        })
        .collect();
    let slices: Vec<Vec<&[f32]>> = audio.iter().map(|c| c.iter().map(Vec::as_slice).collect()).collect();
    let layers: Vec<LayerAudio<'_>> = scene
        .iter()
        .zip(&slices)
        .zip(0..)
        .filter(|((layer, _), _)| layer.listed)
        .map(|((_, channels), id)| LayerAudio { id: LayerId(id), channels })
        .collect();
    let span = BandEdges::default().span(band);
    let passage = Passage { band, span, mix: [&mix[0], &mix[1]], layers: &layers };
    Asked { found: LeaveOut::new(rate).ask(&passage).expect("noise is loud in every band") }
}

fn ask(scene: &[Layer], band: usize, seed: u64) -> Asked {
    ask_late(scene, band, seed, &[])
}

impl Asked {
    /// The layers of line `line`.
    fn named(&self, line: usize) -> Vec<u64> {
        self.found.left_out.get(line).map(|l| l.layers.iter().map(|id| id.0).collect()).unwrap_or_default()
    }

    /// The mono loss without these layers; `None` if the answer does not name them.
    fn loss_without(&self, layers: &[u64]) -> Option<f64> {
        let same = |l: &&plumbline_programme::session::LeftOut| {
            l.layers.iter().map(|id| id.0).eq(layers.iter().copied())
        };
        self.found.left_out.iter().find(same).and_then(|l| l.loss_db)
    }

    fn all_named(&self) -> Vec<Vec<u64>> {
        (0..self.found.left_out.len()).map(|line| self.named(line)).collect()
    }
}

/// The scatter of a loss by the chance correlation of 2 s of noise in the two upper bands, with a margin: σ of each
/// correlation is 1/√(2·B·T).
const CHANCE_DB: f64 = 0.1;

#[test]
fn one_layer_with_its_right_inverted() {
    let mut cases = Cases::new("three unrelated layers, one with its right inverted");
    for (inverted, seed) in [(1.0, 1), (2.0, 2), (4.0, 3)] {
        let scene = [
            mono(0, [1.0, 1.0]),
            stereo(1, [inverted, -inverted], [inverted, -inverted]),
            wide([2, 3], STRAIGHT),
        ];
        for band in [PRESENCE, 5] {
            let asked = ask(&scene, band, seed);
            let name = format!("inverted layer × {inverted}, band {band}");
            cases.near(format!("{name}: mix"), asked.found.loss_db, without(&scene, &[]), CHANCE_DB);
            cases.holds(format!("{name}: first, {:?}", asked.all_named()), asked.named(0) == [1]);
            cases.near(
                format!("{name}: without"),
                asked.loss_without(&[1]),
                without(&scene, &[1]),
                CHANCE_DB,
            );
            cases.holds(format!("{name}: no other"), asked.all_named().len() == 1);
            cases.near(format!("{name}: explained"), asked.found.explained, 1.0, 1e-9);
        }
    }
    cases.end(30);
}

#[test]
fn two_layers_that_oppose_one_another() {
    let mut cases = Cases::new("A hard left, B = −A hard right, and a bed");
    for (bed, seed) in [(0.25, 11), (0.5, 12), (1.0, 13)] {
        let scene =
            [stereo(0, [1.0, 0.0], [1.0, 0.0]), stereo(0, [0.0, -1.0], [0.0, -1.0]), mono(1, [bed, bed])];
        let asked = ask(&scene, PRESENCE, seed);
        let name = format!("bed × {bed}");
        cases.near(format!("{name}: mix"), asked.found.loss_db, without(&scene, &[]), CHANCE_DB);
        for one in [0, 1] {
            let expected = without(&scene, &[one]);
            cases.near(
                format!("{name}: without {one}"),
                asked.loss_without(&[one as u64]),
                expected,
                CHANCE_DB,
            );
        }
        // They are named together if that gains 1 dB more than either alone.
        let together = asked.all_named().contains(&vec![0, 1]);
        cases.holds(
            format!("{name}: pair {:?}", asked.all_named()),
            together == (without(&scene, &[0]) <= -1.0),
        );
        if together {
            cases.near(format!("{name}: without both"), asked.loss_without(&[0, 1]), 0.0, CHANCE_DB);
            cases.holds(format!("{name}: pair first"), asked.named(0) == [0, 1]);
        }
        cases.holds(format!("{name}: bed not named"), !asked.all_named().iter().flatten().any(|l| *l == 2));
    }
    // As two mono layers they are the same sound, so their sides cannot be determined, but they are named together.
    let scene = [mono(0, [1.0, 0.0]), mono(0, [0.0, -1.0]), mono(1, [0.5, 0.5])];
    let asked = ask(&scene, PRESENCE, 14);
    cases.holds(format!("mono: pair first, {:?}", asked.all_named()), asked.named(0) == [0, 1]);
    cases.near("mono: without both", asked.loss_without(&[0, 1]), 0.0, CHANCE_DB);
    // Nothing else: without either, one channel is left, −3.01 dB; without both, nothing is left to judge.
    let scene = [stereo(0, [1.0, 0.0], [1.0, 0.0]), stereo(0, [0.0, -1.0], [0.0, -1.0])];
    let asked = ask(&scene, PRESENCE, 15);
    cases.near("no bed: mix", asked.found.loss_db, f64::NEG_INFINITY, 0.0);
    cases.holds(format!("no bed: {:?}", asked.all_named()), asked.all_named() == [[0], [1]]);
    cases.near("no bed: without A", asked.loss_without(&[0]), -3.0103, 0.01);
    cases.end(24);
}

/// Gains of the sine/cosine law, the −4.5 dB law and the linear law at pan p.
fn pan_laws(p: f64) -> [[f64; 2]; 3] {
    let angle = FRAC_PI_4 * (1.0 + p);
    let round = [angle.cos(), angle.sin()];
    let linear = [(1.0 - p) / 2.0, (1.0 + p) / 2.0];
    [round, [0, 1].map(|side| (round[side] * linear[side]).sqrt()), linear]
}

#[test]
fn faders_and_pans_after_the_plug_in() {
    let mut cases =
        Cases::new("faders of −12 to +6 dB, three pan laws, a width control between layer and mix");
    for (at, fader_db) in [-12.0, -6.0, 0.0, 6.0].into_iter().enumerate() {
        let fader = 10.0_f64.powf(fader_db / 20.0);
        for (law, pan) in [(0, -0.75), (1, -0.25), (2, 0.5)] {
            let [left, right] = pan_laws(pan)[law];
            let scene = [
                mono(0, [left * fader, right * fader]),
                // An inverted right channel, kept loud enough to cause a loss at any fader position.
                stereo(1, [1.0, -1.0], [1.5 * fader.max(0.7), -1.5 * fader.max(0.7)]),
                // Half the width: each channel goes to the other at about a third of its gain.
                wide([2, 3], [[0.5, 0.17], [0.17, 0.5]]),
                mono(4, pan_laws(-pan)[law]),
            ];
            let asked = ask(&scene, PRESENCE, 20 + at as u64);
            let name = format!("{fader_db} dB, law {law}, p = {pan}");
            cases.near(format!("{name}: mix"), asked.found.loss_db, without(&scene, &[]), CHANCE_DB);
            cases.holds(format!("{name}: first, {:?}", asked.all_named()), asked.all_named() == [[1]]);
            cases.near(
                format!("{name}: without"),
                asked.loss_without(&[1]),
                without(&scene, &[1]),
                CHANCE_DB,
            );
            cases.near(format!("{name}: explained"), asked.found.explained, 1.0, 1e-9);
        }
    }
    cases.end(48);
}

#[test]
fn polarity_flipped_after_the_plug_in() {
    let mut cases = Cases::new("a polarity inversion between layer and mix");
    let bed = || mono(3, [0.6, 0.6]);
    // The right channel of the first layer is inverted; both channels of the second are, which is harmless.
    let scene = [stereo(0, [1.0, 1.0], [1.0, -1.0]), stereo(1, [1.0, 0.5], [-0.5, -0.25]), bed()];
    let asked = ask(&scene, PRESENCE, 31);
    cases.near("mix", asked.found.loss_db, without(&scene, &[]), CHANCE_DB);
    cases.holds(format!("named {:?}", asked.all_named()), asked.all_named() == [[0]]);
    cases.near("without", asked.loss_without(&[0]), without(&scene, &[0]), CHANCE_DB);
    // A mono layer that the mix inverts in one channel.
    let scene = [mono(0, [1.0, 1.0]), mono(1, [1.0, -1.0]), bed()];
    let asked = ask(&scene, PRESENCE, 32);
    cases
        .holds(format!("mono layer flipped on one side {:?}", asked.all_named()), asked.all_named() == [[1]]);
    cases.near("mono layer flipped: without", asked.loss_without(&[1]), 0.0, CHANCE_DB);
    cases.end(5);
}

#[test]
fn a_layer_that_nobody_knows_of() {
    let mut cases = Cases::new("a layer is missing from the list");
    for band in 0..6 {
        // The cause is a layer that was not passed in: no other is named.
        let scene = [
            mono(0, [0.7, 0.7]),
            wide([1, 2], [[0.5, 0.0], [0.0, 0.5]]),
            mono(3, [0.5, 0.2]),
            stereo(4, [1.0, -1.0], [1.0, -1.0]).unlisted(),
        ];
        let asked = ask(&scene, band, 40 + band as u64);
        let total = |p: [f64; 3]| p[0] + p[1];
        let listed = total(powers(scene[..3].iter())) / total(powers(scene.iter()));
        // Four standard deviations of a power with these degrees of freedom.
        let span = BandEdges::default().span(band);
        let chance = 4.0 / (2.0 * (span.high_hz - span.low_hz)).sqrt();
        cases.near(format!("band {band}: explained"), asked.found.explained, listed, chance.max(0.01));
        cases.holds(format!("band {band}: nobody, {:?}", asked.all_named()), asked.all_named().is_empty());
        // A layer that was not passed in is harmless: the cause is still found.
        let scene =
            [mono(0, [0.7, 0.7]), stereo(1, [1.0, -1.0], [1.0, -1.0]), mono(2, [0.5, 0.5]).unlisted()];
        let asked = ask(&scene, band, 50 + band as u64);
        cases.holds(format!("band {band}: the cause, {:?}", asked.all_named()), asked.all_named() == [[1]]);
        let slack = if band < PRESENCE { 4.343 * chance } else { 0.2 };
        cases.near(format!("band {band}: without"), asked.loss_without(&[1]), 0.0, slack);
    }
    cases.end(24);
}

#[test]
fn width_is_no_fault() {
    let mut cases = Cases::new("unrelated channels lose 3.01 dB by arithmetic");
    let scene = [wide([0, 1], STRAIGHT), wide([2, 3], STRAIGHT), wide([4, 5], [[0.3, 0.0], [0.0, 0.3]])];
    for band in [2, 3, PRESENCE, 5] {
        let asked = ask(&scene, band, 60 + band as u64);
        cases.near(format!("ambiences, band {band}: mix"), asked.found.loss_db, -3.0103, 0.3);
        cases.holds(format!("ambiences: {:?}", asked.all_named()), asked.all_named().is_empty());
    }
    let scene = [wide([0, 1], STRAIGHT), mono(2, [0.5, 0.5])];
    let asked = ask(&scene, PRESENCE, 65);
    cases.near("with a bed: mix", asked.found.loss_db, without(&scene, &[]), CHANCE_DB);
    cases.holds(format!("with a bed: {:?}", asked.all_named()), asked.all_named() == [[0]]);
    cases.near("with a bed: without it", asked.loss_without(&[0]), 0.0, 1e-6);
    // A faulty layer next to a wide one: without both, 0 dB would be left, but width must not be named.
    let scene = [stereo(0, [1.0, -1.0], [1.0, -1.0]), wide([1, 2], STRAIGHT), mono(3, [0.5, 0.5])];
    let asked = ask(&scene, PRESENCE, 66);
    cases.holds(format!("beside a fault: {:?}", asked.all_named()), asked.all_named() == [[0]]);
    cases.end(12);
}

#[test]
fn boom_and_lavalier_are_nearly_the_same() {
    let mut cases = Cases::new("two layers that differ at −50 dB, another that loses, and one unknown");
    /// The lavalier's own sound: −50 dB.
    const OWN: f64 = 0.003;
    for band in [1, 2, PRESENCE] {
        for seed in 70..78 {
            let scene = [
                mono(0, [0.5, 0.5]),
                Layer {
                    channels: vec![vec![(0, 1.0), (5, OWN)]],
                    in_mix: [(0, 0.5), (5, 0.5 * OWN)]
                        .map(|(source, gain)| Sounds { source, gains: [gain; 2] })
                        .to_vec(),
                    listed: true,
                },
                stereo(1, [1.0, -1.0], [1.0, -1.0]),
                wide([2, 3], [[0.3, 0.0], [0.0, 0.3]]).unlisted(),
            ];
            let asked = ask(&scene, band, seed);
            let name = format!("band {band}, seed {seed}");
            cases.holds(format!("{name}: {:?}", asked.all_named()), asked.all_named() == [[2]]);
            cases.near(format!("{name}: without"), asked.loss_without(&[2]), without(&scene, &[2]), 0.3);
        }
    }
    cases.end(48);
}

#[test]
fn layers_that_come_early_or_late() {
    let mut cases = Cases::new("layers a few samples off the mix");
    let scene = [mono(0, [1.0, 1.0]), stereo(1, [1.0, -1.0], [1.5, -1.5]), wide([2, 3], STRAIGHT)];
    // Delay of each relative to the mix in samples, −32 to 32, offset by 32.
    for (at, late) in [[32, 35, 32], [0, 64, 32], [64, 0, 17], [31, 33, 40]].into_iter().enumerate() {
        for band in [3, PRESENCE, 5] {
            let asked = ask_late(&scene, band, 80 + at as u64, &late);
            let name = format!("{late:?}, band {band}");
            cases.holds(format!("{name}: {:?}", asked.all_named()), asked.all_named() == [[1]]);
            cases.near(format!("{name}: without"), asked.loss_without(&[1]), without(&scene, &[1]), 0.2);
            // No shift is searched for if less than 2 % is unexplained.
            cases.within(format!("{name}: explained"), asked.found.explained, 0.98, 1.0);
        }
    }
    // All of many layers, as when the latency of the mix's chain is not compensated: each alone explains only a small
    // part.
    let mut scene: Vec<Layer> = (0..9).map(|source| mono(source, [0.5, 0.5])).collect();
    scene.push(stereo(9, [1.0, -1.0], [2.0, -2.0]));
    for band in [2, 3, PRESENCE, 5] {
        let asked = ask_late(&scene, band, 90, &[37; 10]);
        cases.holds(format!("all, band {band}: {:?}", asked.all_named()), asked.all_named() == [[9]]);
        cases.near(
            format!("all, band {band}: without"),
            asked.loss_without(&[9]),
            without(&scene, &[9]),
            0.2,
        );
        cases.within(format!("all, band {band}: explained"), asked.found.explained, 0.98, 1.0);
    }
    cases.end(48);
}
