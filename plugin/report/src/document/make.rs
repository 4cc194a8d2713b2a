//! From a log to plain data.

use super::{BandLine, Delivery, Document, FORMAT, Frames, Limit, Passage, VERSION};
use crate::lines::{Time, finding, join, readings, sure, tidy, tidy_all};
use crate::report::Report;
use crate::words;
use plumbline_measure::bands::BAND_NAMES;
use plumbline_measure::{FrameRate, Readings};
use plumbline_programme::delivery::Target;
use plumbline_programme::findings::Kind;
use plumbline_programme::{PassageLine, Rules};

impl Document {
    /// Plain data of a report.
    pub(crate) fn of(report: &Report<'_>) -> Self {
        let time = Time { start: report.start, rate: report.rate };
        let log = report.log;
        Self {
            format: FORMAT.to_owned(),
            version: VERSION,
            layer: report.layer.to_owned(),
            role: report.role.name().to_owned(),
            date: report.date.to_owned(),
            frame_rate: frames(report.start.rate()),
            start_timecode: report.start.to_string(),
            sample_rate_hz: report.rate.hz(),
            target: delivery(&report.target),
            rules: limits(report.rules),
            band_edges_hz: report.band_edges.edges().map(sure),
            dropped: log.dropped,
            findings: log.findings.iter().map(|one| finding(one, time)).collect(),
            joins: log.joins.iter().map(|one| join(one, time)).collect(),
            marks: log.marks.iter().map(|mark| time.tenth(mark.grid, mark.index)).collect(),
            passages: (0..).zip(&log.passages).map(|(number, line)| passage(number, line, time)).collect(),
        }
    }
}

pub(crate) fn frames(frames: FrameRate) -> Frames {
    let (numerator, denominator) = frames.fraction();
    Frames { name: frames.name().to_owned(), numerator, denominator, drop: frames.dropped() > 0 }
}

pub(crate) fn delivery(target: &Target) -> Delivery {
    Delivery {
        integrated_lufs: sure(target.integrated_lufs),
        above_lu: sure(target.above_lu),
        below_lu: sure(target.below_lu),
        true_peak_dbtp: sure(target.true_peak_dbtp),
        max_short_term_lufs: tidy(target.max_short_term_lufs),
    }
}

pub(crate) fn limits(rules: &Rules) -> Vec<Limit> {
    let limit = |kind: Kind| {
        let rule = rules.get(kind);
        Limit {
            kind: kind.key().to_owned(),
            on: rule.on,
            limit: sure(rule.limit),
            unit: words::limit_unit(kind).to_owned(),
            secs: sure(rule.secs),
        }
    };
    Kind::ALL.into_iter().map(limit).collect()
}

pub(crate) fn passage(number: u64, line: &PassageLine, time: Time) -> Passage {
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
