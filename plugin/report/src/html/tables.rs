//! The tables of the page.

use super::text::escaped;
use crate::figures::{self, DASH, plain, signed, unit};
use crate::format::{Band, Loudness, Passage, Reading, Rule, Session, Target};
use crate::moment::Time;
use crate::words;
use plumbline_measure::Span;
use plumbline_programme::findings::Finding;
use plumbline_programme::{Log, Role};

/// A table of class `of`; cells are already escaped. A column's class precedes its name: "n:Level, dB". On a phone each
/// row becomes a block.
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

/// Per cent without decimals.
pub(crate) fn percent(value: Option<f64>) -> String {
    unit(plain(value, 0), "%")
}

/// Mono loss in dB, or in words.
pub(crate) fn mono_loss(reading: &Reading) -> String {
    reading.mono_loss_words.clone().unwrap_or_else(|| plain(reading.mono_loss_db, 1))
}

/// Mono loss with its unit, or in words.
pub(crate) fn mono_loss_with_unit(reading: &Reading) -> String {
    reading.mono_loss_words.clone().unwrap_or_else(|| unit(plain(reading.mono_loss_db, 1), "dB"))
}

/// A number of the programme: its name, its value, and the text beside it.
pub(crate) type Fact = (&'static str, String, String);

/// The loudness of the programme, with its target.
pub(crate) fn loudness_facts(loudness: &Loudness, target: &Target) -> [Fact; 4] {
    let number = |value| plain(Some(value), 1);
    let aim = format!(
        "target {} LUFS, +{} −{} LU",
        number(target.integrated_lufs),
        number(target.above_lu),
        number(target.below_lu)
    );
    let short = target.max_short_term_lufs.map(|most| format!("ceiling {} LUFS", number(most)));
    let ceiling = format!("ceiling {} dBTP", number(target.true_peak_dbtp));
    [
        ("Integrated loudness", unit(plain(loudness.integrated_lufs, 1), "LUFS"), aim),
        ("Loudness range", unit(plain(loudness.range_lu, 1), "LU"), String::new()),
        (
            "Highest short-term",
            unit(plain(loudness.max_short_term_lufs, 1), "LUFS"),
            short.unwrap_or_default(),
        ),
        ("Highest true peak", unit(plain(loudness.true_peak_dbtp, 1), "dBTP"), ceiling),
    ]
}

/// Numbers as a list.
pub(crate) fn facts(facts: &[Fact]) -> String {
    let mut out = String::from("<dl>\n");
    for (name, value, beside) in facts {
        let beside =
            if beside.is_empty() { String::new() } else { format!("<small>{}</small>", escaped(beside)) };
        out += &format!("<div><dt>{name}</dt><dd>{}{beside}</dd></div>\n", escaped(value));
    }
    out + "</dl>\n"
}

/// The programme in a few numbers.
pub(super) fn summary(document: &Session) -> String {
    let Some(all) = document.passages.first() else {
        return "<p class=\"note\">No statistics: nothing was heard since reset.</p>\n".to_owned();
    };
    let whole = &all.measured.whole;
    let mut numbers = loudness_facts(&all.measured.loudness, &document.target).to_vec();
    numbers.extend([
        ("Width", percent(whole.width_percent), "side share".to_owned()),
        ("Mono loss", mono_loss_with_unit(whole), String::new()),
        ("Heard", words::length(all.heard_seconds), String::new()),
        ("Findings", document.findings.len().to_string(), String::new()),
        ("Joins", document.joins.len().to_string(), String::new()),
    ]);
    facts(&numbers)
}

/// Every finding, by time.
pub(crate) fn findings(findings: &[Finding], dropped: u64, time: Time) -> String {
    let mut out = String::from("<h2>Findings</h2>\n");
    if findings.is_empty() {
        return out + "<p class=\"note\">None.</p>\n";
    }
    if dropped > 0 {
        let many = figures::count(dropped as f64, "older entry was", "older entries were");
        out += &format!("<p class=\"note\">{many} dropped.</p>\n");
    }
    let rows: Vec<Vec<String>> = findings
        .iter()
        .map(|finding| {
            let grade = words::grade(finding.grade);
            let place = |tenth| words::place(finding.grid, tenth, time.start, time.rate);
            let seen = if finding.seen { " (done)" } else { "" };
            vec![
                place(finding.start),
                if finding.open { "ongoing".to_owned() } else { place(finding.end) },
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
        "t:Severity",
        "t:Where",
        "Owner",
        "n:Worst",
        "long:What to do",
    ];
    out + &table("found", &columns, &rows)
}

fn passage_name(passage: &Passage) -> String {
    if passage.number == 0 { "All since reset".to_owned() } else { format!("Passage {}", passage.number) }
}

/// Statistics: loudness and width of each stretch, shares, and the named bands of the whole.
pub(super) fn passages(document: &Session, log: &Log, time: Time) -> String {
    if document.passages.is_empty() {
        return String::new();
    }
    let mut out = String::from("<h2>Statistics by passage</h2>\n");
    let rows: Vec<Vec<String>> = document
        .passages
        .iter()
        .zip(&log.passages)
        .map(|(passage, line)| {
            let measured = &passage.measured;
            let (loudness, whole) = (&measured.loudness, &measured.whole);
            vec![
                passage_name(passage),
                words::place(line.grid, line.start, time.start, time.rate),
                words::length(passage.heard_seconds),
                plain(loudness.integrated_lufs, 1),
                plain(loudness.range_lu, 1),
                plain(loudness.max_momentary_lufs, 1),
                plain(loudness.max_short_term_lufs, 1),
                plain(loudness.true_peak_dbtp, 1),
                percent(whole.width_percent),
                signed(whole.correlation, 2),
                signed(measured.lowest_correlation, 2),
                plain(whole.out_of_step, 2),
                mono_loss(whole),
                (loudness.overs[0] + loudness.overs[1]).to_string(),
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

fn shares(document: &Session) -> String {
    if document.passages.iter().all(|passage| passage.shares_percent.iter().all(Option::is_none)) {
        return String::new();
    }
    let row = |passage: &Passage| {
        let mut row = vec![passage_name(passage)];
        row.extend(passage.shares_percent.iter().zip(passage.leads_percent).map(
            |(share, lead)| match lead {
                Some(lead) => format!("{}, leads {}", percent(*share), percent(Some(lead))),
                None => percent(*share),
            },
        ));
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

fn bands(document: &Session) -> String {
    let Some(all) = document.passages.first() else { return String::new() };
    let rows: Vec<Vec<String>> = all.measured.bands.iter().map(band_row).collect();
    format!("<h2>Bands, all since reset</h2>\n{}", table("plain", &BAND_COLUMNS, &rows))
}

/// Columns of a table of bands.
pub(crate) const BAND_COLUMNS: [&str; 9] = [
    "t:Band",
    "t:Where",
    "n:Level, dBFS",
    "n:Width",
    "n:Correlation",
    "n:Coherence",
    "n:Out of step",
    "n:Balance, dB",
    "n:Mono loss, dB",
];

/// A row of that table.
pub(crate) fn band_row(band: &Band) -> Vec<String> {
    let reading = &band.reading;
    vec![
        escaped(&band.name),
        figures::hz_span(&Span { low_hz: band.low_hz, high_hz: band.high_hz }),
        plain(reading.level_dbfs, 1),
        percent(reading.width_percent),
        signed(reading.correlation, 2),
        plain(reading.coherence, 2),
        plain(reading.out_of_step, 2),
        signed(reading.balance_db, 1),
        mono_loss(reading),
    ]
}

/// The rules for findings, as a table.
pub(crate) fn rules(rules: &[Rule]) -> String {
    let rows: Vec<Vec<String>> = plumbline_programme::Kind::ALL
        .into_iter()
        .zip(rules)
        .map(|(kind, rule)| {
            let from = unit(plain(Some(rule.limit), 2), &rule.unit);
            let secs = if rule.seconds > 0.0 { words::length(rule.seconds) } else { DASH.to_owned() };
            vec![words::kind(kind).to_owned(), if rule.on { from } else { "not looked for".to_owned() }, secs]
        })
        .collect();
    format!("<h2>What was looked for</h2>\n{}", table("plain", &["What", "n:Limit", "n:For at least"], &rows))
}
