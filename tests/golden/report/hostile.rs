//! Hostile names, and numbers that are NaN or infinite.

use super::{Case, cell, records};
use plumbline_measure::reading::Maybe;
use plumbline_measure::{Grid, Loudness, Readings, Span};
use plumbline_programme::findings::{Concerned, Kind};
use plumbline_programme::joins::Side;
use plumbline_programme::{Column, Finding, Join, Lanes, LayerId, Log, MinMax, PassageLine};
use plumbline_report::format::Session;
use plumbline_tests::views;

const NAMES: [&str; 7] = [
    "<script>alert('x')</script>",
    "=HYPERLINK(\"x\";\"y\")",
    "-1+1|' /C calc'!A0",
    "a\r\nb,\"c\"",
    "\u{202e}\0\u{7}",
    "</title><img src=x onerror=y>",
    "&lt;b&gt;",
];

fn named(name: &str) -> Log {
    let view = views::busy_log();
    let mut log = Log::clone(&view.log);
    for finding in &mut log.findings {
        finding.layers = vec![Concerned { id: LayerId(u64::MAX), name: name.to_owned() }];
    }
    log
}

#[test]
fn names_break_neither_table_nor_page() {
    let mut cases = 0;
    for name in NAMES {
        let log = named(name);
        let case = Case { layer: name, ..Case::new(&log) };
        let report = case.report();
        let table = records(&report.findings_csv());
        assert_eq!(table.len(), 11);
        for (line, record) in table.iter().enumerate().skip(1) {
            assert_eq!(record.len(), table[0].len(), "{name:?}");
            for column in ["layer", "layers", "owner", "advice", "words"] {
                let text = cell(&table, line - 1, column);
                assert!(!text.starts_with(['=', '+', '-', '@']), "a spreadsheet would run {text:?}");
                assert!(!text.contains(char::is_control), "{text:?}");
            }
        }
        let page = report.html();
        for bad in ["<script", "<img", "</title><", "\u{202e}", "\0", "&lt;b>"] {
            assert!(!page.contains(bad), "{bad:?} came through from {name:?}");
        }
        assert_eq!(page.matches("</title>").count(), 1, "{name:?}");
        let back: Session = serde_json::from_str(&report.json()).expect("our own format");
        assert_eq!(back.layer, name, "JSON keeps a name as it is");
        assert_eq!(back.findings[0].layers[0].id, "ffffffffffffffff");
        cases += 1;
    }
    assert_eq!(cases, NAMES.len());
    let log = named("&lt;b&gt;");
    let case = Case { layer: "&lt;b&gt;", ..Case::new(&log) };
    assert!(case.report().html().contains("<h1>&amp;lt;b&amp;gt;</h1>"));
}

fn broken(bad: f64) -> (Log, Lanes) {
    let some = Some(bad);
    let maybe = Maybe::new(some);
    let readings = Readings {
        level_dbfs: some,
        channel_dbfs: [some; 2],
        side_share: some,
        correlation: some,
        coherence: some,
        out_of_step: some,
        balance_db: some,
        mono_loss_db: some,
    };
    let side = Side {
        tenths: u32::MAX,
        loudness_lufs: some,
        tone_db_per_octave: some,
        side_share: some,
        shares: [some; 5],
        thirds_dbfs: [maybe; 31],
    };
    let finding = |kind| Finding {
        kind,
        start: i64::MIN,
        end: i64::MAX,
        at: i64::MAX,
        worst: bad,
        span: Some(Span { low_hz: bad, high_hz: bad }),
        ..views::busy_log().log.findings[0].clone()
    };
    let join = Join {
        at: i64::MAX,
        sample: i64::MIN,
        before: side,
        after: side,
        takes_secs: some,
        ..Join::default()
    };
    let line = PassageLine {
        start: i64::MIN,
        end: i64::MAX,
        secs: bad,
        whole: readings,
        bands: [readings; 6],
        loudness: Loudness {
            integrated_lufs: some,
            true_peak_dbtp: [some; 2],
            range_lu: some,
            ..Loudness::default()
        },
        lowest_correlation: some,
        peak_dbfs: [some; 2],
        overs: [u64::MAX / 2; 2],
        lost: u64::MAX,
        shares: [some; 5],
        leads: [some; 5],
        unaccounted_db: some,
        ..PassageLine::default()
    };
    let reach = MinMax { low: maybe, high: maybe };
    let column = Column {
        tenths: 1,
        momentary: reach,
        short_term: reach,
        width: reach,
        correlation: maybe,
        shares: [maybe; 5],
        ..Column::default()
    };
    let lanes = Lanes {
        grid: Grid::Song,
        first: 0,
        per_column: 1,
        left: 0,
        right: 40,
        columns: vec![column; 40],
        ..Lanes::default()
    };
    let log = Log {
        findings: Kind::ALL.map(finding).to_vec(),
        joins: vec![join],
        passages: vec![line],
        ..Log::default()
    };
    (log, lanes)
}

#[test]
fn what_is_no_number_is_absent_or_a_word() {
    let mut cases = 0;
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, f64::MIN, 1e-320] {
        let (log, lanes) = broken(bad);
        let case = Case { lanes: Some(&lanes), ..Case::new(&log) };
        let report = case.report();
        for text in [report.findings_csv(), report.joins_csv(), report.passages_csv()] {
            for text in records(&text).into_iter().flatten() {
                assert!(!text.parse::<f64>().is_ok_and(|number| !number.is_finite()), "{text} for {bad}");
            }
        }
        let json = report.json();
        let back: Session = serde_json::from_str(&json).expect("our own format");
        assert_eq!(back, report.document());
        let page = report.html();
        for none in ["NaN", ">inf", "-inf", "−inf", " inf"] {
            assert!(!page.contains(none), "{none} on the page for {bad}");
        }
        if !bad.is_finite() {
            assert!(back.findings.iter().all(|finding| finding.worst.is_none()));
            assert_eq!(back.passages[0].measured.loudness.integrated_lufs, None);
            assert_eq!(back.joins[0].before.thirds_dbfs[0], None);
        }
        let gone = bad == f64::NEG_INFINITY;
        assert_eq!(
            back.passages[0].measured.whole.mono_loss_words.as_deref(),
            gone.then_some("all of it"),
            "{bad}"
        );
        let table = records(&report.passages_csv());
        if !bad.is_finite() {
            assert_eq!(cell(&table, 0, "mono_loss_db"), if gone { "all of it" } else { "" });
        }
        cases += 1;
    }
    assert_eq!(cases, 6);
}

#[test]
fn nothing_at_all_is_a_page_too() {
    let log = Log::default();
    let lanes = Lanes::default();
    let case = Case { layer: "", lanes: Some(&lanes), ..Case::new(&log) };
    let page = case.report().html();
    assert!(page.contains("nothing was heard since reset") && page.contains("<h1>Mix layer</h1>"));
    assert!(!page.contains("<svg"));
}
