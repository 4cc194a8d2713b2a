//! Two reports on the same sound, made by the command on Linux and on Windows, must be equal. `cargo xtask windows`
//! makes both and runs this suite with their folder in `PLUMBLINE_REPORTS`.
//!
//! # Tolerance
//! Text is identical: findings, joins, verdicts, advice, timecodes. Numbers may differ by a relative 1e-6, because
//! transforms choose their code by processor, and each system has its own mathematical library; or by one unit of the
//! last printed digit, where the two round to different sides.

use std::path::{Path, PathBuf};

/// The variable that names the folder with the two reports.
const VARIABLE: &str = "PLUMBLINE_REPORTS";
/// Relative tolerance of numbers.
const RELATIVE: f64 = 1e-6;
/// Numbers below this count as 0 in any unit: the smallest digit of any unit in a report is 1e-4.
const NOTHING: f64 = 1e-9;

/// The files of a report, and the least number of numbers in each: a report on 72 s has more than that.
const FILES: [(&str, usize); 5] = [
    ("report.json", 1_000),
    ("findings.csv", 100),
    ("joins.csv", 100),
    ("tenths.csv", 20_000),
    ("report.html", 1_000),
];

#[test]
#[ignore = "needs two reports: `cargo xtask windows` makes them"]
fn both_systems_write_the_same_report() {
    let folder = PathBuf::from(std::env::var_os(VARIABLE).expect("PLUMBLINE_REPORTS names a folder"));
    let mut differ = Vec::new();
    for (name, fewest) in FILES {
        let [linux, windows] = ["linux", "windows"].map(|system| plain(&folder.join(system), name));
        match compare(&linux, &windows) {
            Ok(Alike { numbers, furthest, rounded }) => {
                assert!(numbers >= fewest, "{name} has {numbers} numbers");
                println!(
                    "{name}: {numbers} numbers, furthest {furthest:.1e} of itself, {rounded} rounded otherwise"
                );
            }
            Err(words) => differ.push(format!("{name}: {words}")),
        }
    }
    assert!(differ.is_empty(), "the reports differ: {differ:#?}");
}

/// A file of a report, without the date, and with paths and line ends in one form for both systems.
fn plain(folder: &Path, name: &str) -> String {
    let read = |name: &str| {
        let path = folder.join(name);
        std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
    };
    let report: serde_json::Value = serde_json::from_str(&read("report.json")).expect("JSON");
    let date = report["date"].as_str().expect("a report has its date").to_owned();
    assert!(date.len() >= 10, "a date: {date}");
    read(name)
        .replace(&date, "DATE")
        .replace("Z:\\\\", "/")
        .replace("Z:\\", "/")
        .replace("\\\\", "/")
        .replace('\\', "/")
}

/// The statistics of two equal texts.
#[derive(Debug, PartialEq)]
struct Alike {
    numbers: usize,
    /// The largest relative difference of two numbers with many digits.
    furthest: f64,
    /// Numbers that differ by one unit of the last printed digit.
    rounded: usize,
}

/// Compares two texts, their numbers with a tolerance.
fn compare(a: &str, b: &str) -> Result<Alike, String> {
    let mut alike = Alike { numbers: 0, furthest: 0.0, rounded: 0 };
    let (mut a, mut b) = (Parts(a), Parts(b));
    loop {
        let (left, right) = match (a.next(), b.next()) {
            (None, None) => return Ok(alike),
            (Some(left), Some(right)) => (left, right),
            (left, right) => return Err(format!("one ends before the other: {left:?}, {right:?}")),
        };
        let number =
            |text: &str| text.parse::<f64>().ok().filter(|_| text.starts_with(|c: char| c.is_ascii_digit()));
        match (number(left), number(right)) {
            (None, None) if left == right => {}
            (Some(x), Some(y)) => {
                alike.numbers += 1;
                let off = (x - y).abs();
                let of_itself = off / x.abs().max(y.abs()).max(NOTHING);
                if off > NOTHING && of_itself > RELATIVE {
                    // One unit of the last digit, plus the error of its binary form.
                    if off > 1.001 * unit(left).max(unit(right)) {
                        let after: String = a.0.chars().take(60).collect();
                        return Err(format!("{left} against {right}, before {after:?}"));
                    }
                    alike.rounded += 1;
                } else if off > NOTHING {
                    alike.furthest = alike.furthest.max(of_itself);
                }
            }
            _ => return Err(format!("{left:?} against {right:?}")),
        }
    }
}

/// One unit of the last printed digit.
fn unit(number: &str) -> f64 {
    let decimals = number.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    0.1_f64.powi(i32::try_from(decimals).unwrap_or(i32::MAX))
}

/// The unsigned numbers in a text, and the text between them.
struct Parts<'a>(&'a str);

impl<'a> Iterator for Parts<'a> {
    type Item = &'a str;

    fn next(&mut self) -> Option<&'a str> {
        let first = self.0.chars().next()?;
        let digits = first.is_ascii_digit();
        let is_part = |c: char| (c.is_ascii_digit() || (digits && c == '.')) == digits;
        let end = self.0.find(|c: char| !is_part(c)).unwrap_or(self.0.len());
        let (part, rest) = self.0.split_at(end);
        self.0 = rest;
        Some(part)
    }
}

#[test]
fn numbers_may_be_a_little_off_and_words_not_at_all() {
    let same = compare("a,1.5,-2.25e\n", "a,1.5,-2.25e\n").expect("equal");
    assert_eq!(same, Alike { numbers: 2, furthest: 0.0, rounded: 0 });
    let near = compare("x 0.123456789", "x 0.123456788").expect("near");
    assert!(near.rounded == 0 && near.furthest < 1e-7, "{near:?}");
    assert_eq!(compare("−19.35 LUFS", "−19.36 LUFS").expect("rounded").rounded, 1);
    for (a, b) in [
        ("−19.35 LUFS", "−19.37 LUFS"),
        ("0.123456789", "0.123466789"),
        ("-1.0", "1.0"),
        ("a 1", "b 1"),
        ("1.0", "1.0,2.0"),
        ("1.0,", "1.0"),
        ("1", "one"),
        ("NaN", "1"),
    ] {
        assert!(compare(a, b).is_err(), "{a} against {b}");
    }
}
