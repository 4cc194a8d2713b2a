//! Stereo with a stated technique: sound recorded that way contradicts nothing, and a contradiction is named.
//!
//! The formulas and their sources are those of [`techniques`](crate::techniques). Mid-side: left is M + S and right M −
//! S of a mid capsule of any pattern and a figure-eight across (S. P. Lipshitz, J. Audio Eng. Soc. 34(9), 1986; from
//! memory).

use crate::techniques::{FRAMES, RATE, SOUND, Stereo, diffuse, pair_of, panned, sources, sum, told_as};
use plumbline_programme::recording::{Contradiction, Recording, Technique};
use plumbline_programme::verdict::Width;
use plumbline_tests::cases::Cases;
use plumbline_tests::signal::Noise;
use plumbline_tests::sources::voice;

fn stated(technique: Technique) -> Recording {
    Recording { technique, ..Recording::default() }
}

fn spaced(spacing_m: f64) -> Recording {
    Recording { technique: Technique::Spaced, spacing_m }
}

/// A mid cardioid and a side figure-eight, with sources at their angles.
fn mid_side(parts: &[(&[f64], f64)]) -> Stereo {
    let heard: Vec<Stereo> = parts
        .iter()
        .map(|(source, degrees)| {
            let angle = degrees.to_radians();
            let gains = [0.5 + 0.5 * angle.cos(), -angle.sin()];
            gains.map(|gain| source.iter().map(|x| gain * x).collect())
        })
        .collect();
    sum(&heard)
}

fn decoded([mid, side]: &Stereo) -> Stereo {
    let with = |sign: f64| mid.iter().zip(side).map(|(m, s)| m + sign * s).collect();
    [with(1.0), with(-1.0)]
}

/// A source at an RMS of 0.1.
fn levelled(source: &[f64]) -> Vec<f64> {
    let rms = (source.iter().map(|x| x * x).sum::<f64>() / source.len() as f64).sqrt();
    source.iter().map(|x| 0.1 * x / rms).collect()
}

fn inverted([left, right]: Stereo) -> Stereo {
    [left, right.iter().map(|x| -x).collect()]
}

/// The contradiction to the statement, in the words of a file; empty if there is none.
fn contradiction(stereo: &Stereo, recording: Recording) -> (String, f64, String, bool) {
    let told = told_as(stereo, recording);
    let (key, secs) = match told.verdicts.width {
        Width::Contradicts { contradiction, .. } => {
            let secs = match contradiction {
                Contradiction::FurtherApart { secs, .. } => secs,
                _ => 0.0,
            };
            (contradiction.key().to_owned(), secs)
        }
        _ => (String::new(), 0.0),
    };
    (key, secs, told.short(), told.accuses())
}

#[test]
fn what_was_recorded_as_stated_contradicts_nothing() {
    let mut cases = Cases::new("recorded as stated");
    let mut noise = Noise::new(1_934);
    let other = voice(&mut noise, FRAMES, RATE);
    let mut made: Vec<(String, Stereo, Recording)> = Vec::new();
    for (name, source) in &sources(&mut noise) {
        let two = |pattern, aim, metres| {
            sum(&[pair_of(source, -35.0, pattern, aim, metres), pair_of(&other, 25.0, pattern, aim, metres)])
        };
        made.push((
            format!("{name}, cardioids in one place"),
            two(0.5, 45.0, 0.0),
            stated(Technique::Coincident),
        ));
        let scene = mid_side(&[(&levelled(source), -40.0), (&levelled(&other), 30.0)]);
        made.push((format!("{name}, mid-side decoded"), decoded(&scene), stated(Technique::MidSide)));
        for metres in [0.17, 0.4, 0.8, 4.0] {
            made.push((
                format!("{name}, {metres} m"),
                pair_of(source, 35.0, 1.0, 0.0, metres),
                spaced(metres),
            ));
        }
        made.push((
            format!("{name}, ears"),
            pair_of(source, 60.0, 1.0, 0.0, 0.2),
            stated(Technique::Binaural),
        ));
        made.push((format!("{name}, panned"), panned(source, 20.0), stated(Technique::OneSound)));
    }
    for metres in [0.17, 0.4, 1.0] {
        made.push((format!("a diffuse field, {metres} m"), diffuse(&mut noise, metres), spaced(metres)));
    }
    let field = diffuse(&mut noise, 0.0);
    made.push(("a diffuse field in one place".to_owned(), field, stated(Technique::Coincident)));
    let count = made.len();
    for (name, stereo, recording) in made {
        let (contradiction, _, short, accuses) = contradiction(&stereo, recording);
        println!("{name}: {short}");
        cases.holds(format!("{name}: {short}"), contradiction.is_empty() && !accuses);
    }
    cases.end(count);
}

#[test]
fn what_was_not_recorded_as_stated_is_named() {
    let mut cases = Cases::new("not recorded as stated");
    let mut noise = Noise::new(1_958);
    let other = voice(&mut noise, FRAMES, RATE);
    let mut count = 0;
    let mut check =
        |name: String, stereo: &Stereo, recording: Recording, expected: &str, late: Option<f64>| {
            let (contradiction, secs, short, _) = contradiction(stereo, recording);
            println!("{name}: {contradiction} {short}");
            let near = late.is_none_or(|late| (secs / late - 1.0).abs() <= 0.12);
            cases.holds(format!("{name}: {short}"), contradiction == expected && near);
            count += 1;
        };
    for (name, source) in &sources(&mut noise) {
        let scene = mid_side(&[(&levelled(source), -40.0), (&levelled(&other), 35.0)]);
        check(
            format!("{name}, mid-side not decoded"),
            &scene,
            stated(Technique::MidSide),
            "not_decoded",
            None,
        );
        let late = |metres: f64| metres * f64::sin(35.0_f64.to_radians()) / SOUND;
        let apart = |metres: f64| pair_of(source, 35.0, 1.0, 0.0, metres);
        for (metres, recording) in
            [(0.4, stated(Technique::Coincident)), (0.4, stated(Technique::OneSound)), (2.0, spaced(0.17))]
        {
            check(
                format!("{name}, {metres} m apart"),
                &apart(metres),
                recording,
                "further_apart",
                Some(late(metres)),
            );
        }
    }
    let field = inverted(diffuse(&mut noise, 0.4));
    check("a diffuse field, one capsule inverted".to_owned(), &field, spaced(0.4), "capsule_inverted", None);
    let two = sum(&[diffuse(&mut noise, 0.17), pair_of(&other, 20.0, 1.0, 0.0, 0.17)]);
    check(
        "a voice in a field, one capsule inverted".to_owned(),
        &inverted(two),
        spaced(0.17),
        "capsule_inverted",
        None,
    );
    let field = diffuse(&mut noise, 1.0);
    check("a diffuse field".to_owned(), &field, stated(Technique::OneSound), "more_than_one_sound", None);
    cases.end(count);
}
