//! Levels, correlation and coherence of thirds against `scipy.signal` (`welch`, `csd`, `coherence`), an independent
//! library in another language. `scipy/spectra.py` computes the values; they are stored with the versions that computed
//! them, and computed again if python3 has scipy.

use crate::rig::measured;
use plumbline_measure::Averaging;
use plumbline_tests::cases::Cases;
use plumbline_tests::debian;
use serde_json::Value;
use std::path::Path;
use std::process::Command;

const KEPT: &str = include_str!("scipy/spectra.json");
const FRAMES: usize = 12 * 48_000;
/// Thirds compared: from 100 Hz, below which a third has too few bins for two window lengths to agree, to 16 kHz.
const COMPARED: std::ops::RangeInclusive<usize> = 7..=29;

/// The script's generator.
fn noise(seed: u32) -> Vec<f64> {
    let mut state = seed;
    (0..FRAMES)
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(state) / 2_147_483_648.0 - 1.0
        })
        .collect()
}

fn sounds() -> [(&'static str, [Vec<f64>; 2]); 4] {
    let (a, b) = (noise(1), noise(2));
    let map = |of: &dyn Fn(usize) -> f64| (0..FRAMES).map(of).collect::<Vec<f64>>();
    let left = map(&|n| 0.2 * a[n]);
    [
        ("unrelated", [left.clone(), map(&|n| 0.2 * b[n])]),
        ("shared", [left.clone(), map(&|n| 0.2 * (0.8 * a[n] + 0.6 * b[n]))]),
        ("late by 200 samples", [left.clone(), map(&|n| if n < 200 { 0.0 } else { 0.2 * a[n - 200] })]),
        ("inverted", [left, map(&|n| -0.1 * a[n])]),
    ]
}

/// Both analyse the same sound with different windows: ours are shorter from 250 Hz on, so their frames differ at the
/// ends. Scipy's coherence over 12 s has a bias of 1/(0.52 × 138) = 0.014, which ours does not.
#[test]
fn thirds_read_as_by_scipy() {
    let kept: Value = serde_json::from_str(KEPT).expect("the kept values");
    let mut cases = Cases::new("scipy.signal 1.10.1: welch, csd, coherence");
    for (name, [left, right]) in sounds() {
        let run = measured(48_000, &[&left, &right]);
        let thirds = &run.view.spectral(Averaging::SinceReset).thirds;
        for third in COMPARED {
            let value = |what: &str| kept["sounds"][name][third][what].as_f64().expect(what);
            let case = format!("{name}, third {}", crate::rig::label(third));
            let read = &thirds[third];
            cases.near(format!("{case}: level"), read.level_dbfs, value("level_dbfs"), 0.2);
            cases.near(format!("{case}: correlation"), read.correlation, value("correlation"), 0.05);
            cases.near(format!("{case}: coherence"), read.coherence, value("coherence"), 0.05);
        }
    }
    cases.end(4 * 23 * 3);
}

#[test]
#[cfg_attr(windows, ignore = "asks Debian's Python, which no Windows program starts")]
fn the_kept_values_are_what_scipy_says_here() {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/scipy/spectra.py");
    // Debian's python3 first, which has the package; the PATH may have another.
    let pythons = ["/usr/bin/python3", "python3"];
    let has = |python: &&&str| {
        let asked = Command::new(**python).args(["-c", "import scipy.signal"]).output();
        asked.is_ok_and(|asked| asked.status.success())
    };
    let Some(python) = pythons.iter().find(has) else {
        return debian::missing("no python3 here has scipy; `apt install python3-scipy` gets it");
    };
    let ran = Command::new(python).arg(&script).output().expect("python runs");
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    let now: Value = serde_json::from_slice(&ran.stdout).expect("JSON");
    let kept: Value = serde_json::from_str(KEPT).expect("the kept values");
    println!("kept by {}, made again by {}", kept["versions"], now["versions"]);
    let mut compared = 0;
    for (name, thirds) in kept["sounds"].as_object().expect("sounds") {
        for (at, third) in thirds.as_array().expect("thirds").iter().enumerate() {
            for (what, value) in third.as_object().expect("values") {
                let (was, is) = (value.as_f64(), now["sounds"][name][at][what].as_f64());
                let apart = was.zip(is).map(|(was, is)| (was - is).abs());
                assert!(
                    apart.is_some_and(|apart| apart <= 1e-6),
                    "{name}, third {at}, {what}: {was:?} {is:?}"
                );
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 4 * 31 * 4);
}
