//! Findings and joins in plain words: the same on the screen, in exports and in the report.

use plumbline_measure::findings::Kind;
use plumbline_measure::{Finding, FrameRate, Grid, SampleRate, Timecode};

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

/// What is to be done about a finding: one sentence.
pub fn advice(_finding: &Finding) -> String {
    String::new()
}

/// Where a tenth starts, as a label: timecode on song time, hours to tenths on clock time.
pub fn place(grid: Grid, tenth: i64, start: Timecode, rate: SampleRate) -> String {
    match grid {
        Grid::Song => Timecode::at(start, rate.tenth_start(tenth), rate).to_string(),
        Grid::Clock => {
            let sign = if tenth < 0 { "-" } else { "" };
            let tenth = tenth.unsigned_abs();
            let secs = tenth / 10;
            format!("{sign}{:02}:{:02}:{:02}.{}", secs / 3600, secs / 60 % 60, secs % 60, tenth % 10)
        }
    }
}

/// The frame rate in words.
pub fn rate(rate: FrameRate) -> String {
    format!("{} fps", rate.name())
}
