//! Marks in and joins out: CSV, edit decision lists in the form CMX 3600 (from memory), and cue points.

use crate::files::{RATE, Wav, noise, wav};
use crate::rig::{Ran, TempDir, run};
use serde_json::Value;

/// Steady noise of 10 s that is 12 dB louder from 6 s on.
fn sound() -> Vec<Vec<f64>> {
    let side = |seed| {
        let mut side = noise(seed, 10 * RATE as usize, 0.05);
        side[6 * RATE as usize..].iter_mut().for_each(|sample| *sample *= 4.0);
        side
    };
    vec![side(1), side(2)]
}

/// A broadcast WAV that begins at 01:00:00:00.
fn mix(folder: &TempDir) -> String {
    let hour = Wav { time_reference: Some(3_600 * u64::from(RATE)), ..Wav::default() };
    folder.file("mix.wav", &hour.bytes(&sound()))
}

/// A survey of the mix with further words, and its report.
fn survey(folder: &TempDir, out: &str, words: &[&str]) -> (Ran, Value) {
    let mix = folder.word("mix.wav");
    let place = folder.word(out);
    let args = ["survey", "--mix", &mix, "--out", &place].into_iter().chain(words.iter().copied());
    let ran = run(args).ended_with(0);
    (ran, folder.json(&format!("{out}/report.json")))
}

/// Sample, name, and whether marked and found, of each join.
fn joins(report: &Value) -> Vec<(i64, Option<String>, bool, bool)> {
    let joins = report["joins"].as_array().expect("joins");
    let flag = |join: &Value, name: &str| join[name].as_bool().expect("a flag");
    let one = |join: &Value| {
        let name = join["name"].as_str().map(str::to_owned);
        (join["at"]["sample"].as_i64().expect("a sample"), name, flag(join, "marked"), flag(join, "found"))
    };
    joins.iter().map(one).collect()
}

fn named(name: &str) -> Option<String> {
    Some(name.to_owned())
}

#[test]
fn joins_are_measured_where_someone_cut() {
    let folder = TempDir::new();
    mix(&folder);
    let table = folder.file("cut.csv", "\u{feff}timecode,name\r\n01:00:03:01,rope\r\n".as_bytes());
    let list = "TITLE: BELL TOWER\nFCM: NON-DROP FRAME\n\
                001  AX  V  C        00:00:00:00 00:00:06:05 01:00:00:00 01:00:06:05\n\
                002  AX  V  C        00:00:00:00 00:00:00:00 01:00:06:05 01:00:06:05\n\
                002  AX  V  D    025 00:00:00:00 00:00:02:00 01:00:06:05 01:00:08:05\n\
                * TO CLIP NAME: bell\n";
    let list = folder.file("cut.edl", list.as_bytes());
    let (ran, report) = survey(&folder, "report", &["--marks", &table, &list]);
    assert_eq!(ran.stderr, "", "no mark is outside");
    // 76 and 155 frames of 1920 samples. The step at 6 s is 0.2 s from the second mark, so they are one join.
    let expected = [(76 * 1_920, named("rope"), true, false), (155 * 1_920, named("bell"), true, true)];
    assert_eq!(joins(&report), expected);
    assert_eq!(report["joins"][0]["at"]["timecode"], "01:00:03:01");
    assert_eq!(
        (&report["joins"][0]["transition_seconds"], &report["joins"][1]["transition_seconds"]),
        (&Value::Null, &1.0.into())
    );
    assert!(report["joins"][0]["before"]["loudness_lufs"].is_number(), "a mark is measured");
    assert!(report["joins"][0]["change"]["loudness_lu"].as_f64().expect("a change").abs() < 0.5);
    // 0.2 s of the 2 s before the mark are 12.04 dB louder: 10·lg((1.8 + 0.2·16)/2) = 3.98 dB.
    let change = report["joins"][1]["change"]["loudness_lu"].as_f64().expect("a change");
    assert!((change - (12.04 - 3.98)).abs() < 0.3, "{change}");
    assert!(
        folder.text("report/joins.csv").contains("rope")
            && folder.text("report/report.html").contains("rope")
    );
    plumbline_tests::formats::check(
        "plumbline-survey",
        &report,
        &[
            ("/joins/0/name", Some(serde_json::json!(3))),
            ("/joins/0/transition_seconds", Some(serde_json::json!("1"))),
        ],
    );
}

#[test]
fn what_goes_out_comes_in_again() {
    let folder = TempDir::new();
    mix(&folder);
    let table = folder.file("cut.csv", b"seconds,name\n2.00001,rope\n8.5,\n");
    for (rate, name) in [("25", "pal"), ("29.97df", "drop")] {
        let write = |ending: &str| folder.word(&format!("{name}/joins.{ending}"));
        let (csv, edl, wave) = (write("csv2.csv"), write("edl"), write("wav"));
        let words = ["--frame-rate", rate, "--marks", &table, "--write-marks", &csv, &edl, &wave];
        let (ran, first) = survey(&folder, name, &words);
        assert!(ran.stdout.contains(&format!("joins in {edl}")), "{}", ran.stdout);
        let all = joins(&first);
        assert_eq!(all.len(), 3, "two marks and a step: {all:?}");
        assert_eq!(all[0], (96_000, named("rope"), true, false));
        let labels = |report: &Value| -> Vec<Value> {
            report["joins"]
                .as_array()
                .expect("joins")
                .iter()
                .map(|join| join["at"]["timecode"].clone())
                .collect()
        };
        for (form, file) in [("csv", &csv), ("edl", &edl), ("wav", &wave), ("joins", &write("csv"))] {
            let out = format!("{name} from {form}");
            let (_, again) = survey(&folder, &out, &["--frame-rate", rate, "--marks", file]);
            let back = joins(&again);
            assert_eq!(labels(&again), labels(&first), "{out}");
            assert!(back.iter().all(|join| join.2), "each is a mark now: {back:?}");
            assert_eq!((back[0].1.as_deref(), back[2].1.as_deref()), (Some("rope"), None), "{out}");
            if form != "edl" {
                let samples = |joins: &[(i64, Option<String>, bool, bool)]| {
                    joins.iter().map(|join| join.0).collect::<Vec<_>>()
                };
                assert_eq!(samples(&back), samples(&all), "{out}: to the sample");
            }
        }
    }
    assert_eq!(
        folder.names("pal").iter().filter(|name| name.starts_with('.')).count(),
        0,
        "nothing is left over"
    );
}

#[test]
fn marks_outside_are_counted_and_all_outside_is_an_error() {
    let folder = TempDir::new();
    mix(&folder);
    let table = folder.file("cut.csv", b"timecode\n00:59:59:24\n01:00:03:00\n01:00:10:00\n01:00:20:00\n");
    let (ran, report) = survey(&folder, "report", &["--marks", &table]);
    assert_eq!(ran.stderr.matches('\n').count(), 1, "{}", ran.stderr);
    assert!(
        ran.stderr.contains("skipped 3 of 4 marks") && ran.stderr.contains("01:00:00:00 to 01:00:10:00"),
        "{}",
        ran.stderr
    );
    assert_eq!(joins(&report).iter().filter(|join| join.2).count(), 1);
    let (ran, _) = survey(&folder, "quiet", &["--marks", &table, "--quiet"]);
    assert_eq!(ran.stderr, "");
    let none = folder.file("none.csv", b"timecode\n10:00:03:00\n");
    let words = ["survey", "--mix", &folder.word("mix.wav"), "--out", &folder.word("no"), "--marks", &none];
    run(words).ended_with(3).said_in_one_line(&["none.csv", "01:00:00:00", "--start"]);
    // With the start from which the marks count, they are inside.
    let (_, report) = survey(&folder, "ten", &["--marks", &none, "--start", "10:00:00:00"]);
    assert_eq!(joins(&report)[0].0, 3 * i64::from(RATE));
}

#[test]
fn a_file_that_cannot_be_read_is_named_with_its_line() {
    let folder = TempDir::new();
    mix(&folder);
    let event = "001  AX  V  C  00:00:00:00 00:00:05:00 01:00:00:00 01:00:99:00";
    let cases: [(&str, &[u8], i32, &[&str]); 7] = [
        (
            "a.csv",
            b"timecode,name\n01:00:01:00,bell\n01:00:01:25,bell\n",
            3,
            &["line 3", "01:00:01:25", "frames to 24"],
        ),
        ("b.csv", b"place\n1\n", 3, &["line 1", "timecode or seconds"]),
        ("c.edl", event.as_bytes(), 3, &["line 1", "01:00:99:00"]),
        ("d.edl", b"TITLE: x\nFCM: DROP FRAME\n", 3, &["line 2", "29.97df"]),
        ("e.wav", b"no sound", 3, &["WAV"]),
        ("f.txt", b"01:00:00:00\n", 2, &[".csv", ".edl", ".wav"]),
        ("missing.csv", b"", 3, &["check that the file is there"]),
    ];
    let mut refused = 0;
    for (name, bytes, code, words) in cases {
        let file = folder.file(name, bytes);
        if name.starts_with("missing") {
            std::fs::remove_file(&file).expect("ours");
        }
        let before = folder.names("");
        let ran =
            run(["survey", "--mix", &folder.word("mix.wav"), "--out", &folder.word("out"), "--marks", &file]);
        ran.ended_with(code).said_in_one_line(&[&[name], words].concat());
        assert_eq!(folder.names(""), before, "{name}");
        refused += 1;
    }
    assert_eq!(refused, 7);
}

#[test]
fn nothing_is_overwritten_unless_it_may_be_replaced() {
    let folder = TempDir::new();
    let mix = mix(&folder);
    let stem = folder.file("stem.wav", &wav(&sound()));
    let cut = folder.file("cut.csv", b"seconds\n3\n");
    let old = folder.file("old.edl", b"kept");
    let out = folder.word("out");
    let inside = folder.word("out/Joins.csv");
    let (text, nowhere) = (folder.word("a.txt"), folder.word("no/a.edl"));
    let before = folder.names("");
    let cases: [(&[&str], i32, &[&str]); 8] = [
        (&["--mix", &mix, "--write-marks", &old], 4, &["old.edl", "--replace"]),
        (&["--mix", &mix, "--write-marks", &mix, "--replace"], 4, &["mix.wav", "input"]),
        (&["--mix", &mix, "--marks", &cut, "--write-marks", &cut, "--replace"], 4, &["cut.csv", "input"]),
        (&["--mix", &mix, "--write-marks", &inside], 2, &["Joins.csv", "the report has a file of that name"]),
        (&["--mix", &mix, "--write-marks", &text], 2, &["a.txt", ".edl"]),
        (&["--mix", &mix, "--write-marks", &nowhere], 4, &["a.edl", "folder"]),
        (&["--mix", &mix, "--write-marks", "x.csv", "x.csv"], 2, &["x.csv", "twice"]),
        (&["--natural", &stem, "--write-marks", "x.wav"], 2, &["--write-marks", "--mix"]),
    ];
    let mut refused = 0;
    for (words, code, said) in cases {
        let ran = run(["survey", "--out", &out].iter().chain(words));
        ran.ended_with(code).said_in_one_line(said);
        assert_eq!(folder.names(""), before, "{words:?}");
        refused += 1;
    }
    assert_eq!((refused, folder.text("old.edl").as_str()), (8, "kept"));
    run(["survey", "--mix", &mix, "--out", &out, "--write-marks", &old, "--replace"]).ended_with(0);
    assert!(
        folder.text("old.edl").starts_with("TITLE: mix\r\nFCM: NON-DROP FRAME\r\n"),
        "{}",
        folder.text("old.edl")
    );
    // A report never replaces the marks from which it was made.
    let ours = folder.word("out/joins.csv");
    let words = ["survey", "--mix", &mix, "--out", &out, "--marks", &ours, "--replace"];
    run(words).ended_with(4).said_in_one_line(&["joins.csv", "input"]);
}

#[cfg(unix)]
#[test]
fn a_pipe_is_refused_rather_than_waited_for() {
    let folder = TempDir::new();
    let mix = mix(&folder);
    for name in ["pipe.csv", "pipe.edl", "pipe.wav"] {
        let pipe = folder.word(name);
        let Ok(made) = std::process::Command::new("mkfifo").arg(&pipe).status() else {
            return crate::rig::did_not_run("there is no mkfifo");
        };
        assert!(made.success());
        run(["survey", "--mix", &mix, "--json", "-", "--marks", &pipe])
            .ended_with(3)
            .said_in_one_line(&[name]);
    }
}
