//! A separate scene for the findings: the mason works in the tower, and faults are planted at known times, most of them
//! off the grid of tenths. It reads nothing from disk and shares nothing with the demo.

use ebur128::{EbuR128, Mode};
use plumbline_measure::{Analyzer, BandEdges, Grid, Position, SampleRate, Tenth};
use plumbline_programme::Role;
use plumbline_tests::programme::{Measured, measured};
use plumbline_tests::signal::{Noise, single};
use std::f64::consts::PI;

pub(super) const RATE: u32 = 48_000;
pub(super) const SECS: f64 = 126.0;

/// Stretches in seconds.
pub(super) const FLIPPED: [f64; 2] = [6.13, 10.13];
pub(super) const DELAYED: [f64; 2] = [14.37, 19.37];
pub(super) const DEAD: [f64; 2] = [24.23, 27.23];
pub(super) const HOLES: [[f64; 2]; 3] = [[30.83, 30.85], [33.54, 33.63], [36.27, 36.62]];
pub(super) const PING: [f64; 2] = [40.33, 40.35];
pub(super) const CLIPPED_AT: f64 = 43.47;
pub(super) const CLIPPED: usize = 12;
pub(super) const WIND: [f64; 2] = [48.63, 53.63];
pub(super) const COVERED: [f64; 2] = [58.29, 64.29];
pub(super) const OFF_TARGET: [f64; 2] = [69.17, 109.17];
pub(super) const LOST_AT: f64 = 115.31;
pub(super) const LOST: u32 = 2_400;
/// The band of the delayed copy, Hz.
pub(super) const DELAYED_BAND: [f64; 2] = [500.0, 2_000.0];
/// Seconds between two hits of the chisel.
const BETWEEN_HITS: f64 = 0.7;
/// Delay of the copy, seconds.
const DELAY: f64 = 0.005;
/// Band of the chisel and of the sound that covers it, Hz.
const CHISEL: [f64; 2] = [2_850.0, 5_600.0];
/// Root mean square of each channel of the ambience.
const AMBIENCE: f64 = 0.02;
/// Shares of K-weighted energy at rest: natural, foley, design.
const SHARES: [f64; 3] = [0.70, 0.15, 0.15];

pub(super) type Stereo = [Vec<f64>; 2];

/// The layers and their parts.
pub(super) struct Scene {
    /// Natural, foley, design.
    pub(super) layers: [Stereo; 3],
    /// The part of the design sound that covers the Foley.
    pub(super) cover: Stereo,
    pub(super) mix: Stereo,
}

pub(super) fn frame(secs: f64) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a short scene")]
    let frame = (secs * f64::from(RATE)).round() as usize;
    frame
}

fn db(level: f64) -> f64 {
    10.0_f64.powf(level / 20.0)
}

fn silence() -> Stereo {
    [vec![0.0; frame(SECS)], vec![0.0; frame(SECS)]]
}

/// A gain of 1 in a stretch and 0 outside, with 5 ms raised-cosine fades inside each end.
fn inside(stretch: [f64; 2], n: usize) -> f64 {
    const FADE: f64 = 0.005;
    let secs = n as f64 / f64::from(RATE);
    let edge = (secs - stretch[0]).min(stretch[1] - secs);
    0.5 - 0.5 * (PI * (edge / FADE).clamp(0.0, 1.0)).cos()
}

fn scaled(sound: &mut Stereo, gain: impl Fn(usize) -> f64) {
    for channel in sound {
        channel.iter_mut().enumerate().for_each(|(n, x)| *x *= gain(n));
    }
}

fn add(to: &mut Stereo, sound: &Stereo, gain: f64) {
    for (to, sound) in to.iter_mut().zip(sound) {
        to.iter_mut().zip(sound).for_each(|(to, x)| *to += gain * x);
    }
}

/// Ungated K-weighted energy of a whole sound.
fn k_energy(sound: &Stereo) -> f64 {
    let window = u32::try_from(sound[0].len() * 1_000 / RATE as usize).expect("short");
    let mut meter = EbuR128::new(2, RATE, Mode::I).expect("a meter");
    meter.set_max_window(window).expect("a window");
    meter.add_frames_planar_f64(&[&sound[0], &sound[1]]).expect("added");
    10.0_f64.powf((meter.loudness_window(window).expect("measured") + 0.691) / 10.0)
}

/// Noise of a band, the same in both channels.
fn shared(noise: &mut Noise, exponent: f64, band: [f64; 2], rms: f64) -> Stereo {
    let sound = noise.coloured(frame(SECS), rms, exponent, band[0], band[1], f64::from(RATE));
    [sound.clone(), sound]
}

/// Noise of a band, unrelated between the channels.
fn unrelated(noise: &mut Noise, exponent: f64, band: [f64; 2], rms: f64) -> Stereo {
    [0, 1].map(|_| noise.coloured(frame(SECS), rms, exponent, band[0], band[1], f64::from(RATE)))
}

/// Adds a sound to all layers so that their balance is unchanged and the sound is at its own level in the mix.
fn add_to_all(layers: &mut [Stereo; 3], sound: &Stereo) {
    let gains = SHARES.map(f64::sqrt);
    let sum: f64 = gains.iter().sum();
    layers.iter_mut().zip(gains).for_each(|(layer, gain)| add(layer, sound, gain / sum));
}

impl Scene {
    pub(super) fn new() -> Self {
        let noise = &mut Noise::new(0x0BE1_1707);
        let all = [20.0, 20_000.0];
        let mut natural = unrelated(noise, 0.5, all, AMBIENCE);
        let share = |sound: &mut Stereo, of: f64, natural: f64| {
            let gain = (of / SHARES[0] * natural / k_energy(sound)).sqrt();
            scaled(sound, |_| gain);
        };
        let whole = k_energy(&natural);

        // Half of the Foley is the constant rustle of the rope, half are hits of the chisel.
        let mut foley = shared(noise, 0.0, CHISEL, 1.0);
        let mut hits = shared(noise, 0.0, CHISEL, 1.0);
        let since_hit = |n: usize| (n as f64 / f64::from(RATE)).rem_euclid(BETWEEN_HITS);
        scaled(&mut hits, |n| (-since_hit(n) / 0.02).exp());
        share(&mut foley, SHARES[1] / 2.0, whole);
        share(&mut hits, SHARES[1] / 2.0, whole);
        scaled(&mut hits, |n| 1.0 - inside(COVERED, n));
        add(&mut foley, &hits, 1.0);
        scaled(&mut foley, |n| 1.0 + (db(-18.0) - 1.0) * inside(COVERED, n));

        let mut design = shared(noise, 0.5, [100.0, 400.0], 1.0);
        share(&mut design, SHARES[2], whole);
        scaled(&mut design, |n| 1.0 - inside(COVERED, n));
        let mut cover = shared(noise, 0.0, CHISEL, 1.0);
        share(&mut cover, SHARES[1] + SHARES[2], whole);
        scaled(&mut cover, |n| inside(COVERED, n));
        add(&mut design, &cover, 1.0);

        scaled(&mut natural, |n| 1.0 + (db(-8.0) - 1.0) * inside(OFF_TARGET, n));
        let mut layers = [natural, foley, design];
        plant(&mut layers, noise);

        let mut mix = silence();
        layers.iter().for_each(|layer| add(&mut mix, layer, 1.0));
        // Only the planted samples of the mix are at full scale.
        let clipped = frame(CLIPPED_AT);
        mix[0][clipped..clipped + CLIPPED].fill(1.0);
        Self { layers, cover, mix }
    }

    /// The mix first, then its layers, each with a name.
    pub(super) fn measured(&self) -> Vec<Measured> {
        let channels = |sound: &Stereo| [single(&sound[0]), single(&sound[1])];
        let mut mix = measured(1, "mix", Role::Mix, RATE, &channels(&self.mix));
        mix.tenths = with_loss(&channels(&self.mix));
        let roles = [Role::Natural, Role::Foley, Role::Design];
        let names = ["tower", "chisel", "swell"];
        let parts = (2..)
            .zip(names)
            .zip(roles)
            .zip(&self.layers)
            .map(|(((id, name), role), sound)| measured(id, name, role, RATE, &channels(sound)));
        std::iter::once(mix).chain(parts).collect()
    }
}

/// Plants the faults that affect all layers alike.
fn plant(layers: &mut [Stereo; 3], noise: &mut Noise) {
    let all = [20.0, 20_000.0];
    // One sound in both channels, 17 dB above the ambience, the right one polarity inverted.
    let mut flipped = shared(noise, 0.5, all, AMBIENCE * db(17.0));
    flipped[1].iter_mut().for_each(|x| *x = -*x);
    scaled(&mut flipped, |n| inside(FLIPPED, n));
    add_to_all(layers, &flipped);

    // A copy in the right channel, 5 ms late.
    let mut late = shared(noise, 0.5, DELAYED_BAND, AMBIENCE * db(15.0));
    late[1].rotate_right(frame(DELAY));
    scaled(&mut late, |n| inside(DELAYED, n));
    add_to_all(layers, &late);

    // Wind, 15 dB above everything else together; the sum of the layers at rest is 1.5 dB above the ambience.
    let mut wind = unrelated(noise, 0.5, [20.0, 120.0], AMBIENCE * db(15.0 + 1.5));
    scaled(&mut wind, |n| inside(WIND, n));
    add_to_all(layers, &wind);

    // A quarter of the rate, 45° off the samples: they stay 3 dB below the peaks between them.
    let mut ping = silence();
    for channel in &mut ping {
        for (n, x) in channel.iter_mut().enumerate().take(frame(PING[1])).skip(frame(PING[0])) {
            let shape = (PI * (n - frame(PING[0])) as f64 / (frame(PING[1]) - frame(PING[0])) as f64).sin();
            *x = 1.12 * shape * (PI / 2.0 * n as f64 + PI / 4.0).sin();
        }
    }
    add_to_all(layers, &ping);
    let mut burst = silence();
    burst[0][frame(CLIPPED_AT)..frame(CLIPPED_AT) + CLIPPED].fill(1.0);
    add_to_all(layers, &burst);

    for layer in layers {
        layer[0][frame(DEAD[0])..frame(DEAD[1])].fill(0.0);
        for hole in HOLES {
            layer.iter_mut().for_each(|channel| channel[frame(hole[0])..frame(hole[1])].fill(0.0));
        }
    }
}

/// The tenths of a sound with lost samples.
fn with_loss(channels: &[Vec<f32>; 2]) -> Vec<Tenth> {
    let rate = SampleRate::new(RATE).expect("a rate to measure at");
    let mut analyzer = Analyzer::new(rate, 2, BandEdges::default());
    let mut tenths = Vec::new();
    let (before, after) = (frame(LOST_AT), frame(LOST_AT) + LOST as usize);
    let both = |from: usize, to: usize| [&channels[0][from..to], &channels[1][from..to]];
    let at = |n: usize| Position { grid: Grid::Song, sample: i64::try_from(n).expect("short") };
    analyzer.push(at(0), &both(0, before), &mut tenths);
    analyzer.note_loss(LOST);
    analyzer.push(at(after), &both(after, channels[0].len()), &mut tenths);
    analyzer.flush(&mut tenths);
    tenths
}

/// Energies of the seconds that end with each tenth, by the loudness of the `ebur128` crate over a window.
pub(super) fn energies_of(secs: u32, sound: &Stereo) -> Vec<f64> {
    let mut meter = EbuR128::new(2, RATE, Mode::S).expect("a meter");
    let window = 1_000 * secs;
    meter.set_max_window(window).expect("a window");
    let mut energies = Vec::new();
    for (left, right) in sound[0].chunks(4_800).zip(sound[1].chunks(4_800)) {
        meter.add_frames_planar_f64(&[left, right]).expect("added");
        energies.push(10.0_f64.powf((meter.loudness_window(window).expect("measured") + 0.691) / 10.0));
    }
    energies
}
