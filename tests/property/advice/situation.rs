//! Random situations of two microphones: a source, a path to each, and other sounds that they pick up.

use plumbline_tests::signal::{Noise, delayed, filtered};
use plumbline_tests::sources::{between, hits, log, voice};
use realfft::num_complex::Complex;

/// Sample rate: low, so that many situations fit into a run.
pub(super) const RATE_HZ: u32 = 32_000;
const RATE: f64 = RATE_HZ as f64;
/// Length of a situation in seconds.
const SECS: usize = 14;
const FRAMES: usize = SECS * RATE_HZ as usize;

/// Two sounds, and their description.
pub(super) struct Situation {
    pub(super) name: String,
    pub(super) sounds: [Vec<f64>; 2],
}

fn pick(noise: &mut Noise, of: u64) -> u64 {
    noise.bits() % of
}

fn gain(db: f64) -> f64 {
    10.0_f64.powf(db / 20.0)
}

fn source(noise: &mut Noise) -> (&'static str, Vec<f64>) {
    match pick(noise, 5) {
        0 => ("white noise", noise.white(FRAMES, 0.08)),
        1 => ("pink noise", noise.pink(FRAMES, 0.1, RATE)),
        2 => ("a voice", voice(noise, FRAMES, RATE)),
        3 => ("hits", hits(noise, FRAMES, RATE)),
        _ => ("a band of noise", {
            let low = log(noise, 60.0, 1_000.0);
            let high = (low * log(noise, 3.0, 20.0)).min(15_000.0);
            noise.coloured(FRAMES, 0.1, 0.5, low, high, RATE)
        }),
    }
}

/// A first- or second-order filter, low-pass or high-pass, or an all-pass.
fn coloured(noise: &mut Noise, sound: &[f64]) -> (String, Vec<f64>) {
    let hz = log(noise, 150.0, 5_000.0);
    let kind = pick(noise, 4);
    let q = std::f64::consts::FRAC_1_SQRT_2;
    let response = |f: f64| {
        let s = Complex::new(0.0, f / hz);
        let below = s * s + s / q + 1.0;
        match kind {
            0 => Complex::new(1.0, 0.0) / below,
            1 => s * s / below,
            2 => Complex::new(1.0, 0.0) / (s + 1.0),
            _ => (Complex::new(1.0, 0.0) - s) / (Complex::new(1.0, 0.0) + s),
        }
    };
    let name = ["second-order low-pass", "second-order high-pass", "first-order low-pass", "all-pass"];
    #[expect(clippy::cast_possible_truncation, reason = "0 to 3")]
    let name = name[kind as usize];
    (format!("{name} at {hz:.0} Hz"), filtered(sound, RATE, response))
}

/// A room: a tail of decaying noise, `direct_db` below the direct sound.
fn in_room(noise: &mut Noise, sound: &[f64], secs: f64, direct_db: f64) -> Vec<f64> {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a length in samples")]
    let length = (secs * RATE) as usize;
    let mut tail = vec![0.0; sound.len()];
    let mut power = 0.0;
    for (n, slot) in tail.iter_mut().enumerate().take(length).skip(40) {
        *slot = noise.gauss() * (-6.9 * n as f64 / length as f64).exp();
        power += *slot * *slot;
    }
    let scale = gain(-direct_db) / power.sqrt();
    tail.iter_mut().for_each(|x| *x *= scale);
    tail[0] = 1.0;
    convolved(sound, &tail)
}

/// The circular convolution of two sounds of equal length.
fn convolved(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut planner = realfft::RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(a.len()), planner.plan_fft_inverse(a.len()));
    let spectrum = |sound: &[f64]| {
        let mut bins = forward.make_output_vec();
        forward.process(&mut sound.to_vec(), &mut bins).expect("lengths come from the plan");
        bins
    };
    let scale = 1.0 / a.len() as f64;
    let mut bins: Vec<_> = spectrum(a).iter().zip(spectrum(b)).map(|(a, b)| a * b * scale).collect();
    let last = bins.len() - 1;
    (bins[0].im, bins[last].im) = (0.0, 0.0);
    let mut out = vec![0.0; a.len()];
    inverse.process(&mut bins, &mut out).expect("lengths come from the plan");
    out
}

/// A copy that falls behind by `ppm`.
fn drifting(sound: &[f64], ppm: f64) -> Vec<f64> {
    let at = |n: usize| {
        let place = (n as f64 * (1.0 - ppm * 1e-6)).max(0.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place in the sound")]
        let whole = place as usize;
        let [a, b] = [whole, whole + 1].map(|n| sound.get(n).copied().unwrap_or(0.0));
        a + (b - a) * place.fract()
    };
    (0..sound.len()).map(at).collect()
}

impl Situation {
    /// Draws a situation.
    pub(super) fn draw(noise: &mut Noise) -> Self {
        let (kind, source) = source(noise);
        let mut name = kind.to_owned();
        let [mut first, mut second] = [source.clone(), source];
        // Most delays are within the range compared, some far beyond it.
        let ms = match pick(noise, 6) {
            0 => 0.0,
            1 => log(noise, 60.0, 2_000.0),
            _ => log(noise, 0.02, 60.0),
        } * if pick(noise, 2) == 0 { 1.0 } else { -1.0 };
        second = delayed(&second, ms * RATE / 1e3);
        name += &format!(", {ms:.3} ms");
        if pick(noise, 8) == 0 {
            let (other, half) = (delayed(&first, between(noise, -30.0, 30.0) * RATE / 1e3), FRAMES / 2);
            second[half..].copy_from_slice(&other[half..]);
            name += ", another delay from the middle on";
        }
        if pick(noise, 8) == 0 {
            let ppm = between(noise, -500.0, 500.0);
            second = drifting(&second, ppm);
            name += &format!(", {ppm:.0} ppm");
        }
        if pick(noise, 3) == 0 {
            let (filter, sound) = coloured(noise, &second);
            second = sound;
            name += &format!(", {filter}");
        }
        if pick(noise, 3) == 0 {
            let (secs, direct_db) = (log(noise, 0.1, 1.2), between(noise, -9.0, 20.0));
            first = in_room(noise, &first, secs, direct_db + 3.0);
            second = in_room(noise, &second, secs, direct_db);
            name += &format!(", a room of {secs:.1} s, direct {direct_db:.0} dB over it");
        }
        let level = gain(between(noise, -20.0, 6.0));
        let sign = if pick(noise, 3) == 0 { -1.0 } else { 1.0 };
        second.iter_mut().for_each(|x| *x *= level * sign);
        name += &format!(", {:.1} dB{}", 20.0 * level.log10(), if sign < 0.0 { ", inverted" } else { "" });
        // Another source, nearer to the second microphone, bleeds into the first.
        if pick(noise, 5) == 0 {
            let (other, bleed_db, apart_ms) =
                (voice(noise, FRAMES, RATE), between(noise, -30.0, -6.0), between(noise, 1.0, 20.0));
            let late = delayed(&other, apart_ms * RATE / 1e3);
            for ((a, b), (near, far)) in first.iter_mut().zip(&mut second).zip(other.iter().zip(&late)) {
                *b += near;
                *a += far * gain(bleed_db);
            }
            name += &format!(", a second voice, {bleed_db:.0} dB of bleed");
        }
        for sound in [&mut first, &mut second] {
            let db = between(noise, -60.0, 0.0);
            let rms = (sound.iter().map(|x| x * x).sum::<f64>() / FRAMES as f64).sqrt();
            let own = noise.pink(FRAMES, rms.max(1e-6) * gain(db), RATE);
            sound.iter_mut().zip(own).for_each(|(x, n)| *x += n);
            name += &format!(", noise {db:.0} dB");
        }
        Self { name, sounds: [first, second] }
    }
}
