//! Tables as CSV (RFC 4180): a line of names, then a line each. Numbers have a point; absent readings are empty.
//!
//! A spreadsheet takes text that begins with `=`, `+`, `-` or `@` for a formula, and one set to `;` starts a cell after
//! each of these. Names come from anywhere, so such text gets an apostrophe in front; numbers do not.

use crate::format::{Finding, Join, Measured, Moment, Passage, Reading, Side};
use crate::moment::Time;
use crate::words;
use csv::{Terminator, WriterBuilder};
use plumbline_measure::bands::{BAND_NAMES, LONG, THIRD_LABELS};
use plumbline_measure::loudness::lufs;
use plumbline_measure::{Gate, Readings, SampleRate, StereoPower, Tenth, Timecode};
use plumbline_programme::Role;

/// One line, with the names of its columns.
#[derive(Default)]
struct Line {
    names: Vec<String>,
    cells: Vec<String>,
}

impl Line {
    fn cell(&mut self, name: impl Into<String>, cell: String) {
        self.names.push(name.into());
        self.cells.push(cell);
    }

    fn text(&mut self, name: impl Into<String>, text: &str) {
        self.cell(name, harmless(text));
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
        self.number(format!("{name}_seconds"), Some(moment.seconds), 6);
        self.count(format!("{name}_sample"), moment.sample);
    }

    /// A column for each role that has a share: `natural_share_percent`.
    fn roles(&mut self, before: &str, after: &str, values: [Option<f64>; Role::PARTS.len()]) {
        for (role, value) in Role::PARTS.into_iter().zip(values) {
            self.number(format!("{before}{}_{after}", role.name().to_lowercase()), value, 2);
        }
    }
}

fn written(lines: impl IntoIterator<Item = Vec<String>>) -> String {
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    for line in lines {
        // Memory takes every write, and all lines have the same columns.
        let _ = writer.write_record(line);
    }
    writer.into_inner().ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default()
}

/// A table of `items`. The names come from a default item, so an empty table has them too.
fn table<T: Default>(items: &[T], fill: impl Fn(&mut Line, &T)) -> String {
    let line = |item: &T| {
        let mut line = Line::default();
        fill(&mut line, item);
        line
    };
    written([line(&T::default()).names].into_iter().chain(items.iter().map(|item| line(item).cells)))
}

/// A number with a point and without a minus zero; empty if absent.
fn digits(value: Option<f64>, places: usize) -> String {
    let Some(value) = value.filter(|value| value.is_finite()) else { return String::new() };
    let digits = format!("{value:.places$}");
    let zero = digits.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    if zero { digits.replace('-', "") } else { digits }
}

/// Text on one line that no spreadsheet takes for a formula, as a whole or after a `;`. Without one apostrophe where a
/// formula would follow, it is as it was.
fn harmless(text: &str) -> String {
    let tame: String = text.chars().map(|c| if words::turns_or_hides(c) { ' ' } else { c }).collect();
    let piece = |piece: &str| {
        let formula = piece
            .trim_start_matches('\'')
            .trim_start()
            .starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠']);
        if formula { format!("'{piece}") } else { piece.to_owned() }
    };
    tame.split(';').map(piece).collect::<Vec<_>>().join(";")
}

pub(crate) fn findings(layer: &str, findings: &[Finding]) -> String {
    table(findings, |line, finding: &Finding| {
        line.text("layer", layer);
        line.count("number", finding.number);
        line.text("kind", &finding.kind);
        line.text("severity", &finding.severity);
        line.text("clock", &finding.start.clock);
        line.moment("start", &finding.start);
        line.moment("end", &finding.end);
        line.number("seconds", Some(finding.seconds), 1);
        line.flag("open", finding.open);
        line.number("low_hz", finding.low_hz, 1);
        line.number("high_hz", finding.high_hz, 1);
        line.number("worst", finding.worst, 2);
        line.text("unit", &finding.unit);
        line.text("words", &finding.words);
        line.moment("worst_at", &finding.worst_at);
        line.flag("opposed", finding.opposed);
        line.text("cause", finding.cause.as_deref().unwrap_or_default());
        line.text("follows", &finding.follows.map(|number| number.to_string()).unwrap_or_default());
        line.text("channel", finding.channel.as_deref().unwrap_or_default());
        line.text("role", finding.role.as_deref().unwrap_or_default());
        let layers: Vec<&str> = finding.layers.iter().map(|layer| layer.name.as_str()).collect();
        line.text("layers", &layers.join("; "));
        line.text("owner", &finding.owner);
        line.text("advice", &finding.advice);
        line.flag("done", finding.done);
    })
}

pub(crate) fn joins(layer: &str, joins: &[Join]) -> String {
    table(joins, |line, join: &Join| {
        line.text("layer", layer);
        line.count("number", join.number);
        line.text("clock", &join.at.clock);
        line.moment("at", &join.at);
        line.flag("marked", join.marked);
        line.flag("found", join.found);
        line.text("name", join.name.as_deref().unwrap_or_default());
        line.number("transition_seconds", join.transition_seconds, 4);
        line.number("size", Some(join.size), 2);
        line.text("words", &join.words);
        line.number("takes_seconds", join.takes_seconds, 2);
        line.number("change_loudness_lu", join.change.loudness_lu, 2);
        line.number("change_tone_db_per_octave", join.change.tone_db_per_octave, 2);
        line.number("change_width_percent", join.change.width_percent, 2);
        line.roles("change_", "share_percent", join.change.shares_percent);
        side(line, "before", &join.before);
        side(line, "after", &join.after);
    })
}

/// Joins as marks for other programs: the columns that a survey reads.
pub(crate) fn marks(joins: &[Join]) -> String {
    table(joins, |line, join: &Join| {
        line.cell("timecode", join.at.timecode.clone().unwrap_or_default());
        line.number("seconds", Some(join.at.seconds), 6);
        line.text("name", join.name.as_deref().unwrap_or_default());
        line.number("transition_seconds", join.transition_seconds, 4);
    })
}

fn side(line: &mut Line, name: &str, side: &Side) {
    line.number(format!("{name}_seconds"), Some(side.seconds), 1);
    line.number(format!("{name}_loudness_lufs"), side.loudness_lufs, 2);
    line.number(format!("{name}_tone_db_per_octave"), side.tone_db_per_octave, 2);
    line.number(format!("{name}_width_percent"), side.width_percent, 2);
    line.roles(&format!("{name}_"), "share_percent", side.shares_percent);
    for (label, level) in THIRD_LABELS.iter().zip(side.thirds_dbfs) {
        line.number(format!("{name}_{label}_dbfs"), level, 2);
    }
}

pub(crate) fn passages(layer: &str, passages: &[Passage]) -> String {
    table(passages, |line, passage: &Passage| {
        let Measured { loudness, whole, .. } = &passage.measured;
        line.text("layer", layer);
        line.count("number", passage.number);
        line.text("clock", &passage.start.clock);
        line.moment("start", &passage.start);
        line.moment("end", &passage.end);
        line.number("heard_seconds", Some(passage.heard_seconds), 1);
        line.number("integrated_lufs", loudness.integrated_lufs, 2);
        line.number("range_lu", loudness.range_lu, 2);
        line.number("max_momentary_lufs", loudness.max_momentary_lufs, 2);
        line.number("max_short_term_lufs", loudness.max_short_term_lufs, 2);
        for (at, name) in ["left", "right"].into_iter().enumerate() {
            line.number(format!("true_peak_{name}_dbtp"), loudness.true_peak_by_channel_dbtp[at], 2);
            line.number(format!("peak_{name}_dbfs"), loudness.peak_by_channel_dbfs[at], 2);
            line.count(format!("overs_{name}"), loudness.overs[at]);
        }
        line.count("lost", passage.lost);
        line.count("not_finite", passage.measured.not_finite);
        line.number("lowest_correlation", passage.measured.lowest_correlation, 4);
        line.roles("", "share_percent", passage.shares_percent);
        line.roles("", "lead_percent", passage.leads_percent);
        line.number("unaccounted_db", passage.unaccounted_db, 2);
        reading(line, "", whole);
        let none = Reading::default();
        for (at, name) in BAND_NAMES.iter().enumerate() {
            let name = name.to_lowercase().replace(' ', "_") + "_";
            reading(line, &name, passage.measured.bands.get(at).map_or(&none, |band| &band.reading));
        }
    })
}

fn reading(line: &mut Line, name: &str, reading: &Reading) {
    line.number(format!("{name}level_dbfs"), reading.level_dbfs, 2);
    line.number(format!("{name}left_dbfs"), reading.left_dbfs, 2);
    line.number(format!("{name}right_dbfs"), reading.right_dbfs, 2);
    line.number(format!("{name}width_percent"), reading.width_percent, 2);
    line.number(format!("{name}correlation"), reading.correlation, 4);
    line.number(format!("{name}coherence"), reading.coherence, 4);
    line.number(format!("{name}out_of_step"), reading.out_of_step, 4);
    line.number(format!("{name}balance_db"), reading.balance_db, 2);
    match &reading.mono_loss_words {
        Some(words) => line.text(format!("{name}mono_loss_db"), words),
        None => line.number(format!("{name}mono_loss_db"), reading.mono_loss_db, 2),
    }
}

/// Names of the columns of [`tenth_line`], with the line end.
pub fn tenths_head() -> String {
    written([tenth("", &Tenth::default(), &Moment::default(), 0).names])
}

/// One 0.1 s block of a layer as CSV, with the line end: written at once, since blocks are not kept. Readings are of 20
/// Hz to 20 kHz.
pub fn tenth_line(layer: &str, of: &Tenth, start: Timecode, rate: SampleRate) -> String {
    let at = Time { start, rate }.tenth(of.grid, of.index);
    written([tenth(layer, of, &at, rate.tenth_start(of.index)).cells])
}

/// The columns of a block that starts at a moment and a sample.
fn tenth(layer: &str, tenth: &Tenth, at: &Moment, start: i64) -> Line {
    let frames = tenth.frames_of[LONG];
    let cross = if frames > 0 {
        StereoPower::from(tenth.whole) * (1.0 / f64::from(frames))
    } else {
        StereoPower::default()
    };
    let finite = [cross.ll, cross.rr, cross.re].iter().all(|x| x.is_finite());
    let read = if finite {
        Readings::of(&cross, tenth.coherent_whole, Gate::broadband())
    } else {
        Readings::default()
    };
    let read = crate::conversion::reading(&read);
    let peak = |peak: f32| (peak > 0.0).then(|| 20.0 * f64::from(peak).log10());
    let onset = tenth.onset.strength > 0.0;
    let onset_sample = start.saturating_add(i64::from(tenth.onset.at));
    let mut line = Line::default();
    line.text("layer", layer);
    line.count("index", tenth.index);
    line.cell("timecode", at.timecode.clone().unwrap_or_default());
    line.number("seconds", Some(at.seconds), 1);
    line.count("samples", tenth.sums.frames);
    line.number("k_weighted_lufs", Some(lufs(tenth.sums.k / f64::from(tenth.sums.frames.max(1)))), 2);
    line.number("max_momentary_lufs", tenth.max_momentary.get(), 2);
    line.number("short_term_lufs", tenth.short_term.get(), 2);
    line.number("true_peak_left_dbtp", peak(tenth.true_peak[0]), 2);
    line.number("true_peak_right_dbtp", peak(tenth.true_peak[1]), 2);
    line.count("overs_left", tenth.overs[0]);
    line.count("overs_right", tenth.overs[1]);
    line.count("not_finite", tenth.faults.not_finite);
    line.number("lowest_correlation", tenth.lowest_correlation.get(), 4);
    reading(&mut line, "", &read);
    line.cell("onset_sample", if onset { onset_sample.to_string() } else { String::new() });
    line.number("onset_strength", onset.then(|| f64::from(tenth.onset.strength)), 2);
    line
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
            ("bell; tower", "bell; tower"),
            ("'=1", "''=1"),
            ("mason's", "mason's"),
            ("bell;=1+1", "bell;'=1+1"),
            ("bell; @tower;-3", "bell;' @tower;'-3"),
        ];
        for (text, cell) in cases {
            assert_eq!(written([vec![harmless(text)]]), format!("{cell}\r\n"), "{text:?}");
        }
    }

    #[test]
    fn numbers_are_no_formulas_and_absent_ones_are_empty() {
        let mut line = Line::default();
        line.number("a", Some(-1.5), 2);
        line.number("b", None, 2);
        line.number("z", Some(-0.001), 2);
        line.count("c", -3);
        assert_eq!(written([line.names, line.cells]), "a,b,z,c\r\n-1.50,,0.00,-3\r\n");
    }
}
