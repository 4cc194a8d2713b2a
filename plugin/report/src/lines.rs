//! Lines that the plug-in's export and the report of a survey share. Numbers are rounded to what is shown at most, and
//! never NaN or infinite.

use crate::document::{Change, FindingLine, JoinLine, LayerName, Moment, ReadingLine, SideLine};
use crate::words;
use plumbline_measure::{Grid, Readings, SampleRate, Timecode};
use plumbline_programme::Finding;
use plumbline_programme::findings::Grade;
use plumbline_programme::joins::{Join, Side};

/// Decimals of readings.
const READING: i32 = 4;
/// Decimals of seconds that come from samples: a third of a sample at the highest rate.
pub(crate) const SECONDS: i32 = 6;

/// A finite value, rounded; NaN, infinities and what overflows are absent.
pub(crate) fn rounded(value: f64, places: i32) -> Option<f64> {
    let scale = 10_f64.powi(places);
    let rounded = (value * scale).round() / scale;
    // Adding zero makes 0 of −0.
    rounded.is_finite().then_some(rounded + 0.0)
}

pub(crate) fn tidy(value: Option<f64>) -> Option<f64> {
    rounded(value?, READING)
}

pub(crate) fn tidy_all<const N: usize>(values: [Option<f64>; N]) -> [Option<f64>; N] {
    values.map(tidy)
}

/// A value that is a number by contract; what is none becomes 0, which no reading is left to.
pub(crate) fn sure(value: f64) -> f64 {
    rounded(value, READING).unwrap_or(0.0)
}

/// Text as JSON and CSV carry it: no-break spaces are for the eye.
pub(crate) fn said(words: String) -> String {
    words.replace('\u{a0}', " ")
}

/// Makes moments of tenths and samples.
#[derive(Clone, Copy)]
pub(crate) struct Time {
    pub(crate) start: Timecode,
    pub(crate) rate: SampleRate,
}

impl Time {
    pub(crate) fn tenth(self, grid: Grid, tenth: i64) -> Moment {
        Moment { secs: tenth as f64 / 10.0, ..self.sample(grid, self.rate.tenth_start(tenth)) }
    }

    pub(crate) fn sample(self, grid: Grid, sample: i64) -> Moment {
        let (clock, timecode) = match grid {
            Grid::Song => ("song", Some(Timecode::label_at(self.start, sample, self.rate))),
            Grid::Clock => ("clock", None),
        };
        let secs = rounded(sample as f64 / self.rate.as_f64(), SECONDS).unwrap_or_default();
        Moment { clock: clock.to_owned(), secs, sample, timecode }
    }
}

pub(crate) fn finding(finding: &Finding, time: Time) -> FindingLine {
    let grade = match finding.grade {
        Grade::Slight => "slight",
        Grade::Clear => "clear",
        Grade::Grave => "grave",
    };
    let name = |layer: &plumbline_programme::findings::Concerned| LayerName {
        id: format!("{:016x}", layer.id.0),
        name: layer.name.clone(),
    };
    FindingLine {
        number: finding.id,
        kind: finding.kind.key().to_owned(),
        name: words::kind(finding.kind).to_owned(),
        grade: grade.to_owned(),
        start: time.tenth(finding.grid, finding.start),
        end: time.tenth(finding.grid, finding.end),
        length_secs: finding.secs(),
        open: finding.open,
        low_hz: finding.span.and_then(|span| tidy(Some(span.low_hz))),
        high_hz: finding.span.and_then(|span| tidy(Some(span.high_hz))),
        worst: tidy(Some(finding.worst)),
        unit: finding.kind.unit().to_owned(),
        words: said(words::worst(finding)),
        worst_at: time.tenth(finding.grid, finding.at),
        opposed: finding.opposed,
        channel: finding.right.map(|right| if right { "right" } else { "left" }.to_owned()),
        role: finding.role.map(|role| role.name().to_owned()),
        layers: finding.layers.iter().map(name).collect(),
        advice: said(words::advice(finding)),
        seen: finding.seen,
    }
}

fn side(side: &Side) -> SideLine {
    SideLine {
        secs: f64::from(side.tenths) / 10.0,
        loudness_lufs: tidy(side.loudness_lufs),
        tone_db_per_octave: tidy(side.tone_db_per_octave),
        side_share: tidy(side.side_share),
        shares: tidy_all(side.shares),
        thirds_dbfs: side.thirds_dbfs.map(|level| tidy(level.get())),
    }
}

pub(crate) fn join(join: &Join, time: Time) -> JoinLine {
    JoinLine {
        number: join.id,
        at: time.sample(join.grid, join.sample),
        marked: join.marked,
        found: join.found,
        size: sure(join.size()),
        words: said(words::join(join)),
        takes_secs: tidy(join.takes_secs),
        change: Change {
            loudness_lu: tidy(join.loudness_lu()),
            tone_db_per_octave: tidy(join.tone()),
            side_share: tidy(join.width()),
            shares: std::array::from_fn(|part| tidy(join.share(part))),
        },
        before: side(&join.before),
        after: side(&join.after),
    }
}

pub(crate) fn readings(readings: &Readings) -> ReadingLine {
    let gone = readings.mono_loss_db == Some(f64::NEG_INFINITY);
    ReadingLine {
        level_dbfs: tidy(readings.level_dbfs),
        left_dbfs: tidy(readings.channel_dbfs[0]),
        right_dbfs: tidy(readings.channel_dbfs[1]),
        side_share: tidy(readings.side_share),
        correlation: tidy(readings.correlation),
        coherence: tidy(readings.coherence),
        out_of_step: tidy(readings.out_of_step),
        balance_db: tidy(readings.balance_db),
        mono_loss_db: tidy(readings.mono_loss_db),
        words: gone.then(|| words::ALL_OF_IT.to_owned()),
    }
}
