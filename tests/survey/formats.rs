//! All supported formats, and the place of their sound in time.

use crate::files::{Coding, RATE, Wav, flac16, noise, tone, wav};
use crate::rig::{TempDir, run};
use serde_json::Value;

/// Seconds of sound in most tests here.
const SECS: usize = 4;

fn stereo() -> Vec<Vec<f64>> {
    let frames = SECS * RATE as usize;
    let common = tone(440.0, frames, 0.2);
    let side = |seed| {
        let own = noise(seed, frames, 0.1);
        common.iter().zip(own).map(|(a, b)| a + b).collect()
    };
    vec![side(1), side(2)]
}

/// The measurements of a report, without the fields about its input.
fn measured(mut report: Value) -> Value {
    report["date"] = Value::Null;
    report["bus"]["files"] = Value::Null;
    report
}

#[test]
fn one_sound_reads_the_same_from_every_container() {
    let folder = TempDir::new();
    let sound = stereo();
    let rf64 = Wav { rf64: true, ..Wav::default() };
    let files = [
        folder.file("plain.wav", &wav(&sound)),
        folder.file("rf64.wav", &rf64.bytes(&sound)),
        folder.file("same.flac", &flac16(&sound)),
    ];
    let reports: Vec<Value> = files
        .iter()
        .enumerate()
        .map(|(at, file)| {
            let out = folder.word(&format!("out{at}"));
            run(["survey", "--mix", file, "--out", &out]).ended_with(0);
            measured(folder.json(&format!("out{at}/report.json")))
        })
        .collect();
    assert_eq!(reports.len(), 3);
    assert_eq!(reports[0]["format"], "plumbline-survey");
    assert_eq!(reports[0]["programme"]["seconds"], SECS as f64);
    assert!(reports[0]["bus"]["loudness"]["integrated_lufs"].is_f64(), "{}", reports[0]["bus"]);
    assert_eq!(reports[0], reports[1], "RF64 holds the same samples");
    assert_eq!(reports[0], reports[2], "FLAC holds the same samples");
}

#[test]
fn more_bits_read_the_same_to_their_rounding() {
    let folder = TempDir::new();
    let sound = stereo();
    let mut levels = Vec::new();
    for (name, coding) in [("16", Coding::Pcm16), ("24", Coding::Pcm24), ("float", Coding::Float32)] {
        let file = folder.file(&format!("{name}.wav"), &Wav { coding, ..Wav::default() }.bytes(&sound));
        let ran = run(["survey", "--mix", &file, "--json", "-"]).ended_with(0);
        let report = crate::rig::json(&ran.stdout);
        levels.push(report["bus"]["loudness"]["integrated_lufs"].as_f64().expect("loudness"));
    }
    assert_eq!(levels.len(), 3);
    // Rounding to 16 bits adds noise 98 dB below full scale; this sound is 16 dB below it, so its energy changes by
    // 1e-8.
    for level in &levels {
        assert!((level - levels[0]).abs() < 0.01, "{levels:?}");
    }
}

#[test]
fn a_time_reference_is_the_timecode_and_the_place_on_the_line() {
    let folder = TempDir::new();
    let second = RATE as usize;
    // 10:00:00:00 at 25 frames a second, and two seconds after it.
    let at = |samples: u64| Wav { time_reference: Some(samples), ..Wav::default() };
    let ten = 10 * 3_600 * u64::from(RATE);
    let first = folder.file("boom.wav", &at(ten).bytes(&[tone(440.0, 3 * second, 0.2)]));
    let later =
        folder.file("steps.wav", &at(ten + 2 * u64::from(RATE)).bytes(&[tone(880.0, 3 * second, 0.2)]));
    let out = folder.word("out");
    run(["survey", "--natural", &first, "--foley", &later, "--out", &out, "--tenths"]).ended_with(0);
    let report = folder.json("out/report.json");
    assert_eq!(report["programme"]["seconds"], 5.0);
    assert_eq!(report["programme"]["start_timecode"], "10:00:00:00");
    assert_eq!(report["layers"][1]["files"][0]["start"]["seconds"], 2.0);
    let tenths = folder.text("out/tenths.csv");
    let sounding = |layer: &str, index: usize| {
        let line =
            tenths.lines().find(|line| line.starts_with(&format!("{layer},{index},"))).expect("a line");
        // The K-weighted level of the tenth alone: unlike those of spectra, its window does not reach into its
        // neighbours.
        let level = line.split(',').nth(5).expect("a level");
        level.parse::<f64>().is_ok_and(|lufs| lufs > -70.0)
    };
    assert_eq!([10, 19, 20, 45].map(|tenth| sounding("steps", tenth)), [false, false, true, true]);
    assert_eq!([10, 25, 45].map(|tenth| sounding("boom", tenth)), [true, true, false]);
    // The user's start takes precedence over the file's.
    let out = folder.word("told");
    let words = ["--start", "01:00:00:00", "--frame-rate", "29.97df"];
    run(["survey", "--natural", &first, "--out", &out].iter().chain(&words)).ended_with(0);
    let report = folder.json("told/report.json");
    assert_eq!(report["programme"]["start_timecode"], "01:00:00;00");
}

#[test]
fn each_channel_of_a_field_recorder_is_a_microphone() {
    let folder = TempDir::new();
    let frames = 2 * RATE as usize;
    let names = ["boom", "lav mason", "room"].map(str::to_owned).to_vec();
    let sound: Vec<Vec<f64>> = (0..3).map(|n| noise(n, frames, 0.1 / (n + 1) as f64)).collect();
    let file = folder.file("take7.wav", &Wav { names, ..Wav::default() }.bytes(&sound));
    let layers = |words: &[&str]| -> Vec<String> {
        let ran = run(["survey", "--json", "-"].iter().chain(words)).ended_with(0);
        let report = crate::rig::json(&ran.stdout);
        let layers = report["layers"].as_array().expect("layers");
        layers.iter().map(|layer| layer["name"].as_str().expect("a name").to_owned()).collect()
    };
    assert_eq!(layers(&["--natural", &file]), ["take7 boom", "take7 lav mason", "take7 room"]);
    assert_eq!(
        layers(&["--natural", &format!("{file}#3"), "--foley", &format!("{file}#1+2")]),
        ["take7 3", "take7 1+2"]
    );
    assert_eq!(layers(&["--layer", &format!("all=natural:{file}")]), ["all"]);
    run(["survey", "--mix", &file, "--json", "-"]).ended_with(3).said_in_one_line(&["take7.wav", "#1+2"]);
    run(["survey", "--natural", &format!("{file}#4"), "--json", "-"]).ended_with(3).said_in_one_line(&[
        "take7.wav",
        "4",
        "3",
    ]);
}

#[test]
fn layers_have_names_roles_faders_and_sums() {
    let folder = TempDir::new();
    let frames = 4 * RATE as usize;
    let n = folder.file("n.wav", &wav(&[noise(1, frames, 0.1)]));
    let f = folder.file("f.wav", &wav(&[noise(2, frames, 0.1)]));
    let g = folder.file("g.wav", &wav(&[noise(3, frames, 0.1)]));
    let report = |words: &[&str]| {
        crate::rig::json(&run(["survey", "--json", "-"].iter().chain(words)).ended_with(0).stdout)
    };
    let share = |report: &Value, at: usize| report["layers"][at]["share_percent"].as_f64().expect("a share");
    let even = report(&["--natural", &n, "--foley", &f]);
    assert_eq!([&even["layers"][0]["role"], &even["layers"][1]["role"]], ["Natural", "Foley"]);
    // Two noises of one level, 4 s: their energies differ by chance only, far less than 1 %.
    assert!((share(&even, 0) - 50.0).abs() < 1.0, "{}", share(&even, 0));
    // 6.0206 dB is a factor of four: one to four is 20 %.
    let faded = report(&["--natural", &n, "--foley", &f, "--gain", "n=-6.0206"]);
    assert!((share(&faded, 0) - 20.0).abs() < 0.7, "{}", share(&faded, 0));
    // Two of three files in one layer.
    let layer = |file: &str| format!("place=natural:{file}");
    let summed = report(&["--layer", &layer(&n), &layer(&g), "--foley", &f]);
    let names: Vec<&Value> =
        summed["layers"].as_array().expect("layers").iter().map(|l| &l["name"]).collect();
    assert_eq!(names, ["f", "place"]);
    assert_eq!(summed["layers"][1]["files"].as_array().expect("files").len(), 2);
    assert!((share(&summed, 1) - 66.7).abs() < 1.0, "{}", share(&summed, 1));
}

#[test]
fn different_rates_are_refused_or_resampled() {
    let folder = TempDir::new();
    let at = |rate: u32| Wav { rate, ..Wav::default() }.bytes(&[tone(440.0, rate as usize, 0.2)]);
    let (a, b) = (folder.file("a.wav", &at(48_000)), folder.file("b.wav", &at(44_100)));
    let out = folder.word("out");
    let words = ["survey", "--natural", &a, "--foley", &b, "--out", &out];
    run(words).ended_with(3).said_in_one_line(&["a.wav", "48000", "b.wav", "44100", "--resample"]);
    assert_eq!(folder.names(""), ["a.wav", "b.wav"]);
    run(words.iter().chain(&["--resample", "48000"])).ended_with(0);
    assert_eq!(folder.json("out/report.json")["programme"]["sample_rate_hz"], 48_000);
}
