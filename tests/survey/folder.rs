//! The folder of the report: a whole set or nothing, and no other file is touched.

use crate::files::{noise, tone, wav};
use crate::rig::{TempDir, did_not_run, is_root, run};

const SET: [&str; 4] = ["findings.csv", "joins.csv", "report.html", "report.json"];

fn short_mix(folder: &TempDir) -> String {
    let side = |seed| noise(seed, 2 * 48_000, 0.1);
    folder.file("mix.wav", &wav(&[side(1), side(2)]))
}

#[test]
fn the_set_is_what_was_asked_for_and_no_more() {
    let folder = TempDir::new();
    let mix = short_mix(&folder);
    let before = std::fs::read(&mix).expect("the mix");
    let out = folder.word("out");
    let ran = run(["survey", "--mix", &mix, "--out", &out]).ended_with(0);
    assert_eq!(folder.names("out"), SET);
    assert_eq!(folder.names(""), ["mix.wav", "out"]);
    assert!(ran.stdout.contains("report.html") && ran.stderr.is_empty(), "{ran:?}");
    let whole = folder.word("whole");
    run(["survey", "--mix", &mix, "--out", &whole, "--tenths", "--cue", "--quiet"]).ended_with(0);
    assert_eq!(
        folder.names("whole"),
        ["findings.csv", "joins.csv", "mix-cues.wav", "report.html", "report.json", "tenths.csv"]
    );
    // 2 s are 20 tenths below a header line.
    assert_eq!(folder.text("whole/tenths.csv").lines().count(), 21);
    assert_eq!(std::fs::read(&mix).expect("the mix"), before, "an input is never touched");
}

#[test]
fn quiet_says_nothing_and_a_pipe_sees_no_bar() {
    let folder = TempDir::new();
    let mix = short_mix(&folder);
    let ran = run(["survey", "--mix", &mix, "--out", &folder.word("a"), "--quiet"]).ended_with(0);
    assert_eq!((ran.stdout.as_str(), ran.stderr.as_str()), ("", ""));
    let ran = run(["survey", "--mix", &mix, "--out", &folder.word("b")]).ended_with(0);
    for text in [&ran.stdout, &ran.stderr] {
        assert!(!text.contains('\r') && !text.contains('\u{1b}'), "{text}");
    }
}

#[test]
fn an_earlier_report_stays_until_it_is_to_be_replaced() {
    let folder = TempDir::new();
    let mix = short_mix(&folder);
    let out = folder.word("out");
    run(["survey", "--mix", &mix, "--out", &out, "--tenths"]).ended_with(0);
    folder.file("out/notes.txt", b"of the mason");
    let first = folder.text("out/report.json");
    let other = folder.file("other.wav", &wav(&[tone(997.0, 48_000, 0.1)]));
    let ran = run(["survey", "--mix", &other, "--out", &out]).ended_with(4);
    ran.said_in_one_line(&["report.json", "--replace"]);
    assert_eq!(folder.text("out/report.json"), first);
    run(["survey", "--mix", &other, "--out", &out, "--replace"]).ended_with(0);
    assert_ne!(folder.text("out/report.json"), first);
    // The tenths of the first report must not pass for those of the second.
    let mut names = SET.map(str::to_owned).to_vec();
    names.insert(2, "notes.txt".to_owned());
    assert_eq!(folder.names("out"), names);
    // A failure leaves the earlier report unchanged.
    let second = folder.text("out/report.json");
    run(["survey", "--mix", &folder.word("no.wav"), "--out", &out, "--replace"]).ended_with(3);
    assert_eq!((folder.text("out/report.json"), folder.names("out")), (second, names));
}

#[test]
fn a_folder_that_cannot_be_had_is_told_in_one_line() {
    let folder = TempDir::new();
    let mix = short_mix(&folder);
    let file = folder.file("file", b"x");
    for (out, words) in [
        (file.clone(), &["file", "is a file"][..]),
        (format!("{file}/below"), &["below", "--out"]),
        (folder.word("no/such"), &["no/such", "make the folder"]),
    ] {
        run(["survey", "--mix", &mix, "--out", &out]).ended_with(4).said_in_one_line(words);
        assert_eq!(folder.names(""), ["file", "mix.wav"]);
    }
}

#[cfg(unix)]
#[test]
fn a_folder_that_may_not_be_written_to_is_told_in_one_line() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = TempDir::new();
    let mix = short_mix(&folder);
    if is_root() {
        return did_not_run("the superuser may write anywhere");
    }
    let out = folder.word("locked");
    std::fs::create_dir(&out).expect("ours");
    std::fs::set_permissions(&out, std::fs::Permissions::from_mode(0o555)).expect("ours");
    run(["survey", "--mix", &mix, "--out", &out]).ended_with(4).said_in_one_line(&["locked", "--out"]);
    assert!(folder.names("locked").is_empty());
}

#[test]
fn an_input_is_never_replaced() {
    let folder = TempDir::new();
    std::fs::create_dir(folder.path("out")).expect("ours");
    let mix = folder.file("out/mix-cues.wav", &wav(&[tone(997.0, 48_000, 0.1)]));
    let before = std::fs::read(&mix).expect("the mix");
    let words = ["survey", "--mix", &mix, "--out", &folder.word("out"), "--replace", "--cue"];
    run(words).ended_with(4).said_in_one_line(&["mix-cues.wav", "is an input"]);
    assert_eq!(std::fs::read(&mix).expect("the mix"), before);
    assert_eq!(folder.names("out"), ["mix-cues.wav"]);
}

/// A disk smaller than the report.
#[cfg(target_os = "linux")]
struct TinyDisk(std::path::PathBuf);

#[cfg(target_os = "linux")]
impl TinyDisk {
    fn mount(path: std::path::PathBuf, size: &str) -> Option<Self> {
        std::fs::create_dir(&path).expect("ours");
        let option = format!("size={size}");
        let mounted = std::process::Command::new("mount")
            .args(["-t", "tmpfs", "-o", &option, "tmpfs"])
            .arg(&path)
            .stderr(std::process::Stdio::null())
            .status();
        mounted.is_ok_and(|status| status.success()).then_some(Self(path))
    }
}

#[cfg(target_os = "linux")]
impl Drop for TinyDisk {
    fn drop(&mut self) {
        let _ = std::process::Command::new("umount").arg(&self.0).status();
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_leaves_the_earlier_report_and_nothing_half() {
    let folder = TempDir::new();
    let mix = short_mix(&folder);
    let Some(disk) = TinyDisk::mount(folder.path("disk"), "16k") else {
        return did_not_run("this user may not mount a small disk");
    };
    let out = folder.word("disk/out");
    run(["survey", "--mix", &mix, "--out", &out]).ended_with(4).said_in_one_line(&["out/", "make room"]);
    assert!(folder.names("disk").is_empty());
    // An earlier report, which still fits.
    std::fs::create_dir(&out).expect("room for a folder");
    std::fs::write(folder.path("disk/out/report.json"), "earlier").expect("room for a word");
    let ran = run(["survey", "--mix", &mix, "--out", &out, "--replace", "--tenths"]).ended_with(4);
    ran.said_in_one_line(&["out/", "make room"]);
    assert_eq!(
        (folder.names("disk/out"), folder.text("disk/out/report.json")),
        (vec!["report.json".into()], "earlier".into())
    );
    drop(disk);
}

#[test]
fn the_exit_code_follows_the_worst_finding() {
    let folder = TempDir::new();
    // A sine clipped at full scale: clipped, and over the ceiling.
    let loud = |hz| tone(hz, 4 * 48_000, 1.4).iter().map(|x: &f64| x.clamp(-1.0, 1.0)).collect::<Vec<f64>>();
    let clipped = folder.file("clipped.wav", &wav(&[loud(997.0), loud(997.0)]));
    let clean = short_mix(&folder);
    let grade = |file: &str, words: &[&str]| {
        let words = ["survey", "--mix", file, "--json", "-", "--quiet"]
            .iter()
            .chain(words)
            .copied()
            .collect::<Vec<_>>();
        let ran = run(&words);
        let report = crate::rig::json(&ran.stdout);
        let severities = report["findings"].as_array().expect("findings").iter();
        let severities: Vec<String> =
            severities.map(|f| f["severity"].as_str().expect("a word").to_owned()).collect();
        (ran.code, severities)
    };
    let (code, severities) = grade(&clipped, &[]);
    assert_eq!(code, Some(0), "without a limit findings are no failure");
    assert!(severities.contains(&"grave".to_owned()), "{severities:?}");
    for limit in ["slight", "clear", "grave"] {
        assert_eq!(grade(&clipped, &["--fail-on", limit]).0, Some(1), "{limit}");
    }
    let (code, severities) = grade(&clean, &["--fail-on", "slight"]);
    assert_eq!((code, severities), (Some(0), Vec::new()));
    // The report is written anyway.
    let out = folder.word("out");
    run(["survey", "--mix", &clipped, "--out", &out, "--fail-on", "slight"]).ended_with(1);
    assert_eq!(folder.names("out"), SET);
}
