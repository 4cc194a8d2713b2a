//! Frame-exact labels, recomputed in integers by the rules of SMPTE ST 12-1:2014.

use super::{Case, cell, records};
use plumbline_measure::{FrameRate, Grid, Timecode};
use plumbline_programme::findings::{Finding, Grade, Kind};
use plumbline_programme::{Join, Log};

fn finding(start: i64, end: i64) -> Finding {
    Finding {
        id: 1,
        kind: Kind::Wind,
        grid: Grid::Song,
        start,
        end,
        open: false,
        span: None,
        worst: 9.0,
        at: start,
        grade: Grade::Slight,
        cause: None,
        right: None,
        role: None,
        layers: Vec::new(),
        follows: None,
        seen: false,
    }
}

/// The frame count of a label: F = (3600h + 60m + s)·c + f − d·(M − ⌊M/10⌋), M = 60h + m.
fn count([h, m, s, f]: [i64; 4], counted: i64, dropped: i64) -> i64 {
    let minutes = 60 * h + m;
    (3_600 * h + 60 * m + s) * counted + f - dropped * (minutes - minutes / 10)
}

/// The label of a frame count: ten minutes of drop-frame are 17982 frames, with two labels skipped in each minute but
/// the first.
fn label(n: i64, counted: i64, drop: bool) -> String {
    let n = if drop {
        let (d, r) = (n / 17_982, n % 17_982);
        n + 18 * d + if r >= 2 { 2 * ((r - 2) / 1_798) } else { 0 }
    } else {
        n
    };
    let (seconds, mark) = (n / counted, if drop { ';' } else { ':' });
    let [h, m, s] = [seconds / 3_600 % 24, seconds / 60 % 60, seconds % 60];
    format!("{h:02}:{m:02}:{s:02}{mark}{:02}", n % counted)
}

#[test]
fn labels_are_exact_to_the_frame_across_ten_minutes_and_hours() {
    // Frames per second as a fraction, frames counted, labels dropped.
    let rates = [
        (FrameRate::F23_976, 24_000, 1_001, 24, 0),
        (FrameRate::F25, 25, 1, 25, 0),
        (FrameRate::F29_97Drop, 30_000, 1_001, 30, 2),
    ];
    let start = [9, 59, 50, 0];
    // Ten seconds before the hour, the minutes after it, the ten-minute marks, and the next hour.
    let mut tenths: Vec<i64> = (0..1_500).collect();
    for around in [6_100, 6_700, 12_100, 18_100, 36_100, 36_136, 42_100] {
        tenths.extend(around - 45..around + 45);
    }
    let mut cases = 0;
    for (rate, numerator, denominator, counted, dropped) in rates {
        let log = Log {
            findings: tenths.iter().map(|&tenth| finding(tenth, tenth + 7)).collect(),
            ..Log::default()
        };
        let timecode = Timecode::from_fields(rate, start).expect("a label");
        let case = Case { start: timecode, ..Case::new(&log) };
        let table = records(&case.report().findings_csv());
        let document = case.report().document();
        for (line, &tenth) in tenths.iter().enumerate() {
            let expected = |sample: i64| {
                let frames = sample * numerator / (48_000 * denominator);
                label(count(start, counted, dropped) + frames, counted, dropped > 0)
            };
            for (name, tenth) in [("start", tenth), ("end", tenth + 7), ("worst_at", tenth)] {
                let sample = tenth * 4_800;
                assert_eq!(
                    cell(&table, line, &format!("{name}_timecode")),
                    expected(sample),
                    "{rate:?}, tenth {tenth}"
                );
                assert_eq!(cell(&table, line, &format!("{name}_sample")), sample.to_string());
            }
            let moment = &document.findings[line].start;
            assert_eq!(moment.timecode.as_deref(), Some(expected(tenth * 4_800).as_str()));
            assert_eq!(moment.seconds, tenth as f64 / 10.0);
            cases += 1;
        }
    }
    assert_eq!(cases, 3 * (1_500 + 7 * 90));
}

/// Worked by hand. 29.97 drop: 10.0 s are 299.7 frames; 70.1 s are 2100.9 frames, 300 to the hour and 1800 of its first
/// minute, after which ;00 and ;01 are skipped. 23.976: 10.1 s are 242.2 frames, 240 to the hour.
#[test]
fn labels_worked_by_hand() {
    let cases = [
        (FrameRate::F25, 99, "09:59:59:22"),
        (FrameRate::F25, 100, "10:00:00:00"),
        (FrameRate::F25, 6_100, "10:10:00:00"),
        (FrameRate::F23_976, 100, "09:59:59:23"),
        (FrameRate::F23_976, 101, "10:00:00:02"),
        (FrameRate::F29_97Drop, 100, "09:59:59;29"),
        (FrameRate::F29_97Drop, 101, "10:00:00;02"),
        (FrameRate::F29_97Drop, 700, "10:00:59;27"),
        (FrameRate::F29_97Drop, 701, "10:01:00;02"),
    ];
    for (rate, tenth, label) in cases {
        let log = Log { findings: vec![finding(tenth, tenth + 1)], ..Log::default() };
        let timecode = Timecode::from_fields(rate, [9, 59, 50, 0]).expect("a label");
        let case = Case { start: timecode, ..Case::new(&log) };
        let report = case.report();
        assert_eq!(cell(&records(&report.findings_csv()), 0, "start_timecode"), label, "{rate:?}");
        assert!(report.html().contains(&format!(">{label}</td>")), "{label} on the page");
    }
}

/// A join is at a sample, not a tenth: the last sample of a frame still has that frame's label.
#[test]
fn joins_are_dated_by_their_sample() {
    for (sample, label) in [
        (479_999, "09:59:59:24"),
        (480_000, "10:00:00:00"),
        (481_919, "10:00:00:00"),
        (481_920, "10:00:00:01"),
    ] {
        let log = Log {
            joins: vec![Join { grid: Grid::Song, at: 100, sample, ..Join::default() }],
            ..Log::default()
        };
        let timecode = Timecode::from_fields(FrameRate::F25, [9, 59, 50, 0]).expect("a label");
        let case = Case { start: timecode, ..Case::new(&log) };
        let table = records(&case.report().joins_csv());
        assert_eq!(cell(&table, 0, "at_timecode"), label);
        assert_eq!(cell(&table, 0, "at_sample"), sample.to_string());
    }
}

#[test]
fn clock_time_has_no_timecode() {
    let log =
        Log { findings: vec![Finding { grid: Grid::Clock, ..finding(37_615, 37_620) }], ..Log::default() };
    let case = Case::new(&log);
    let report = case.report();
    let table = records(&report.findings_csv());
    assert_eq!(cell(&table, 0, "clock"), "clock");
    assert_eq!(cell(&table, 0, "start_timecode"), "");
    assert_eq!(cell(&table, 0, "start_seconds"), "3761.500000");
    assert_eq!(report.document().findings[0].start.timecode, None);
    assert!(report.html().contains("01:02:41.5"));
}
