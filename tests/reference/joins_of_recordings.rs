//! Joins between real recordings: the CC0 sounds of 5 s and more in the Debian package `sonic-pi-samples`, cut together
//! at equal level, in every order. The test prints how many joins are found, and how many found ones are false.
//!
//! Some of these recordings were used to find the detector's weights, so this does not show how well it does elsewhere
//! (docs/decisions.md, 66); it only guards the present result.

use crate::recordings::{decoded, recording};
use crate::rig::measured;
use plumbline_programme::JoinDetector;
use std::path::PathBuf;

/// Seconds taken of each recording.
const SECS: usize = 5;
/// Largest error of a found join, s (the window of mir_eval.segment).
const HIT_SECS: f64 = 0.5;
/// Level of all parts.
const RMS: f64 = 0.05;

type Stereo = [Vec<f64>; 2];

/// Each recording that is long enough, twice: its first and its last seconds.
fn parts() -> Option<(u32, Vec<[Stereo; 2]>)> {
    let folder = recording("ambi_drone")?;
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder.parent().expect("a folder"))
        .expect("the package's folder")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "flac"))
        .collect();
    paths.sort();
    let mut rate_hz = 0;
    let mut all = Vec::new();
    for path in paths {
        let (rate, channels) = decoded(&path);
        let length = SECS * rate as usize;
        if channels[0].len() < length || (rate_hz != 0 && rate != rate_hz) {
            continue;
        }
        rate_hz = rate;
        let both = |from: usize| {
            let cut = |side: &Vec<f64>| side[from..from + length].to_vec();
            levelled([cut(&channels[0]), cut(channels.get(1).unwrap_or(&channels[0]))])
        };
        all.push([both(0), both(channels[0].len() - length)]);
    }
    Some((rate_hz, all))
}

fn levelled(sound: Stereo) -> Stereo {
    let power: f64 = sound.iter().flatten().map(|x| x * x).sum::<f64>() / (2 * sound[0].len()) as f64;
    let gain = RMS / power.sqrt().max(1e-9);
    sound.map(|side| side.iter().map(|x| x * gain).collect())
}

/// Seconds at which joins are found.
fn joins(rate_hz: u32, sound: &Stereo) -> Vec<f64> {
    let mut detector = JoinDetector::new();
    measured(rate_hz, &sound.each_ref().map(Vec::as_slice))
        .tenths
        .iter()
        .for_each(|tenth| detector.push(tenth));
    detector.end();
    detector.joins().iter().map(|join| join.at as f64 / 10.0).collect()
}

/// Two sounds in a row, with an equal-power crossfade over some samples.
fn joined(one: &Stereo, other: &Stereo, fade: usize) -> Stereo {
    [0, 1].map(|side| {
        let (one, other) = (&one[side], &other[side]);
        let (kept, out) = one.split_at(one.len() - fade);
        let (into, rest) = other.split_at(fade);
        let faded = out.iter().zip(into).enumerate().map(|(n, (out, into))| {
            let (sine, cosine) = (std::f64::consts::FRAC_PI_2 * (n as f64 + 0.5) / fade as f64).sin_cos();
            out * cosine + into * sine
        });
        kept.iter().copied().chain(faded).chain(rest.iter().copied()).collect()
    })
}

#[test]
fn cuts_between_recordings_are_found_and_little_else() {
    let Some((rate_hz, parts)) = parts() else { return };
    let count = parts.len();
    assert!(count >= 12, "{count} recordings");
    let (mut found, mut made, mut beside) = (0, 0, 0);
    for secs in [0.0, 0.05, 0.5] {
        let (mut hits, mut all) = (0, 0);
        for at in 0..count {
            let other = (at + 1 + all % (count - 1)) % count;
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "samples")]
            let fade = (secs * f64::from(rate_hz)) as usize;
            let times = joins(rate_hz, &joined(&parts[at][1], &parts[other][0], fade));
            let cut = SECS as f64 - secs / 2.0;
            let near = times.iter().filter(|time| (*time - cut).abs() <= HIT_SECS).count();
            hits += usize::from(near > 0);
            beside += times.len() - near;
            all += 1;
        }
        println!("fades of {secs} s: {hits} of {all} found");
        (found, made) = (found + hits, made + all);
    }
    let plain: usize = parts.iter().flatten().map(|part| joins(rate_hz, part).len()).sum();
    let minutes = (2 * count * SECS) as f64 / 60.0;
    println!("{found} of {made} found; {beside} beside them; {plain} in {minutes:.1} min without a join");
    // Many recordings are swells, tails and music, between which the detector finds fewer joins than between ambiences.
    assert!(2 * found >= made, "{found} of {made}");
    assert!(
        5 * beside <= made && plain as f64 <= 0.5 * minutes + 1.0,
        "{beside} beside, {plain} in {minutes} min"
    );
}
