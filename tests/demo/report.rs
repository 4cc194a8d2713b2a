//! The printed table, and `found.json` for programs.

use crate::heard::Heard;
use crate::surveyed::Both;
use crate::{Outcome, at};
use plumbline_measure::SampleRate;
use plumbline_programme::Role;
use plumbline_scene::Value;
use plumbline_screen::Settings;
use serde::Serialize;
use std::fmt::Write as _;
use std::path::Path;

/// Version of `found.json`; it only ever grows.
const VERSION: u32 = 1;

#[derive(Serialize)]
struct Report<'a> {
    version: u32,
    input: String,
    rows: &'a [Both],
}

/// The rows as JSON.
pub(crate) fn json(input: &Path, rows: &[Both]) -> Result<String, serde_json::Error> {
    // Only the name: a report may be passed on, so it must not contain a path of the user's computer.
    let input = input.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    serde_json::to_string_pretty(&Report { version: VERSION, input, rows }).map(|text| text + "\n")
}

/// Writes the log of the mix as the plug-in exports it: three CSV files, JSON, and an HTML page.
pub(crate) fn export(folder: &Path, heard: &Heard) -> Outcome<()> {
    std::fs::create_dir_all(folder).map_err(at(folder))?;
    let settings = Settings::default();
    let report = plumbline_report::Report {
        layer: "Mix bus",
        role: Role::Mix,
        // The same on every run.
        date: "",
        start: settings.start,
        rate: SampleRate::new(heard.end.clock.rate_hz)?,
        target: settings.target,
        rules: &settings.rules,
        band_edges: heard.end.band_edges,
        log: &heard.end.log,
        lanes: Some(&heard.end.lanes),
    };
    for (name, text) in [
        ("findings.csv", report.findings_csv()),
        ("joins.csv", report.joins_csv()),
        ("passages.csv", report.passages_csv()),
        ("report.json", report.json()),
        ("report.html", report.html()),
    ] {
        let path = folder.join(name);
        std::fs::write(&path, text).map_err(at(&path))?;
    }
    Ok(())
}

/// The rows as a table.
pub(crate) fn table(rows: &[Both]) -> String {
    let mut out = format!(
        "{:<40} {:>15} {:>15} {:>15} {:<8} {:>9}  ok\n",
        "", "planted", "plug-in", "survey", "unit", "tolerance"
    );
    for both in rows {
        let row = &both.row;
        let tolerance = match row.tolerance {
            Some(0.0) | None => String::new(),
            Some(tolerance) => format!("±{tolerance}"),
        };
        let ok = match (row.ok, both.holds()) {
            (_, false) => "NO",
            (Some(true), true) => "yes",
            (None, true) if both.survey_ok.is_some() => "yes",
            _ => "",
        };
        let planted = row.planted.as_ref().map_or_else(String::new, shown);
        let found = row.found.as_ref().map_or_else(|| "–".to_owned(), shown);
        let survey = match (&both.survey, both.survey_ok) {
            (Some(value), _) => shown(value),
            (None, Some(_)) => "–".to_owned(),
            (None, None) => String::new(),
        };
        // Writing into a string cannot fail.
        let _ = writeln!(
            out,
            "{:<40} {planted:>15} {found:>15} {survey:>15} {:<8} {tolerance:>9}  {ok}",
            row.name, row.unit
        );
    }
    out
}

fn shown(value: &Value) -> String {
    match value {
        Value::Number(n) if n.fract() == 0.0 && n.abs() < 1e9 => format!("{n:.0}"),
        Value::Number(n) => format!("{n:.3}"),
        Value::Word(word) => word.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::found::Row;

    #[test]
    fn a_missing_reading_is_a_dash_and_null() {
        let row = Row {
            name: "dropout: start".to_owned(),
            planted: Some(Value::Number(19.3)),
            found: None,
            unit: "s".to_owned(),
            tolerance: Some(0.001),
            ok: Some(false),
        };
        let alone = Both::plug_in_alone(row.clone());
        let text = table(std::slice::from_ref(&alone));
        let line = text.lines().nth(1).expect("one row");
        assert!(line.contains("19.300") && line.matches('–').count() == 1 && line.ends_with("NO"), "{line}");
        let text = json(Path::new("folder/mix.wav"), &[alone]).expect("JSON");
        assert!(text.contains("\"found\": null") && text.contains("\"input\": \"mix.wav\""), "{text}");
        // Perhaps only the survey missed it.
        let row = Row { found: Some(Value::Number(19.3)), ok: Some(true), ..row };
        let both = Both { row, survey: None, survey_ok: Some(false) };
        let text = table(std::slice::from_ref(&both));
        let line = text.lines().nth(1).expect("one row");
        assert!(line.matches('–').count() == 1 && line.ends_with("NO"), "{line}");
    }
}
