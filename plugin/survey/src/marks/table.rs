//! Marks as CSV (RFC 4180): a header line, then one line per mark.

use super::entry::{self, Entry};
use super::fault::MarksFault;
use super::label::label;
use super::text::{decoded, line_of};
use csv::{ByteRecord, ReaderBuilder};
use plumbline_measure::FrameRate;

/// The longest transition that a mark may have, in seconds.
const TRANSITION_SECS_MOST: f64 = 60.0;

/// Reads marks from CSV.
///
/// A column `timecode` or `seconds` is required; `name` and `transition_seconds` are optional, other columns are
/// ignored. The columns of our own `joins.csv` are recognised too: `at_timecode`, `at_seconds`, `clock`.
///
/// # Errors
/// [`MarksFault`] with the first line that cannot be read.
pub fn read_table(bytes: &[u8], frames: FrameRate) -> Result<Vec<Entry>, MarksFault> {
    let text = decoded(bytes)?;
    let mut reader = ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
    let mut record = ByteRecord::new();
    let mut columns: Option<Columns> = None;
    let mut entries = Vec::new();
    let mut started = 0;
    loop {
        let more = reader.read_byte_record(&mut record);
        let at =
            record.position().map_or(0, |position| usize::try_from(position.byte()).unwrap_or(usize::MAX));
        let fault = |what: String| MarksFault::new(line_of(text.as_bytes(), at), what);
        match more {
            Ok(true) => started = at,
            Ok(false) => break,
            Err(error) => return Err(fault(format!("cannot be read as CSV ({error}); expected RFC 4180"))),
        }
        let cells: Vec<&str> =
            record.iter().map(|cell| std::str::from_utf8(cell).unwrap_or("").trim()).collect();
        match &columns {
            None => columns = Some(Columns::of(&cells).map_err(fault)?),
            Some(_) if cells.iter().all(|cell| cell.is_empty()) => {}
            Some(columns) => entries.push(columns.entry(&cells, frames).map_err(fault)?),
        }
    }
    // The reader takes everything after an open quote as text, and would lose the lines in it.
    if text.bytes().filter(|byte| *byte == b'"').count() % 2 == 1 {
        let line = line_of(text.as_bytes(), started);
        return Err(MarksFault::new(
            line,
            "opens a quote that is not closed; expected quotes in pairs (RFC 4180)",
        ));
    }
    if columns.is_none() {
        return Err(MarksFault::new(1, "is empty; expected a line of names with timecode or seconds"));
    }
    Ok(entries)
}

/// The positions of the columns.
struct Columns {
    count: usize,
    timecode: Option<usize>,
    seconds: Option<usize>,
    name: Option<usize>,
    transition: Option<usize>,
    clock: Option<usize>,
}

impl Columns {
    fn of(names: &[&str]) -> Result<Self, String> {
        let find = |wanted: &[&str]| {
            wanted.iter().find_map(|wanted| names.iter().position(|name| name.eq_ignore_ascii_case(wanted)))
        };
        let columns = Self {
            count: names.len(),
            timecode: find(&["timecode", "at_timecode"]),
            seconds: find(&["seconds", "at_seconds"]),
            name: find(&["name"]),
            transition: find(&["transition_seconds"]),
            clock: find(&["clock"]),
        };
        if columns.timecode.is_none() && columns.seconds.is_none() {
            return Err("has no column timecode or seconds; expected names of columns, with commas between"
                .to_owned());
        }
        Ok(columns)
    }

    fn entry(&self, cells: &[&str], frames: FrameRate) -> Result<Entry, String> {
        if cells.len() > self.count {
            return Err(format!(
                "has {} cells, and the line of names has {}; put quotes around text with a comma",
                cells.len(),
                self.count
            ));
        }
        let cell = |column: Option<usize>| {
            column.and_then(|column| cells.get(column)).copied().filter(|cell| !cell.is_empty())
        };
        let name = cell(self.name).and_then(|cell| entry::name(&without_apostrophes(cell)));
        let transition_frames = match cell(self.transition) {
            Some(text) => transition(text, frames)?,
            None => 0,
        };
        let (timecode, seconds) = (cell(self.timecode), cell(self.seconds));
        if timecode.is_none() && seconds.is_none() {
            return Err(match (self.timecode, self.seconds) {
                (Some(_), None) => "has no timecode; expected HH:MM:SS:FF",
                (None, Some(_)) => "has no seconds; expected a number",
                _ => "has neither timecode nor seconds; expected one of them",
            }
            .to_owned());
        }
        let seconds = seconds.map(number).transpose()?;
        // A join on the computer's clock, or before 00:00:00:00, is outside any programme.
        let elsewhere =
            cell(self.clock) == Some("clock") || timecode.is_some_and(|text| text.starts_with('−'));
        if elsewhere {
            return Ok(Entry { name, transition_frames, ..Entry::default() });
        }
        let label = timecode.map(|text| label(text, frames)).transpose()?;
        Ok(Entry { label, seconds, name, transition_frames })
    }
}

/// A number of seconds with a decimal point.
fn number(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|seconds| seconds.is_finite())
        .ok_or_else(|| format!("`{text}` cannot be read as seconds; expected digits with a decimal point"))
}

/// A transition in seconds, converted to frames.
fn transition(text: &str, frames: FrameRate) -> Result<u32, String> {
    let seconds = number(text)?;
    if !(0.0..=TRANSITION_SECS_MOST).contains(&seconds) {
        return Err(format!(
            "the transition length `{text}` is out of range; expected 0 to {TRANSITION_SECS_MOST} s"
        ));
    }
    let (numerator, denominator) = frames.fraction();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 3600")]
    let count = (seconds * f64::from(numerator) / f64::from(denominator)).round() as u32;
    Ok(count)
}

/// A name without the apostrophes that our own tables add, at its start and after each `;`, so that no spreadsheet runs
/// it as a formula.
fn without_apostrophes(cell: &str) -> String {
    let formula = |text: &&str| {
        text.trim_start_matches('\'').trim_start().starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠'])
    };
    let piece = |piece| str::strip_prefix(piece, '\'').filter(formula).unwrap_or(piece);
    cell.split(';').map(piece).collect::<Vec<_>>().join(";")
}
