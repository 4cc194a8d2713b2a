//! The tables of the page.

use super::text::escaped;
use crate::document::{Document, Limit, Passage, ReadingLine};
use crate::figures::{self, DASH, percent, plain, signed, unit};
use crate::report::Report;
use crate::words;
use plumbline_measure::{SampleRate, Timecode};
use plumbline_programme::Role;
use plumbline_programme::findings::Finding;

/// A table with a head, of a class of its own; cells are ready to stand in it. The class of a column stands before its
/// name: "n:Level, dB". On a phone each row becomes a block of its own.
pub(crate) fn table(of: &str, columns: &[&str], rows: &[Vec<String>]) -> String {
    let columns: Vec<(&str, String)> = columns
        .iter()
        .map(|column| column.split_once(':').unwrap_or(("", column)))
        .map(|(class, name)| (class, escaped(name)))
        .collect();
    let mut out = format!("<div class=\"scroll\"><table class=\"stack {of}\">\n<thead><tr>");
    for (class, name) in &columns {
        out += &format!("<th scope=\"col\" class=\"{class}\">{name}</th>");
    }
    out += "</tr></thead>\n<tbody>\n";
    for row in rows {
        out += "<tr>";
        for ((class, name), cell) in columns.iter().zip(row) {
            out += &format!("<td class=\"{class}\" data-label=\"{name}\">{cell}</td>");
        }
        out += "</tr>\n";
    }
    out + "</tbody></table></div>\n"
}

/// The larger of two channels.
fn larger(values: [Option<f64>; 2]) -> Option<f64> {
    values.into_iter().flatten().reduce(f64::max)
}

fn mono_loss(readings: &ReadingLine) -> String {
    match &readings.words {
        Some(words) => escaped(words),
        None => plain(readings.mono_loss_db, 1),
    }
}

/// The programme in a few numbers, with the target beside them.
pub(super) fn summary(document: &Document) -> String {
    let Some(all) = document.passages.first() else {
        return "<p class=\"note\">No statistics: nothing was heard since reset.</p>\n".to_owned();
    };
    let target = &document.target;
    let aim = format!(
        "target {} LUFS, +{} −{} LU",
        plain(Some(target.integrated_lufs), 1),
        plain(Some(target.above_lu), 1),
        plain(Some(target.below_lu), 1)
    );
    let ceiling = format!("ceiling {} dBTP", plain(Some(target.true_peak_dbtp), 1));
    let short = target.max_short_term_lufs.map(|most| format!("ceiling {} LUFS", plain(Some(most), 1)));
    let loss = match &all.whole.words {
        Some(words) => words.clone(),
        None => unit(plain(all.whole.mono_loss_db, 1), "dB"),
    };
    let cells = [
        ("Integrated loudness", unit(plain(all.integrated_lufs, 1), "LUFS"), aim),
        ("Loudness range", unit(plain(all.range_lu, 1), "LU"), String::new()),
        ("Highest short-term", unit(plain(all.max_short_term_lufs, 1), "LUFS"), short.unwrap_or_default()),
        ("Highest true peak", unit(plain(larger(all.true_peak_dbtp), 1), "dBTP"), ceiling),
        ("Width", percent(all.whole.side_share), "side share".to_owned()),
        ("Mono loss", loss, String::new()),
        ("Heard", words::length(all.heard_secs), String::new()),
        ("Findings", document.findings.len().to_string(), String::new()),
        ("Joins", document.joins.len().to_string(), String::new()),
    ];
    let mut out = String::from("<dl>\n");
    for (name, value, beside) in cells {
        let beside = if beside.is_empty() { beside } else { format!("<small>{}</small>", escaped(&beside)) };
        out += &format!("<div><dt>{name}</dt><dd>{}{beside}</dd></div>\n", escaped(&value));
    }
    out + "</dl>\n"
}

/// Every finding, by time.
pub(crate) fn findings(findings: &[Finding], dropped: u64, start: Timecode, rate: SampleRate) -> String {
    let mut out = String::from("<h2>Findings</h2>\n");
    if findings.is_empty() {
        return out + "<p class=\"note\">None.</p>\n";
    }
    if dropped > 0 {
        let many = figures::count(dropped as f64, "older entry was", "older entries were");
        out += &format!("<p class=\"note\">{many} let go because there were too many.</p>\n");
    }
    let rows: Vec<Vec<String>> = findings
        .iter()
        .map(|finding| {
            let grade = words::grade(finding.grade);
            let place = |tenth| words::place(finding.grid, tenth, start, rate);
            let seen = if finding.seen { " (seen)" } else { "" };
            vec![
                place(finding.start),
                if finding.open { "goes on".to_owned() } else { place(finding.end) },
                words::length(finding.secs()),
                format!("{}{seen}", words::kind(finding.kind)),
                format!("<span class=\"{}\">{grade}</span>", grade.to_lowercase()),
                escaped(&words::span(finding.span)),
                escaped(&words::concerns(finding)),
                escaped(&words::worst(finding)),
                escaped(&words::advice(finding)),
            ]
        })
        .collect();
    let columns = [
        "t:Start",
        "t:End",
        "n:Length",
        "t:What",
        "t:How bad",
        "t:Where",
        "Whom",
        "n:Worst",
        "long:What to do",
    ];
    out + &table("found", &columns, &rows)
}

fn passage_name(passage: &Passage) -> String {
    if passage.number == 0 { "All since reset".to_owned() } else { format!("Passage {}", passage.number) }
}

/// Statistics: loudness and width of each stretch, shares, and the named bands of all of it.
pub(super) fn passages(document: &Document, report: &Report<'_>) -> String {
    if document.passages.is_empty() {
        return String::new();
    }
    let mut out = String::from("<h2>Statistics by passage</h2>\n");
    let rows: Vec<Vec<String>> = document
        .passages
        .iter()
        .zip(&report.log.passages)
        .map(|(passage, line)| {
            vec![
                passage_name(passage),
                words::place(line.grid, line.start, report.start, report.rate),
                words::length(passage.heard_secs),
                plain(passage.integrated_lufs, 1),
                plain(passage.range_lu, 1),
                plain(passage.max_momentary_lufs, 1),
                plain(passage.max_short_term_lufs, 1),
                plain(larger(passage.true_peak_dbtp), 1),
                percent(passage.whole.side_share),
                signed(passage.whole.correlation, 2),
                signed(passage.lowest_correlation, 2),
                plain(passage.whole.out_of_step, 2),
                mono_loss(&passage.whole),
                (passage.overs[0] + passage.overs[1]).to_string(),
                passage.lost.to_string(),
            ]
        })
        .collect();
    let columns = [
        "t:Stretch",
        "t:From",
        "n:Heard",
        "n:Integrated, LUFS",
        "n:Range, LU",
        "n:Momentary at most, LUFS",
        "n:Short-term at most, LUFS",
        "n:True peak, dBTP",
        "n:Width",
        "n:Correlation",
        "n:Lowest",
        "n:Out of step",
        "n:Mono loss, dB",
        "n:At full scale, samples",
        "n:Lost, samples",
    ];
    out += &table("plain", &columns, &rows);
    out += &shares(document);
    out + &bands(document)
}

fn shares(document: &Document) -> String {
    if document.passages.iter().all(|passage| passage.shares.iter().all(Option::is_none)) {
        return String::new();
    }
    let row = |passage: &Passage| {
        let mut row = vec![passage_name(passage)];
        row.extend(passage.shares.iter().zip(passage.leads).map(|(share, lead)| match lead {
            Some(lead) => format!("{}, leads {}", percent(*share), percent(Some(lead))),
            None => percent(*share),
        }));
        row.push(signed(passage.unaccounted_db, 1));
        row
    };
    let names: Vec<String> = Role::PARTS.iter().map(|role| format!("n:{}", role.name())).collect();
    let mut columns = vec!["t:Stretch"];
    columns.extend(names.iter().map(String::as_str));
    columns.push("n:Unaccounted, dB");
    let rows: Vec<Vec<String>> = document.passages.iter().map(row).collect();
    format!("<h2>Shares of the roles</h2>\n{}", table("plain", &columns, &rows))
}

fn bands(document: &Document) -> String {
    let Some(all) = document.passages.first() else { return String::new() };
    let rows: Vec<Vec<String>> = all
        .bands
        .iter()
        .zip(document.band_edges_hz.windows(2))
        .map(|(band, edges)| {
            let span = plumbline_measure::Span { low_hz: edges[0], high_hz: edges[1] };
            let readings = &band.readings;
            vec![
                escaped(&band.name),
                figures::hz_span(&span),
                plain(readings.level_dbfs, 1),
                percent(readings.side_share),
                signed(readings.correlation, 2),
                plain(readings.coherence, 2),
                plain(readings.out_of_step, 2),
                signed(readings.balance_db, 1),
                mono_loss(readings),
            ]
        })
        .collect();
    let columns = [
        "Band",
        "t:Where",
        "n:Level, dBFS",
        "n:Width",
        "n:Correlation",
        "n:Coherence",
        "n:Out of step",
        "n:Balance, dB",
        "n:Mono loss, dB",
    ];
    format!("<h2>Bands, all since reset</h2>\n{}", table("plain", &columns, &rows))
}

/// What was looked for.
pub(crate) fn rules(rules: &[Limit]) -> String {
    let rows: Vec<Vec<String>> = plumbline_programme::Kind::ALL
        .into_iter()
        .zip(rules)
        .map(|(kind, rule)| {
            let from = unit(plain(Some(rule.limit), 2), &rule.unit);
            let secs = if rule.secs > 0.0 { words::length(rule.secs) } else { DASH.to_owned() };
            vec![words::kind(kind).to_owned(), if rule.on { from } else { "not looked for".to_owned() }, secs]
        })
        .collect();
    format!("<h2>What was looked for</h2>\n{}", table("plain", &["What", "n:Limit", "n:For at least"], &rows))
}
