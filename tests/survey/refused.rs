//! Files that cannot be measured: one line that names the file, exit code 3, and nothing written.

use crate::files::{noise, tone, wav};
use crate::rig::{TempDir, run};

#[test]
fn a_file_that_cannot_be_measured_is_named_and_nothing_is_written() {
    let folder = TempDir::new();
    let good = wav(&[tone(440.0, 48_000, 0.2)]);
    let cases: [(&str, Option<Vec<u8>>, &str); 6] = [
        ("missing.wav", None, "no such file"),
        ("empty.wav", Some(Vec::new()), "empty"),
        ("text.wav", Some(b"the mason starts at eight\n".repeat(40)), "not a WAV"),
        ("cut.wav", Some(good[..good.len() / 2].to_vec()), "export it again"),
        ("header.wav", Some(good[..44].to_vec()), "again"),
        ("short.wav", Some(good[..20].to_vec()), "again"),
    ];
    let mut refused = 0;
    for (name, bytes, word) in cases {
        let file = match bytes {
            Some(bytes) => folder.file(name, &bytes),
            None => folder.word(name),
        };
        let before = folder.names("");
        // As the only file, and next to a valid one: in both cases the whole survey fails.
        let fine = folder.file("fine.wav", &good);
        let out = folder.word("out");
        for words in [&["--mix", &file][..], &["--natural", &fine, "--mix", &file]] {
            let ran = run(["survey", "--out", &out].iter().chain(words)).ended_with(3);
            ran.said_in_one_line(&[name, word]);
            refused += 1;
        }
        run(["mics", &fine, &file]).ended_with(3).said_in_one_line(&[name, word]);
        std::fs::remove_file(folder.path("fine.wav")).expect("ours");
        assert_eq!(folder.names(""), before, "{name}");
    }
    assert_eq!(refused, 12);
    let folder = folder.word("folder");
    std::fs::create_dir(&folder).expect("ours");
    run(["survey", "--mix", &folder, "--json", "-"]).ended_with(3).said_in_one_line(&["folder", "folder"]);
}

#[cfg(unix)]
#[test]
fn a_pipe_is_refused_rather_than_waited_for() {
    let folder = TempDir::new();
    let pipe = folder.word("pipe.wav");
    let Ok(made) = std::process::Command::new("mkfifo").arg(&pipe).status() else {
        return crate::rig::did_not_run("there is no mkfifo");
    };
    assert!(made.success());
    run(["survey", "--mix", &pipe, "--json", "-"]).ended_with(3).said_in_one_line(&["pipe.wav"]);
}

#[cfg(unix)]
#[test]
fn a_name_cannot_break_the_line_or_turn_the_terminal() {
    let folder = TempDir::new();
    let ran = run(["survey", "--mix", &folder.word("a\nb\u{1b}[31m.wav"), "--json", "-"]).ended_with(3);
    ran.said_in_one_line(&["no such file"]);
    assert!(!ran.stderr.contains('\u{1b}'), "{}", ran.stderr);
    // Bytes that are not UTF-8 are a valid name too.
    use std::os::unix::ffi::OsStrExt as _;
    let name = folder.path("").join(std::ffi::OsStr::from_bytes(b"b\xffll.wav"));
    std::fs::write(&name, wav(&[noise(1, 48_000, 0.1)])).expect("written");
    let words = ["survey", "--json", "-", "--natural"].map(std::ffi::OsString::from);
    let ran = run(words.into_iter().chain([name.into_os_string()])).ended_with(0);
    assert!(ran.stdout.contains("plumbline-survey"));
}

#[test]
fn sound_that_is_no_number_or_nothing_at_all_is_measured_as_such() {
    let folder = TempDir::new();
    let frames = 48_000;
    let mut broken = tone(440.0, frames, 0.2);
    (broken[5_000], broken[6_000]) = (f64::NAN, f64::INFINITY);
    let float = crate::files::Wav { coding: crate::files::Coding::Float32, ..Default::default() };
    let file = folder.file("nan.wav", &float.bytes(&[broken]));
    let report = crate::rig::json(&run(["survey", "--mix", &file, "--json", "-"]).ended_with(0).stdout);
    assert_eq!(report["bus"]["not_finite"], 2);
    let file = folder.file("silence.wav", &wav(&[vec![0.0; frames], vec![0.0; frames]]));
    let report = crate::rig::json(&run(["survey", "--mix", &file, "--json", "-"]).ended_with(0).stdout);
    let bus = &report["bus"];
    for name in ["correlation", "level_dbfs", "width_percent", "mono_loss_db"] {
        assert!(bus[name].is_null(), "{name}: {}", bus[name]);
    }
    assert!(bus["loudness"]["integrated_lufs"].is_null());
}
