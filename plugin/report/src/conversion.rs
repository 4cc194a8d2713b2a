//! Parts of the formats from measured values.

use crate::format::{
    Band, Change, Finding, FrameRate, Join, LayerRef, Loudness, Measured, Passage, Programme, Reading, Rule,
    Side, Target,
};
use crate::moment::Time;
use crate::rounding::{or_zero, percent, rounded};
use crate::words;
use plumbline_measure::bands::BAND_NAMES;
use plumbline_measure::{BandEdges, Readings, Span};
use plumbline_programme::arrival::Cause;
use plumbline_programme::delivery;
use plumbline_programme::findings::{self, Concerned, Grade};
use plumbline_programme::joins;
use plumbline_programme::survey::Mark;
use plumbline_programme::{Kind, LayerId, PassageLine, Rules};
use serde::Serialize;

/// Text as JSON and CSV carry it: with plain spaces, since no-break spaces are for the eye.
pub(crate) fn spaced(words: String) -> String {
    words.replace('\u{a0}', " ")
}

/// A document as JSON.
pub(crate) fn json(document: &impl Serialize) -> String {
    // Maps with text keys and finite numbers only: nothing can fail.
    serde_json::to_string_pretty(document).unwrap_or_default() + "\n"
}

pub(crate) fn programme(time: Time, samples: Option<u64>) -> Programme {
    let end = samples.map(|samples| i64::try_from(samples).unwrap_or(i64::MAX));
    let frames = time.start.rate();
    let (numerator, denominator) = frames.fraction();
    Programme {
        seconds: end.map(|end| time.seconds(end)),
        samples,
        sample_rate_hz: time.rate.hz(),
        start_timecode: time.start.to_string(),
        end_timecode: end.map(|end| time.label(end)),
        frame_rate: FrameRate {
            name: frames.name().to_owned(),
            numerator,
            denominator,
            drop: frames.dropped() > 0,
        },
    }
}

pub(crate) fn target(target: &delivery::Target, name: Option<&str>) -> Target {
    Target {
        name: name.map(str::to_owned),
        integrated_lufs: or_zero(target.integrated_lufs),
        above_lu: or_zero(target.above_lu),
        below_lu: or_zero(target.below_lu),
        true_peak_dbtp: or_zero(target.true_peak_dbtp),
        max_short_term_lufs: rounded(target.max_short_term_lufs),
    }
}

pub(crate) fn rules(rules: &Rules) -> Vec<Rule> {
    let rule = |kind: Kind| {
        let rule = rules.get(kind);
        Rule {
            kind: kind.key().to_owned(),
            on: rule.on,
            limit: or_zero(rule.limit),
            unit: words::limit_unit(kind).to_owned(),
            seconds: or_zero(rule.secs),
        }
    };
    Kind::ALL.into_iter().map(rule).collect()
}

pub(crate) fn layer(id: LayerId, name: &str) -> LayerRef {
    LayerRef { id: format!("{:016x}", id.0), name: name.to_owned() }
}

pub(crate) fn finding(finding: &findings::Finding, time: Time) -> Finding {
    let severity = match finding.grade {
        Grade::Slight => "slight",
        Grade::Clear => "clear",
        Grade::Grave => "grave",
    };
    let concerned = |one: &Concerned| layer(one.id, &one.name);
    Finding {
        number: finding.id,
        kind: finding.kind.key().to_owned(),
        name: words::kind(finding.kind).to_owned(),
        severity: severity.to_owned(),
        start: time.tenth(finding.grid, finding.start),
        end: time.tenth(finding.grid, finding.end),
        seconds: finding.secs(),
        open: finding.open,
        low_hz: finding.span.and_then(|span| rounded(Some(span.low_hz))),
        high_hz: finding.span.and_then(|span| rounded(Some(span.high_hz))),
        worst: rounded(Some(finding.worst)),
        unit: finding.kind.unit().to_owned(),
        words: spaced(words::worst(finding)),
        worst_at: time.tenth(finding.grid, finding.at),
        opposed: finding.cause == Some(Cause::Inverted),
        cause: finding.cause.map(|cause| cause.key().to_owned()),
        channel: finding.right.map(|right| if right { "right" } else { "left" }.to_owned()),
        follows: finding.follows,
        role: finding.role.map(|role| role.name().to_owned()),
        layers: finding.layers.iter().map(concerned).collect(),
        owner: spaced(words::concerns(finding)),
        advice: spaced(words::advice(finding)),
        done: finding.seen,
    }
}

fn side(side: &joins::Side) -> Side {
    Side {
        seconds: f64::from(side.tenths) / 10.0,
        loudness_lufs: rounded(side.loudness_lufs),
        tone_db_per_octave: rounded(side.tone_db_per_octave),
        width_percent: percent(side.side_share),
        shares_percent: side.shares.map(percent),
        thirds_dbfs: side.thirds_dbfs.map(|level| rounded(level.get())),
    }
}

/// A join with its mark, if it has one.
pub(crate) fn join(join: &joins::Join, mark: Option<&Mark>, time: Time) -> Join {
    Join {
        number: join.id,
        at: time.sample(join.grid, join.sample),
        marked: join.marked,
        found: join.found,
        name: mark.and_then(|mark| mark.name.clone()),
        transition_seconds: mark.and_then(|mark| transition(mark, time)),
        size: or_zero(join.size()),
        words: spaced(words::join(join)),
        takes_seconds: rounded(join.takes_secs),
        change: Change {
            loudness_lu: rounded(join.loudness_lu()),
            tone_db_per_octave: rounded(join.tone()),
            width_percent: percent(join.width()),
            shares_percent: std::array::from_fn(|part| percent(join.share(part))),
        },
        before: side(&join.before),
        after: side(&join.after),
    }
}

/// Length of a transition, s; `None` for a cut.
fn transition(mark: &Mark, time: Time) -> Option<f64> {
    let (numerator, denominator) = time.start.rate().fraction();
    let seconds = f64::from(mark.transition_frames) * f64::from(denominator) / f64::from(numerator);
    rounded(Some(seconds).filter(|seconds| *seconds > 0.0))
}

/// "all of it" where a mono loss is infinite.
pub(crate) fn all_of_it(mono_loss_db: Option<f64>) -> Option<String> {
    (mono_loss_db == Some(f64::NEG_INFINITY)).then(|| words::ALL_OF_IT.to_owned())
}

pub(crate) fn reading(of: &Readings) -> Reading {
    Reading {
        level_dbfs: rounded(of.level_dbfs),
        left_dbfs: rounded(of.channel_dbfs[0]),
        right_dbfs: rounded(of.channel_dbfs[1]),
        width_percent: percent(of.side_share),
        correlation: rounded(of.correlation),
        coherence: rounded(of.coherence),
        out_of_step: rounded(of.out_of_step),
        balance_db: rounded(of.balance_db),
        mono_loss_db: rounded(of.mono_loss_db),
        mono_loss_words: all_of_it(of.mono_loss_db),
    }
}

pub(crate) fn band(name: &str, span: &Span, readings: &Readings, share: Option<f64>) -> Band {
    Band {
        name: name.to_owned(),
        low_hz: or_zero(span.low_hz),
        high_hz: or_zero(span.high_hz),
        reading: reading(readings),
        share_percent: percent(share),
    }
}

/// The named bands; `share` gives a layer's share of each.
pub(crate) fn bands(
    edges: &BandEdges,
    readings: &[Readings],
    share: impl Fn(usize) -> Option<f64>,
) -> Vec<Band> {
    let of = |(at, (name, readings)): (usize, (&&str, &Readings))| {
        band(name, &edges.span(at), readings, share(at))
    };
    BAND_NAMES.iter().zip(readings).enumerate().map(of).collect()
}

/// Loudness and peaks; sample peaks and overs are measured separately.
pub(crate) fn loudness(
    of: &plumbline_measure::Loudness,
    peak_dbfs: [Option<f64>; 2],
    overs: [u64; 2],
) -> Loudness {
    Loudness {
        integrated_lufs: rounded(of.integrated_lufs),
        range_lu: rounded(of.range_lu),
        max_momentary_lufs: rounded(of.max_momentary_lufs),
        max_short_term_lufs: rounded(of.max_short_term_lufs),
        true_peak_dbtp: rounded(of.true_peak_dbtp.into_iter().flatten().reduce(f64::max)),
        true_peak_by_channel_dbtp: of.true_peak_dbtp.map(rounded),
        peak_by_channel_dbfs: peak_dbfs.map(rounded),
        overs,
    }
}

pub(crate) fn passage(number: u64, line: &PassageLine, edges: &BandEdges, time: Time) -> Passage {
    Passage {
        number,
        start: time.tenth(line.grid, line.start),
        end: time.tenth(line.grid, line.end),
        heard_seconds: or_zero(line.secs),
        measured: Measured {
            loudness: loudness(&line.loudness, line.peak_dbfs, line.overs),
            whole: reading(&line.whole),
            lowest_correlation: rounded(line.lowest_correlation),
            not_finite: line.not_finite,
            bands: bands(edges, &line.bands, |_| None),
        },
        lost: line.lost,
        shares_percent: line.shares.map(percent),
        leads_percent: line.leads.map(percent),
        unaccounted_db: rounded(line.unaccounted_db),
    }
}
