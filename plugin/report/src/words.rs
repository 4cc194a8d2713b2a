//! Verdicts, findings and joins in plain words: the same on the screen, in exports and in the report.

mod balance;
mod delivery;
mod finding_advice;
mod joins;
mod layers;
mod pair_advice;
#[cfg(test)]
mod tests;
mod tone_match;
mod verdict_text;
mod verdicts;

pub use balance::{aim_words, balance, gain_db, unaccounted};
pub use delivery::{delivery, delivery_of_a_part};
pub use finding_advice::advice;
pub use joins::join;
pub use layers::{LossWords, loss, rests_on};
pub use pair_advice::{and_further, pair, with_sigma};
pub use tone_match::{MOVE_DB, is_unclear, moves};
pub use verdict_text::{Context, State, VerdictText};
pub(crate) use verdicts::contradicts;
pub use verdicts::{mono, phase, width};

use crate::figures::{self, DASH};
use plumbline_measure::bands::BAND_NAMES;
use plumbline_measure::{FrameRate, Grid, SampleRate, Span, Timecode};
use plumbline_programme::Finding;
use plumbline_programme::findings::{Concerned, Grade, Kind};

/// Name of a kind, for a table.
pub fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::OutOfStep => "Out of step",
        Kind::MonoLoss => "Mono loss",
        Kind::OneSided => "One-sided",
        Kind::TruePeak => "True peak over",
        Kind::Clipped => "Clipped",
        Kind::Dropout => "Dropout",
        Kind::Wind => "Wind",
        Kind::Balance => "Balance off",
        Kind::Covered => "Covered",
        Kind::Jump => "Jump",
        Kind::Gap => "Gap",
    }
}

/// An infinite loss.
pub(crate) const ALL_OF_IT: &str = "all of it";

/// Unit of a rule's limit; empty for a plain number. For true peaks it differs from the unit of the worst value.
pub fn limit_unit(kind: Kind) -> &'static str {
    match kind {
        Kind::TruePeak => "dB",
        other => other.unit(),
    }
}

/// Name of a grade, for a table.
pub fn grade(grade: Grade) -> &'static str {
    match grade {
        Grade::Slight => "Slight",
        Grade::Clear => "Clear",
        Grade::Grave => "Grave",
    }
}

/// The worst value of a finding with its unit: "0.92", "6.2 dB", "175 samples", "18 points under". Infinite values are
/// words: "all of it", "digital silence". A dash for NaN.
pub fn worst(finding: &Finding) -> String {
    let worst = finding.worst;
    let unit = finding.kind.unit();
    let with = |places| figures::unit(figures::plain(Some(worst), places), unit);
    match finding.kind {
        Kind::MonoLoss if worst == f64::INFINITY => ALL_OF_IT.to_owned(),
        Kind::OneSided if worst == f64::INFINITY => "digital silence".to_owned(),
        Kind::MonoLoss | Kind::OneSided | Kind::Wind | Kind::Covered | Kind::TruePeak => with(1),
        Kind::OutOfStep => with(2),
        Kind::Dropout => with(0),
        Kind::Clipped | Kind::Gap => figures::count(worst, "sample", "samples"),
        Kind::Balance => points_off(worst),
        Kind::Jump => match figures::plain(Some(worst), 1) {
            none if none == DASH => none,
            size => format!("{size}\u{a0}×"),
        },
    }
}

/// Points off an aim, with the direction: "18 points under", "1 point over".
fn points_off(points: f64) -> String {
    let size = figures::count(points.abs(), "point", "points");
    if size == DASH {
        return size;
    }
    format!("{size} {}", if points < 0.0 { "under" } else { "over" })
}

/// A frequency range: "200–800 Hz", or "all".
pub fn span(span: Option<Span>) -> String {
    span.map_or_else(|| "all".to_owned(), |span| figures::hz_span(&span))
}

/// Layers, role and channel of a finding; may be empty.
pub fn concerns(finding: &Finding) -> String {
    let layers = match (finding.kind, finding.layers.as_slice()) {
        (_, []) => None,
        (Kind::Covered, [covered, by @ ..]) if !by.is_empty() => {
            Some(format!("{} under {}", name(&covered.name), together(by)))
        }
        (_, all) => Some(together(all)),
    };
    let channel = finding.right.map(channel).map(str::to_owned);
    let role = finding.role.map(|role| role.name().to_owned());
    [layers, role, channel].into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// Name of a named band.
fn band(at: usize) -> &'static str {
    BAND_NAMES.get(at).copied().unwrap_or("a band")
}

/// Text with a capital first letter.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

/// "left channel", "right channel".
fn channel(right: bool) -> &'static str {
    if right { "right channel" } else { "left channel" }
}

/// Longest name of a layer in a sentence, letters.
const LONGEST_NAME: usize = 64;

/// A name safe in a sentence: one line, no hidden or reversed text, bounded.
pub(crate) fn name(name: &str) -> String {
    let tame: String = name.chars().map(|c| if turns_or_hides(c) { ' ' } else { c }).collect();
    let mut tame = tame.split_whitespace().collect::<Vec<_>>().join(" ");
    if tame.is_empty() {
        return "a layer without a name".to_owned();
    }
    if let Some((cut, _)) = tame.char_indices().nth(LONGEST_NAME) {
        tame.truncate(cut);
        tame.push('…');
    }
    tame
}

/// Whether a letter is a control character, a line end, a mark of writing direction, or without width.
pub fn turns_or_hides(letter: char) -> bool {
    letter.is_control()
        || matches!(letter, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
}

/// A list of names: "A", "A and B", "A, B and C"; of more, the first three.
fn together(layers: &[Concerned]) -> String {
    let names: Vec<String> = layers.iter().map(|layer| name(&layer.name)).collect();
    match names.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] if names.len() <= 4 => format!("{} and {last}", first.join(", ")),
        many => format!("{} and {} more", many[..3].join(", "), many.len() - 3),
    }
}

/// Start of a tenth: timecode on song time, hours to tenths on clock time.
pub fn place(grid: Grid, tenth: i64, start: Timecode, rate: SampleRate) -> String {
    match grid {
        Grid::Song => Timecode::label_at(start, rate.tenth_start(tenth), rate),
        Grid::Clock => {
            let sign = if tenth < 0 { "−" } else { "" };
            let tenth = tenth.unsigned_abs();
            let secs = tenth / 10;
            format!("{sign}{:02}:{:02}:{:02}.{}", secs / 3600, secs / 60 % 60, secs % 60, tenth % 10)
        }
    }
}

/// A length: "0.3 s", "12 s", "1 min 05 s", "1 h 04 min"; or a dash.
pub fn length(secs: f64) -> String {
    if !(0.0..1e9).contains(&secs) {
        return DASH.to_owned();
    }
    let tenths = (secs * 10.0).round();
    if tenths < 100.0 {
        return figures::unit(figures::plain(Some(tenths / 10.0), 1), "s");
    }
    #[expect(clippy::cast_possible_truncation, reason = "bounded above")]
    let whole = secs.round() as i64;
    match whole {
        ..60 => format!("{whole}\u{a0}s"),
        60..3_600 => format!("{}\u{a0}min {:02}\u{a0}s", whole / 60, whole % 60),
        _ => format!("{}\u{a0}h {:02}\u{a0}min", whole / 3_600, whole / 60 % 60),
    }
}

/// The frame rate in words.
pub fn rate(rate: FrameRate) -> String {
    format!("{} fps", rate.name())
}
