//! The report of a small programme, compared with a stored one.

use crate::files::{RATE, Wav, noise, tone, wav};
use crate::rig::{Ran, TempDir, plumbline};
use plumbline_tests::formats::check;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// The variable that rewrites the stored files.
const UPDATE: &str = "UPDATE_SNAPSHOTS";
/// Tolerance of numbers, relative or absolute: sums differ slightly if a processor adds in another order, and a report
/// rounds them to three decimals or more.
const ROUNDING: f64 = 2e-3;

fn kept(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("survey/snapshots").join(name)
}

/// 8 s: noise in two microphones 3 ms apart, a bell under it, steps from 4 s on, and a mix of them that clips.
fn programme(folder: &TempDir) {
    let frames = 8 * RATE as usize;
    let strokes = noise(21, frames, 0.05);
    let late = 3 * RATE as usize / 1_000;
    let boom: Vec<f64> = (0..frames).map(|n| if n < late { 0.0 } else { strokes[n - late] * 0.8 }).collect();
    let steps: Vec<f64> = noise(22, frames, 0.25)
        .iter()
        .enumerate()
        .map(|(n, x)| if n < 4 * RATE as usize { 0.0 } else { *x })
        .collect();
    let bell = tone(660.0, frames, 0.05);
    let mix = |side: usize| -> Vec<f64> {
        (0..frames)
            .map(|n| {
                let sum = (strokes[n] + boom[n]) * std::f64::consts::FRAC_1_SQRT_2 + steps[n] + bell[n];
                // 30 samples at full scale in the left channel, 6 s in.
                let clipped = side == 0 && (288_000..288_030).contains(&n);
                if clipped { 0.999_99 } else { sum }
            })
            .collect()
    };
    let at = Wav { time_reference: Some(3_600 * u64::from(RATE)), ..Wav::default() };
    folder.file("lavalier.wav", &at.bytes(std::slice::from_ref(&strokes)));
    folder.file("boom.wav", &at.bytes(std::slice::from_ref(&boom)));
    folder.file("steps.wav", &at.bytes(&[steps.clone(), steps.clone()]));
    folder.file("bell.wav", &wav(&[bell.clone(), bell.clone()]));
    folder.file("mix.wav", &at.bytes(&[mix(0), mix(1)]));
}

/// The first place where two reports differ by more than rounding.
fn difference(at: &str, kept: &Value, now: &Value) -> Option<String> {
    match (kept, now) {
        (Value::Object(a), Value::Object(b)) => {
            let names = |object: &serde_json::Map<String, Value>| object.keys().cloned().collect::<Vec<_>>();
            if names(a) != names(b) {
                return Some(format!("{at}: fields {:?}, and {:?} now", names(a), names(b)));
            }
            a.iter().find_map(|(name, value)| difference(&format!("{at}.{name}"), value, &b[name]))
        }
        (Value::Array(a), Value::Array(b)) => {
            if a.len() != b.len() {
                return Some(format!("{at}: {} entries, and {} now", a.len(), b.len()));
            }
            a.iter().zip(b).enumerate().find_map(|(n, (a, b))| difference(&format!("{at}[{n}]"), a, b))
        }
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = (a.as_f64()?, b.as_f64()?);
            ((a - b).abs() > ROUNDING * a.abs().max(1.0)).then(|| format!("{at}: {a}, and {b} now"))
        }
        _ => (kept != now).then(|| format!("{at}: {kept}, and {now} now")),
    }
}

#[test]
fn a_small_programme_is_reported_as_it_was() {
    let folder = TempDir::new();
    programme(&folder);
    let words = "survey --natural lavalier.wav boom.wav --foley steps.wav --layer bell=music:bell.wav --mix mix.wav --aim \
                 natural=60±10 --out report";
    let ran =
        plumbline().args(words.split(' ')).current_dir(folder.path("")).output().expect("the command starts");
    let ran = Ran::of(ran).ended_with(0);
    let mut report = folder.json("report/report.json");
    assert!(report["date"].is_string(), "the moment of the report is in it");
    let others = [
        ("/format", Some(json!("plumbline-mics"))),
        ("/bus/width_percent", None),
        ("/bus/loudness/integrated_lufs", Some(json!("-23"))),
        ("/findings/0/severity", Some(json!("bad"))),
        ("/findings/0/start", None),
        ("/layers/0/thirds/0/level_dbfs", Some(json!("-60"))),
        ("/pairs/0/read_at/sample", Some(json!(0.5))),
        ("/verdicts/0/state", Some(json!("good"))),
    ];
    check("plumbline-survey", &report, &others);
    report["date"] = Value::Null;
    report["plumbline_version"] = json!("");
    let said = ran.stdout.replace('\\', "/");
    if std::env::var_os(UPDATE).is_some() {
        let text = serde_json::to_string_pretty(&report).expect("plain data") + "\n";
        for (name, text) in [
            ("report.json", text),
            ("findings.csv", folder.text("report/findings.csv")),
            ("joins.csv", folder.text("report/joins.csv")),
            ("said.txt", said),
        ] {
            std::fs::create_dir_all(kept("")).expect("a folder");
            std::fs::write(kept(name), text).expect("the compared file");
        }
        return;
    }
    let old = |name: &str| {
        std::fs::read_to_string(kept(name)).unwrap_or_else(|_| panic!("no {name}; {UPDATE}=1 makes it"))
    };
    if let Some(difference) = difference("report", &crate::rig::json(&old("report.json")), &report) {
        panic!("{difference}; look at it, then set {UPDATE}=1 to keep it");
    }
    assert_eq!(folder.text("report/findings.csv"), old("findings.csv"));
    assert_eq!(folder.text("report/joins.csv"), old("joins.csv"));
    assert_eq!(said, old("said.txt"));
}

/// The same files give the same report, except for its date, whatever the number of threads.
#[test]
fn a_report_does_not_depend_on_threads() {
    let folder = TempDir::new();
    programme(&folder);
    let report = |threads: &str| {
        let words = "survey --natural lavalier.wav boom.wav --foley steps.wav --mix mix.wav --json - --quiet --threads";
        let words = words.split(' ').chain([threads]);
        let ran = plumbline().args(words).current_dir(folder.path("")).output().expect("the command starts");
        let mut report = crate::rig::json(&Ran::of(ran).ended_with(0).stdout);
        report["date"] = Value::Null;
        report
    };
    let one = report("1");
    assert_eq!(one["layers"].as_array().expect("layers").len(), 3);
    assert_eq!(one, report("2"));
    assert_eq!(one, report("7"));
}

#[test]
fn differences_are_seen() {
    let old = serde_json::json!({ "a": [1.0, { "b": null }], "c": "x" });
    assert_eq!(difference("r", &old, &old), None);
    for (new, place) in [
        (serde_json::json!({ "a": [1.01, { "b": null }], "c": "x" }), "r.a[0]"),
        (serde_json::json!({ "a": [1.0, { "b": 0.0 }], "c": "x" }), "r.a[1].b"),
        (serde_json::json!({ "a": [1.0], "c": "x" }), "r.a"),
        (serde_json::json!({ "a": [1.0, { "b": null }], "c": "y" }), "r.c"),
        (serde_json::json!({ "a": [1.0, { "b": null }] }), "r"),
    ] {
        let found = difference("r", &old, &new).expect("they differ");
        assert!(found.starts_with(place), "{found}");
    }
}
