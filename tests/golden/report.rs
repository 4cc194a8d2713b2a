//! Exports of a log: the same log gives the same bytes, times are exact, and no name or number is harmful.

mod hostile;
mod schema;
mod timecode;

use plumbline_measure::{BandEdges, FrameRate, SampleRate, Timecode};
use plumbline_programme::{Lanes, Log, Role, Rules, View};
use plumbline_report::Report;
use plumbline_report::format::Session;
use plumbline_tests::views;
use std::fs;
use std::path::Path;

/// The variable that rewrites the stored files.
const UPDATE: &str = "UPDATE_SNAPSHOTS";

/// A report on a log, as the plug-in makes it.
pub(crate) struct Case<'a> {
    pub(crate) layer: &'a str,
    pub(crate) start: Timecode,
    pub(crate) rules: Rules,
    pub(crate) log: &'a Log,
    pub(crate) lanes: Option<&'a Lanes>,
}

impl<'a> Case<'a> {
    pub(crate) fn new(log: &'a Log) -> Self {
        Self {
            layer: "Bell tower",
            start: Timecode::zero(FrameRate::F25),
            rules: Rules::default(),
            log,
            lanes: None,
        }
    }

    pub(crate) fn report(&'a self) -> Report<'a> {
        Report {
            layer: self.layer,
            role: Role::Mix,
            date: "2026-11-25 21:40:33",
            start: self.start,
            rate: SampleRate::new(48_000).expect("a usual rate"),
            target: plumbline_programme::delivery::Target::default(),
            rules: &self.rules,
            band_edges: BandEdges::default(),
            log: self.log,
            lanes: self.lanes,
        }
    }
}

/// The records of a table of RFC 4180.
pub(crate) fn records(text: &str) -> Vec<Vec<String>> {
    let (mut records, mut record, mut cell) = (Vec::new(), Vec::new(), String::new());
    let mut quoted = false;
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        match (quoted, letter) {
            (true, '"') if letters.peek() == Some(&'"') => cell.extend(letters.next()),
            (_, '"') => quoted = !quoted,
            (false, ',') => record.push(std::mem::take(&mut cell)),
            (false, '\r') => {
                assert_eq!(letters.next(), Some('\n'), "a line ends with CRLF");
                record.push(std::mem::take(&mut cell));
                records.push(std::mem::take(&mut record));
            }
            (false, '\n') => panic!("a bare line feed outside quotes"),
            (_, plain) => cell.push(plain),
        }
    }
    assert!(cell.is_empty() && record.is_empty() && !quoted, "the last line ends");
    records
}

/// A cell by the name of its column.
pub(crate) fn cell<'r>(records: &'r [Vec<String>], line: usize, name: &str) -> &'r str {
    let column =
        records[0].iter().position(|column| column == name).unwrap_or_else(|| panic!("no column {name}"));
    &records[line + 1][column]
}

fn compare_kept(name: &str, text: &str) {
    compare(&Path::new(env!("CARGO_MANIFEST_DIR")).join("golden/report").join(name), text);
}

/// Compares a text with the stored one.
pub(crate) fn compare(path: &Path, text: &str) {
    if std::env::var_os(UPDATE).is_some() {
        fs::write(path, text).expect("the compared file");
        return;
    }
    let name = path.display();
    let kept = fs::read_to_string(path).unwrap_or_default();
    let first = kept.split('\n').zip(text.split('\n')).position(|(kept, now)| kept != now);
    assert!(
        kept == text,
        "{name} differs from line {:?} on; look at it, then set {UPDATE}=1 to keep it",
        first.map(|line| line + 1)
    );
}

#[test]
fn a_busy_log_reads_as_it_did() {
    let view: View = views::busy_log();
    let case = Case::new(&view.log);
    let report = case.report();
    compare_kept("findings.csv", &report.findings_csv());
    compare_kept("joins.csv", &report.joins_csv());
    compare_kept("passages.csv", &report.passages_csv());
    compare_kept("report.json", &report.json());
    // Without the picture over time, which is long and has its own test.
    compare_kept("report.html", &report.html());
}

#[test]
fn json_comes_back_as_it_went() {
    let view = views::busy_log();
    let case = Case::new(&view.log);
    let report = case.report();
    let text = report.json();
    let back: Session = serde_json::from_str(&text).expect("our own format");
    assert_eq!(back, report.document());
    assert_eq!(serde_json::to_string_pretty(&back).expect("plain data") + "\n", text);
    assert_eq!((back.format.as_str(), back.version), ("plumbline-session", 2));
    assert_eq!((back.findings.len(), back.joins.len(), back.passages.len()), (10, 4, 4));
    let mono = back.findings.iter().find(|finding| finding.kind == "mono_loss").expect("planted");
    assert_eq!((mono.worst, mono.words.as_str()), (None, "all of it"));
}

#[test]
fn every_table_has_a_line_for_each_entry_and_all_columns() {
    let view = views::busy_log();
    let case = Case::new(&view.log);
    let report = case.report();
    for (text, lines) in [(report.findings_csv(), 10), (report.joins_csv(), 4), (report.passages_csv(), 4)] {
        let records = records(&text);
        assert_eq!(records.len(), 1 + lines);
        assert!(records.iter().all(|record| record.len() == records[0].len()));
        let mut names = records[0].clone();
        names.sort();
        names.dedup();
        assert_eq!(names.len(), records[0].len(), "a column's name stands twice");
    }
    let empty = Log::default();
    let case = Case::new(&empty);
    let report = case.report();
    for (empty, full) in [
        (report.findings_csv(), Case::new(&view.log).report().findings_csv()),
        (report.joins_csv(), Case::new(&view.log).report().joins_csv()),
        (report.passages_csv(), Case::new(&view.log).report().passages_csv()),
    ] {
        assert_eq!(records(&empty), &records(&full)[..1]);
    }
}

#[test]
fn the_page_draws_time_and_the_findings_in_it() {
    let view = views::busy_log();
    let case = Case { lanes: Some(&view.lanes), ..Case::new(&view.log) };
    let page = case.report().html();
    assert_eq!(page.matches("<svg").count(), 1 + 4, "the lanes and four joins");
    assert_eq!(page.matches("</rect>").count(), 10, "each finding is marked");
    for class in ["reach", "trace", "natural", "foley", "design"] {
        assert!(page.contains(&format!("<path class=\"{class}\" d=\"M")), "{class} is not drawn");
    }
    assert!(!page.contains("<path class=\"voice\""), "a role without a share is not drawn");
    assert!(page.len() < 400_000, "{} bytes", page.len());
    let bare = Case::new(&view.log).report().html();
    assert_eq!(bare.matches("<svg").count(), 4, "no lanes, no picture over time");
}

#[test]
fn the_page_needs_nothing_but_itself() {
    let view = views::busy_log();
    let case = Case { lanes: Some(&view.lanes), ..Case::new(&view.log) };
    let page = case.report().html();
    for outside in ["<script", "src=", "href=", "url(", "://", "@import", "<link", "<iframe"] {
        assert!(!page.contains(outside), "{outside}");
    }
    assert!(page.contains("prefers-color-scheme: dark") && page.contains("@media print"));
}
