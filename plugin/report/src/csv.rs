//! CSV as RFC 4180 has it: a line of names, CRLF, quotes where needed. Numbers with a point, absent readings empty.
//!
//! A spreadsheet takes text that begins with `=`, `+`, `-` or `@` for a formula. Names come from anywhere, so text that
//! begins so gets an apostrophe before it; numbers do not.

use crate::document::{Document, FindingLine, JoinLine, Moment, Passage, ReadingLine, SideLine};
use crate::words;
use plumbline_measure::bands::{BAND_NAMES, THIRD_LABELS};
use plumbline_programme::Role;

/// One table under way: names first, then each line.
#[derive(Default)]
struct Table {
    names: Vec<String>,
    cells: Vec<String>,
    text: String,
}

impl Table {
    fn cell(&mut self, name: impl Into<String>, cell: String) {
        self.names.push(name.into());
        self.cells.push(cell);
    }

    fn text(&mut self, name: &str, text: &str) {
        self.cell(name, cell(text));
    }

    fn number(&mut self, name: impl Into<String>, value: Option<f64>, places: usize) {
        self.cell(name, digits(value, places));
    }

    fn count(&mut self, name: impl Into<String>, value: impl ToString) {
        self.cell(name, value.to_string());
    }

    fn flag(&mut self, name: &str, value: bool) {
        self.cell(name, if value { "yes" } else { "no" }.to_owned());
    }

    fn moment(&mut self, name: &str, moment: &Moment) {
        self.cell(format!("{name}_timecode"), moment.timecode.clone().unwrap_or_default());
        self.number(format!("{name}_secs"), Some(moment.secs), 6);
        self.count(format!("{name}_sample"), moment.sample);
    }

    fn end_line(&mut self) {
        self.text.push_str(&self.cells.join(","));
        self.text.push_str("\r\n");
        self.cells.clear();
        self.names.clear();
    }
}

/// A table with one line for each item. The names come from an item that is not written, so that an empty table has
/// them too.
fn table<T: Default>(items: &[T], line: impl Fn(&mut Table, &T)) -> String {
    let mut table = Table::default();
    line(&mut table, &T::default());
    table.text = table.names.join(",") + "\r\n";
    table.cells.clear();
    for item in items {
        line(&mut table, item);
        table.end_line();
    }
    table.text
}

/// A number with a point and without a minus zero; nothing where there is none.
pub(crate) fn digits(value: Option<f64>, places: usize) -> String {
    let Some(value) = value.filter(|value| value.is_finite()) else { return String::new() };
    let digits = format!("{value:.places$}");
    let zero = digits.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    if zero { digits.replace('-', "") } else { digits }
}

/// Text as a cell.
pub(crate) fn cell(text: &str) -> String {
    quoted(&harmless(text))
}

/// Text on one line that no spreadsheet takes for a formula.
fn harmless(text: &str) -> String {
    let tame: String = text.chars().map(|c| if words::turns_or_hides(c) { ' ' } else { c }).collect();
    let formula = tame.trim_start().starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠']);
    if formula { format!("'{tame}") } else { tame }
}

/// A cell of RFC 4180: in quotes where it holds a comma, a quote, or a space at an end.
fn quoted(text: &str) -> String {
    let wants = text.contains([',', '"', '\r', '\n']) || text.starts_with(' ') || text.ends_with(' ');
    if wants { format!("\"{}\"", text.replace('"', "\"\"")) } else { text.to_owned() }
}

/// "natural", "foley" …: the start of a column's name.
fn roles() -> impl Iterator<Item = String> {
    Role::PARTS.into_iter().map(|role| role.name().to_lowercase())
}

pub(crate) fn findings(layer: &str, findings: &[FindingLine]) -> String {
    table(findings, |table, finding: &FindingLine| {
        table.text("layer", layer);
        table.count("number", finding.number);
        table.text("kind", &finding.kind);
        table.text("grade", &finding.grade);
        table.text("clock", &finding.start.clock);
        table.moment("start", &finding.start);
        table.moment("end", &finding.end);
        table.number("length_secs", Some(finding.length_secs), 1);
        table.flag("open", finding.open);
        table.number("low_hz", finding.low_hz, 1);
        table.number("high_hz", finding.high_hz, 1);
        table.number("worst", finding.worst, 2);
        table.text("unit", &finding.unit);
        table.text("words", &finding.words);
        table.moment("worst_at", &finding.worst_at);
        table.flag("opposed", finding.opposed);
        table.text("channel", finding.channel.as_deref().unwrap_or_default());
        table.text("role", finding.role.as_deref().unwrap_or_default());
        let layers: Vec<&str> = finding.layers.iter().map(|layer| layer.name.as_str()).collect();
        table.text("layers", &layers.join("; "));
        table.text("advice", &finding.advice);
        table.flag("seen", finding.seen);
    })
}

pub(crate) fn joins(layer: &str, joins: &[JoinLine]) -> String {
    table(joins, |table, join: &JoinLine| {
        table.text("layer", layer);
        table.count("number", join.number);
        table.text("clock", &join.at.clock);
        table.moment("at", &join.at);
        table.flag("marked", join.marked);
        table.flag("found", join.found);
        table.number("size", Some(join.size), 2);
        table.text("words", &join.words);
        table.number("takes_secs", join.takes_secs, 2);
        table.number("change_loudness_lu", join.change.loudness_lu, 2);
        table.number("change_tone_db_per_octave", join.change.tone_db_per_octave, 2);
        table.number("change_side_share", join.change.side_share, 4);
        for (role, change) in roles().zip(join.change.shares) {
            table.number(format!("change_{role}_share"), change, 4);
        }
        side(table, "before", &join.before);
        side(table, "after", &join.after);
    })
}

fn side(table: &mut Table, name: &str, side: &SideLine) {
    table.number(format!("{name}_secs"), Some(side.secs), 1);
    table.number(format!("{name}_loudness_lufs"), side.loudness_lufs, 2);
    table.number(format!("{name}_tone_db_per_octave"), side.tone_db_per_octave, 2);
    table.number(format!("{name}_side_share"), side.side_share, 4);
    for (role, share) in roles().zip(side.shares) {
        table.number(format!("{name}_{role}_share"), share, 4);
    }
    for (label, level) in THIRD_LABELS.iter().zip(side.thirds_dbfs) {
        table.number(format!("{name}_{label}_dbfs"), level, 2);
    }
}

pub(crate) fn passages(document: &Document) -> String {
    table(&document.passages, |table, passage: &Passage| {
        table.text("layer", &document.layer);
        table.count("number", passage.number);
        table.text("clock", &passage.start.clock);
        table.moment("start", &passage.start);
        table.moment("end", &passage.end);
        table.number("heard_secs", Some(passage.heard_secs), 1);
        table.number("integrated_lufs", passage.integrated_lufs, 2);
        table.number("range_lu", passage.range_lu, 2);
        table.number("max_momentary_lufs", passage.max_momentary_lufs, 2);
        table.number("max_short_term_lufs", passage.max_short_term_lufs, 2);
        let sides = ["left", "right"].into_iter().enumerate();
        for (at, name) in sides {
            table.number(format!("true_peak_{name}_dbtp"), passage.true_peak_dbtp[at], 2);
            table.number(format!("peak_{name}_dbfs"), passage.peak_dbfs[at], 2);
            table.count(format!("overs_{name}"), passage.overs[at]);
        }
        table.count("lost", passage.lost);
        table.count("not_finite", passage.not_finite);
        table.number("lowest_correlation", passage.lowest_correlation, 4);
        for (role, share) in roles().zip(passage.shares) {
            table.number(format!("{role}_share"), share, 4);
        }
        for (role, share) in roles().zip(passage.leads) {
            table.number(format!("{role}_leads"), share, 4);
        }
        table.number("unaccounted_db", passage.unaccounted_db, 2);
        readings(table, "whole", &passage.whole);
        let none = ReadingLine::default();
        for (at, name) in BAND_NAMES.iter().enumerate() {
            let name = name.to_lowercase().replace(' ', "_");
            readings(table, &name, passage.bands.get(at).map_or(&none, |band| &band.readings));
        }
    })
}

fn readings(table: &mut Table, name: &str, readings: &ReadingLine) {
    table.number(format!("{name}_level_dbfs"), readings.level_dbfs, 2);
    table.number(format!("{name}_left_dbfs"), readings.left_dbfs, 2);
    table.number(format!("{name}_right_dbfs"), readings.right_dbfs, 2);
    table.number(format!("{name}_side_share"), readings.side_share, 4);
    table.number(format!("{name}_correlation"), readings.correlation, 4);
    table.number(format!("{name}_coherence"), readings.coherence, 4);
    table.number(format!("{name}_out_of_step"), readings.out_of_step, 4);
    table.number(format!("{name}_balance_db"), readings.balance_db, 2);
    match &readings.words {
        Some(words) => table.text(&format!("{name}_mono_loss_db"), words),
        None => table.number(format!("{name}_mono_loss_db"), readings.mono_loss_db, 2),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_quoted_where_it_must_be_and_never_a_formula() {
        let cases = [
            ("Tower", "Tower"),
            ("Tower, bell", "\"Tower, bell\""),
            ("the \"bell\"", "\"the \"\"bell\"\"\""),
            ("=1+1", "'=1+1"),
            (" -2", "' -2"),
            ("@name, x", "\"'@name, x\""),
            ("a\r\nb", "a  b"),
            ("＝SUM(1)", "'＝SUM(1)"),
            ("", ""),
        ];
        for (text, cell) in cases {
            assert_eq!(quoted(&harmless(text)), cell, "{text:?}");
        }
    }

    #[test]
    fn numbers_are_no_formulas_and_absent_ones_are_empty() {
        let mut table = Table::default();
        table.number("a", Some(-1.5), 2);
        table.number("b", None, 2);
        table.number("z", Some(-0.001), 2);
        table.count("c", -3);
        table.end_line();
        assert_eq!(table.text, "-1.50,,0.00,-3\r\n");
    }
}
