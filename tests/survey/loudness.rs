//! Loudness and true peak of real recordings against an independent meter: the filter `ebur128` of Debian's `ffmpeg`,
//! run at test time on recordings of `sonic-pi-samples` (CC0).

use crate::rig::run;
use plumbline_tests::debian;
use serde_json::Value;
use std::path::Path;
use std::process::Command;

/// Recordings, and the tolerance of their true peaks, dB.
///
/// One begins with hiss up to half the sample rate. There the other meter's finer oversampling reads higher than the
/// fourfold one of BS.1770, which may read up to 0.688 dB low (Annex 2, Attachment 1, from memory). With sixteenfold
/// oversampling (`scipy.signal.resample_poly`) it reaches −0.65 dBTP.
const RECORDINGS: [(&str, f64); 5] = [
    ("ambi_choir", 0.2),
    ("ambi_dark_woosh", 0.2),
    ("ambi_lunar_land", 0.688),
    ("ambi_piano", 0.2),
    ("ambi_sauna", 0.2),
];

/// The other meter's integrated loudness in LUFS and true peak in dBTP, to one decimal.
fn other_meter(path: &Path) -> Option<[f64; 2]> {
    let ran = Command::new("ffmpeg")
        .args(["-nostats", "-hide_banner", "-i"])
        .arg(path)
        .args(["-af", "ebur128=peak=true", "-f", "null", "-"])
        .output()
        .ok()?;
    let said = String::from_utf8_lossy(&ran.stderr).into_owned();
    let summary = said.rsplit_once("Summary:")?.1;
    let value = |name: &str| -> Option<f64> {
        let rest = summary.lines().find_map(|line| line.trim().strip_prefix(name))?;
        rest.split_whitespace().next()?.parse().ok()
    };
    Some([value("I:")?, value("Peak:")?])
}

#[test]
fn real_recordings_read_as_loud_as_by_an_independent_meter() {
    let (mut compared, mut skipped) = (0, 0);
    for (name, peak_within) in RECORDINGS {
        let Some(path) = debian::file("sonic-pi-samples", &format!("{name}.flac")) else {
            skipped += 1;
            continue;
        };
        let Some([lufs, dbtp]) = other_meter(&path) else {
            skipped += 1;
            debian::missing("no ffmpeg here has a loudness meter; `apt install ffmpeg` gets it");
            continue;
        };
        let path = path.to_str().expect("a plain path");
        let ran = run(["survey", "--mix", path, "--json", "-", "--quiet"]).ended_with(0);
        let report: Value = serde_json::from_str(&ran.stdout).expect("a report");
        let loudness = &report["bus"]["loudness"];
        let found = ["integrated_lufs", "true_peak_dbtp"].map(|name| loudness[name].as_f64().expect(name));
        println!("{name}: {found:?} here, {:?} there", [lufs, dbtp]);
        assert!((found[0] - lufs).abs() <= 0.1, "{name}: {} LUFS here, {lufs} there", found[0]);
        assert!((found[1] - dbtp).abs() <= peak_within, "{name}: {} dBTP here, {dbtp} there", found[1]);
        compared += 1;
    }
    assert_eq!(compared + skipped, RECORDINGS.len(), "{compared} compared, {skipped} skipped");
}
