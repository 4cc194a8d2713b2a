//! From a log to plain data: numbers are rounded to what is shown at most, and never NaN or infinite.

use super::{
    BandLine, Change, Delivery, Document, FORMAT, FindingLine, Frames, JoinLine, LayerName, Limit, Moment,
    Passage, ReadingLine, SideLine, VERSION,
};
use crate::report::Report;
use crate::words;
use plumbline_measure::bands::BAND_NAMES;
use plumbline_measure::findings::{Grade, Kind};
use plumbline_measure::joins::{Join, Side};
use plumbline_measure::{Finding, Grid, PassageLine, Readings, SampleRate, Timecode};

/// Decimals of readings.
const READING: i32 = 4;
/// Decimals of seconds that come from samples: a third of a sample at the highest rate.
const SECONDS: i32 = 6;

/// A finite value, rounded; NaN, infinities and what overflows are absent.
fn rounded(value: f64, places: i32) -> Option<f64> {
    let scale = 10_f64.powi(places);
    let rounded = (value * scale).round() / scale;
    // Adding zero makes 0 of −0.
    rounded.is_finite().then_some(rounded + 0.0)
}

fn tidy(value: Option<f64>) -> Option<f64> {
    rounded(value?, READING)
}

fn tidy_all<const N: usize>(values: [Option<f64>; N]) -> [Option<f64>; N] {
    values.map(tidy)
}

/// A value that is a number by contract; what is none becomes 0, which no reading is left to.
fn sure(value: f64) -> f64 {
    rounded(value, READING).unwrap_or(0.0)
}

/// Text as JSON and CSV carry it: no-break spaces are for the eye.
fn said(words: String) -> String {
    words.replace('\u{a0}', " ")
}

/// Makes moments of tenths and samples.
#[derive(Clone, Copy)]
struct Time {
    start: Timecode,
    rate: SampleRate,
}

impl Time {
    fn tenth(self, grid: Grid, tenth: i64) -> Moment {
        Moment { secs: tenth as f64 / 10.0, ..self.sample(grid, self.rate.tenth_start(tenth)) }
    }

    fn sample(self, grid: Grid, sample: i64) -> Moment {
        let (clock, timecode) = match grid {
            Grid::Song => ("song", Some(Timecode::at(self.start, sample, self.rate).to_string())),
            Grid::Clock => ("clock", None),
        };
        let secs = rounded(sample as f64 / self.rate.as_f64(), SECONDS).unwrap_or_default();
        Moment { clock: clock.to_owned(), secs, sample, timecode }
    }
}

impl Document {
    /// Plain data of a report.
    pub(crate) fn of(report: &Report<'_>) -> Self {
        let time = Time { start: report.start, rate: report.rate };
        let frames = report.start.rate();
        let (numerator, denominator) = frames.fraction();
        let target = report.target;
        let rule = |kind: Kind| {
            let rule = report.rules.get(kind);
            Limit {
                kind: kind.key().to_owned(),
                on: rule.on,
                limit: sure(rule.limit),
                unit: words::limit_unit(kind).to_owned(),
                secs: sure(rule.secs),
            }
        };
        let log = report.log;
        Self {
            format: FORMAT.to_owned(),
            version: VERSION,
            layer: report.layer.to_owned(),
            role: report.role.name().to_owned(),
            date: report.date.to_owned(),
            frame_rate: Frames {
                name: frames.name().to_owned(),
                numerator,
                denominator,
                drop: frames.dropped() > 0,
            },
            start_timecode: report.start.to_string(),
            sample_rate_hz: report.rate.hz(),
            target: Delivery {
                integrated_lufs: sure(target.integrated_lufs),
                above_lu: sure(target.above_lu),
                below_lu: sure(target.below_lu),
                true_peak_dbtp: sure(target.true_peak_dbtp),
                max_short_term_lufs: tidy(target.max_short_term_lufs),
            },
            rules: Kind::ALL.into_iter().map(rule).collect(),
            band_edges_hz: report.band_edges.edges().map(sure),
            dropped: log.dropped,
            findings: log.findings.iter().map(|finding| finding_line(finding, time)).collect(),
            joins: log.joins.iter().map(|join| join_line(join, time)).collect(),
            marks: log.marks.iter().map(|mark| time.tenth(mark.grid, mark.index)).collect(),
            passages: (0..).zip(&log.passages).map(|(number, line)| passage(number, line, time)).collect(),
        }
    }
}

fn finding_line(finding: &Finding, time: Time) -> FindingLine {
    let grade = match finding.grade {
        Grade::Slight => "slight",
        Grade::Clear => "clear",
        Grade::Grave => "grave",
    };
    let name = |layer: &plumbline_measure::findings::Concerned| LayerName {
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

fn join_line(join: &Join, time: Time) -> JoinLine {
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

fn readings(readings: &Readings) -> ReadingLine {
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

fn passage(number: u64, line: &PassageLine, time: Time) -> Passage {
    let band =
        |(name, band): (&&str, &Readings)| BandLine { name: (*name).to_owned(), readings: readings(band) };
    Passage {
        number,
        start: time.tenth(line.grid, line.start),
        end: time.tenth(line.grid, line.end),
        heard_secs: sure(line.secs),
        integrated_lufs: tidy(line.loudness.integrated_lufs),
        range_lu: tidy(line.loudness.range_lu),
        max_momentary_lufs: tidy(line.loudness.max_momentary_lufs),
        max_short_term_lufs: tidy(line.loudness.max_short_term_lufs),
        true_peak_dbtp: tidy_all(line.loudness.true_peak_dbtp),
        peak_dbfs: tidy_all(line.peak_dbfs),
        overs: line.overs,
        lost: line.lost,
        not_finite: line.not_finite,
        lowest_correlation: tidy(line.lowest_correlation),
        shares: tidy_all(line.shares),
        leads: tidy_all(line.leads),
        unaccounted_db: tidy(line.unaccounted_db),
        whole: readings(&line.whole),
        bands: BAND_NAMES.iter().zip(&line.bands).map(band).collect(),
    }
}
