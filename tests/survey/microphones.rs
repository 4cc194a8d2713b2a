//! The command `plumbline mics`.

use crate::files::{RATE, Wav, noise, wav};
use crate::rig::{TempDir, json as parsed, run};
use plumbline_tests::formats::check;
use serde_json::{Value, json};

/// A sound, and a copy delayed by whole samples.
fn delayed(samples: usize) -> [Vec<f64>; 2] {
    let sound = noise(11, 6 * RATE as usize, 0.2);
    let late = std::iter::repeat_n(0.0, samples).chain(sound.iter().copied()).take(sound.len());
    [sound.clone(), late.collect()]
}

fn pairs(words: &[&str]) -> Vec<Value> {
    let ran = run(["mics", "--json", "-"].iter().chain(words)).ended_with(0);
    let report = parsed(&ran.stdout);
    let others = [
        ("/version", Some(json!(1))),
        ("/pairs/0/outcome", Some(json!("fight"))),
        ("/pairs/0/advice", None),
        ("/pairs/0/delay_ms", Some(json!("4.66"))),
        ("/programme/samples", Some(json!(-1))),
    ];
    check("plumbline-mics", &report, &others);
    report["pairs"].as_array().expect("pairs").clone()
}

#[test]
fn a_delay_is_found_and_said() {
    let folder = TempDir::new();
    let [near, far] = delayed(224);
    let a = folder.file("lavalier.wav", &wav(&[near]));
    let upside_down: Vec<f64> = far.iter().map(|x| -x).collect();
    let b = folder.file("boom.wav", &wav(&[upside_down]));
    let found = pairs(&[&a, &b]);
    assert_eq!(found.len(), 1);
    let pair = &found[0];
    assert_eq!([&pair["a"], &pair["b"]], ["lavalier", "boom"]);
    // A delay of whole samples in white noise is found to 0.01 sample.
    let samples = pair["delay_samples"].as_f64().expect("a delay");
    assert!((samples - 224.0).abs() < 0.01, "{pair}");
    assert_eq!(pair["polarity"], "inverted");
    let said = run(["mics", &a, &b]).ended_with(0);
    assert!(said.stdout.contains("lavalier") && said.stdout.contains("224"), "{}", said.stdout);
    assert_eq!(said.stdout.lines().count(), 1);
    assert!(run(["mics", &a, &b, "--quiet"]).ended_with(0).stdout.is_empty());
}

#[test]
fn channels_of_one_file_are_microphones() {
    let folder = TempDir::new();
    let [near, far] = delayed(48);
    let other = noise(12, near.len(), 0.2);
    let names = ["lav", "boom", "spare"].map(str::to_owned).to_vec();
    let file =
        folder.file("take.wav", &Wav { names, ..Wav::default() }.bytes(&[near.clone(), far.clone(), other]));
    let all = pairs(&[&file]);
    assert_eq!(all.len(), 3, "each with each");
    let pair = all.iter().find(|p| p["a"] == "take lav" && p["b"] == "take boom").expect("the pair");
    assert!((pair["delay_samples"].as_f64().expect("a delay") - 48.0).abs() < 0.01, "{pair}");
    let two = pairs(&[&format!("{file}#2"), &format!("{file}#1")]);
    assert!((two[0]["delay_samples"].as_f64().expect("a delay") + 48.0).abs() < 0.01, "{}", two[0]);
    // A stereo file alone: left with right.
    let stereo = folder.file("room.wav", &wav(&[near, far]));
    let sides = pairs(&[&stereo]);
    assert!((sides[0]["delay_samples"].as_f64().expect("a delay") - 48.0).abs() < 0.01, "{}", sides[0]);
}
