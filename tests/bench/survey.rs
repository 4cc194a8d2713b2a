//! The cost of a survey of stems: processor time against real time, and memory against the length of the files.

use crate::{Line, noise};
use plumbline_tests::rig::command;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

/// Lengths of the shorter and the longer set in minutes.
const MINUTES: [u32; 2] = [10, 40];
/// Number of stems, each stereo.
const STEMS: usize = 4;
/// Clock ticks per second in `/proc`, the same on all supported Linux systems.
const TICKS: f64 = 100.0;

/// The cost of a survey.
struct Cost {
    /// Processor time, seconds.
    secs: f64,
    /// Peak memory, bytes.
    peak: f64,
}

/// Processor time of a survey on one thread, per stem.
pub(crate) fn speed() -> Line {
    let cost = survey(MINUTES[0]);
    let sound = f64::from(MINUTES[0]) * 60.0 * STEMS as f64;
    Line {
        what: "survey of a stereo stem, one thread",
        bound: "real time",
        found: 100.0 * cost.secs / sound,
        budget: 0.5,
        unit: "%",
        behind: format!(
            "{:.0} times as fast as {STEMS} stems play one after the other, {:.0} times as they play together; {:.1} s for \
             {} min of them and of their sum, files, pairs and report included",
            sound / cost.secs,
            sound / cost.secs / STEMS as f64,
            cost.secs,
            MINUTES[0]
        ),
    }
}

/// Memory of a long survey against a short one.
pub(crate) fn memory() -> Line {
    let [short, long] = MINUTES.map(survey);
    let mib = |bytes: f64| bytes / f64::from(1 << 20);
    Line {
        what: "memory of a survey, 40 min",
        bound: "that of 10 min",
        found: long.peak / short.peak,
        budget: 1.05,
        unit: "×",
        behind: format!("{:.1} MiB against {:.1}", mib(long.peak), mib(short.peak)),
    }
}

fn survey(minutes: u32) -> Cost {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let stems: Vec<PathBuf> = (0..STEMS).map(|stem| stem_file(folder.path(), stem, minutes)).collect();
    let out = folder.path().join("report");
    let mut command = Command::new(command::shipped().expect("the command is built"));
    command.args(["survey", "--quiet", "--threads", "1", "--out"]).arg(&out);
    for (role, stem) in ["--natural", "--foley", "--design", "--voice"].iter().zip(&stems) {
        command.arg(role).arg(stem);
    }
    let cost = watched(&mut command);
    let report = fs::read_to_string(out.join("report.json")).expect("a report");
    assert!(report.contains("\"plumbline-survey\""), "this is not a report");
    cost
}

/// A file of one minute of noise, repeated, different for each stem.
fn stem_file(folder: &Path, stem: usize, minutes: u32) -> PathBuf {
    let path = folder.join(format!("stem {stem}.wav"));
    let [left, right] = noise(61);
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: 48_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&path, spec).expect("a file");
    #[expect(clippy::cast_possible_truncation, reason = "16 bits are the purpose")]
    let sixteen = |sample: f32| (sample * 16_000.0) as i16;
    for _ in 0..minutes {
        // Far enough apart that the delay between any two stems is outside the search range.
        let part = stem * 12_000..stem * 12_000 + 48_000 * 60;
        for (l, r) in left[part.clone()].iter().zip(&right[part]) {
            writer.write_sample(sixteen(*l)).expect("room for the file");
            writer.write_sample(sixteen(*r)).expect("room for the file");
        }
    }
    writer.finalize().expect("room for the file");
    path
}

/// Runs a command and measures its cost.
fn watched(command: &mut Command) -> Cost {
    let mut child = command.stdin(Stdio::null()).spawn().expect("the command runs");
    let about = PathBuf::from(format!("/proc/{}", child.id()));
    let mut peak = 0.0_f64;
    let secs = loop {
        let status = fs::read_to_string(about.join("status")).unwrap_or_default();
        let high = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let kib = high.and_then(|rest| rest.trim().trim_end_matches("kB").trim().parse::<f64>().ok());
        peak = peak.max(kib.unwrap_or(0.0) * 1_024.0);
        // Linux: the bench reads times from /proc. They are final once a process has ended and is not yet waited for.
        let stat = fs::read_to_string(about.join("stat")).unwrap_or_default();
        let fields: Vec<&str> =
            stat.rsplit_once(')').map(|(_, rest)| rest.split_whitespace().collect()).unwrap_or_default();
        if matches!(fields.first(), None | Some(&"Z")) {
            let ticks = fields.get(11..13).unwrap_or_default().iter();
            break ticks.filter_map(|field| field.parse::<f64>().ok()).sum::<f64>() / TICKS;
        }
        std::thread::sleep(Duration::from_millis(20));
    };
    assert!(child.wait().expect("it ended").success(), "the survey failed");
    assert!(secs > 0.0 && peak > 0.0, "its cost was not read");
    Cost { secs, peak }
}
