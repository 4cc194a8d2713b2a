//! Measured head-related impulse responses: a real pair of microphones, with a head between them.
//!
//! From the Debian package `soundscaperenderer-common`, 360 directions of a dummy head; none is copied here.

use super::{CannotTell, Correlator, Found, SampleRate, compared, convolved};
use plumbline_tests::cases::Cases;
use plumbline_tests::debian;
use plumbline_tests::signal::Noise;
use std::f64::consts::PI;

/// The package with the responses.
const PACKAGE: &str = "soundscaperenderer-common";
/// The file of the responses in the package.
const FILE: &str = "hrirs_kemar.wav";

/// The file's bytes. If the package is missing and optional, prints that and returns `None`.
fn file() -> Option<Vec<u8>> {
    debian::file(PACKAGE, FILE).map(|path| std::fs::read(path).expect("the package's file is there"))
}

fn number(bytes: &[u8]) -> usize {
    bytes.iter().rev().fold(0, |sum, byte| sum << 8 | usize::from(*byte))
}

/// The rate and the channels. Parsed here, because audio libraries do not read 720 channels.
fn channels(bytes: &[u8]) -> (u32, Vec<Vec<f64>>) {
    assert_eq!((&bytes[..4], &bytes[8..12]), (&b"RIFF"[..], &b"WAVE"[..]), "a wave file");
    let (mut at, mut format, mut data) = (12, None, None);
    while at + 8 <= bytes.len() {
        let length = number(&bytes[at + 4..at + 8]);
        let body = &bytes[at + 8..(at + 8 + length).min(bytes.len())];
        match &bytes[at..at + 4] {
            b"fmt " => format = Some(body),
            b"data" => data = Some(body),
            _ => {}
        }
        at += 8 + length + length % 2;
    }
    let (format, data) = (format.expect("a format"), data.expect("samples"));
    let (tag, count, rate) = (number(&format[..2]), number(&format[2..4]), number(&format[4..8]));
    let bits = number(&format[14..16]);
    let tag = if tag == 0xFFFE { number(&format[24..26]) } else { tag };
    let sample = |bytes: &[u8]| match (tag, bits) {
        (3, 32) => f64::from(f32::from_le_bytes(bytes.try_into().expect("four bytes"))),
        (1, 16) => f64::from(i16::from_le_bytes(bytes.try_into().expect("two bytes"))) / 32_768.0,
        (1, 24) => f64::from(i32::from_le_bytes([0, bytes[0], bytes[1], bytes[2]])) / 2_147_483_648.0,
        _ => panic!("format {tag} with {bits} bits is not known"),
    };
    let width = bits / 8;
    let mut channels = vec![Vec::new(); count];
    for frame in data.chunks_exact(width * count) {
        for (channel, bytes) in channels.iter_mut().zip(frame.chunks_exact(width)) {
            channel.push(sample(bytes));
        }
    }
    (u32::try_from(rate).expect("a rate"), channels)
}

/// Clicks, three a second, each of one sample.
fn clicks(frames: usize) -> Vec<f64> {
    (0..frames).map(|n| if n % 14_983 == 1_200 { 0.9 } else { 0.0 }).collect()
}

/// A bright tonal source: harmonics to 16 kHz with vibrato, a new note every 0.2 s.
fn notes(frames: usize, rate: f64) -> Vec<f64> {
    let mut noise = Noise::new(31);
    let mut out = vec![0.0; frames];
    let note = rate / 5.0;
    let mut hz = 220.0;
    let mut phase = 0.0;
    for (n, slot) in out.iter_mut().enumerate() {
        let into = n as f64 % note;
        if into < 1.0 {
            hz = 110.0 * 2.0_f64.powf(2.0 * noise.uniform());
        }
        let now = hz * (1.0 + 0.006 * (2.0 * PI * 5.5 * n as f64 / rate).sin());
        phase = (phase + now / rate) % 1.0;
        let mut partial = 1.0;
        while partial * now < 16_000.0 {
            *slot += 0.1 / partial * (2.0 * PI * partial * phase).sin();
            partial += 1.0;
        }
        *slot *= (-into / rate / 0.25).exp();
    }
    out
}

fn secs(outcome: Result<Found, CannotTell>) -> Option<f64> {
    outcome.ok().map(|found| found.delay_secs)
}

#[test]
fn sources_through_measured_ears() {
    let Some(bytes) = file() else { return };
    let (rate_hz, channels) = channels(&bytes);
    assert_eq!(channels.len(), 720, "two ears, 360 directions");
    let rate = f64::from(rate_hz);
    let mut with = Correlator::new(SampleRate::new(rate_hz).expect("a rate that can be measured"));
    let frames = with.window_samples();
    let sources = [
        ("noise", Noise::new(41).white(frames, 0.1)),
        ("clicks", clicks(frames)),
        ("notes", notes(frames, rate)),
    ];
    let mut cases = Cases::new("measured ears: within one sample at 48 kHz of the responses alone");
    for azimuth in (15..=75).step_by(5).chain((285..=345).step_by(5)) {
        let ears = [&channels[2 * azimuth], &channels[2 * azimuth + 1]];
        let alone = ears.map(|ear| {
            let mut padded = vec![0.0; frames];
            padded[frames / 2..frames / 2 + ear.len()].copy_from_slice(ear);
            padded
        });
        let window = compared(&mut with, &alone[0], &alone[1]);
        let expected = window.peak.map_or(f64::NAN, |peak| peak.0);
        print!("{azimuth}°: {:.2} samples, {:?};", expected * 48_000.0, window.rival);
        for (kind, source) in &sources {
            let heard = ears.map(|ear| convolved(source, ear));
            let window = compared(&mut with, &heard[0], &heard[1]);
            let found = secs(window.outcome);
            print!(" {kind} {:.2?} {:.2?}", window.peak.map(|p| p.0 * 48_000.0), window.rival);
            cases.near(format!("{azimuth}°, {kind}"), found, expected, 1.0 / 48_000.0);
        }
        println!();
    }
    cases.end(78);
}
