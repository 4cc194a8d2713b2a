//! Lanes, findings and joins from formulas, for pictures.

use super::{noise, out_of_step, spacious};
use plumbline_measure::bands::{THIRDS, third_span};
use plumbline_measure::reading::Maybe;
use plumbline_measure::{Grid, Span};
use plumbline_programme::findings::{Concerned, Grade, Kind};
use plumbline_programme::joins::Side;
use plumbline_programme::{
    Column, Finding, Join, Lanes, LayerId, Log, Mark, MinMax, PassageLine, Past, View,
};
use std::sync::Arc;

/// A view with two minutes of lanes, a previous pass, and a log.
pub fn with_time(view: View) -> View {
    timed(view, 1_200, 600)
}

/// A view with steady lanes over the time that it measured, and no findings.
pub fn heard(view: View) -> View {
    const COLUMNS: i64 = 600;
    let newest = view.clock.position.sample / 4_800;
    let right = newest + 1;
    let left = right - 2 * COLUMNS;
    #[expect(clippy::cast_possible_truncation, reason = "minutes")]
    let from = right - (view.loudness.measured_secs * 10.0) as i64;
    if from >= right {
        return view;
    }
    let first = left.div_euclid(2) * 2;
    let columns =
        (0..=COLUMNS).map(|i| if first + 2 * i < from { Column::default() } else { steady(i, &view) });
    let lanes = Lanes {
        grid: view.clock.position.grid,
        first,
        per_column: 2,
        left,
        right,
        columns: columns.collect(),
        extent: [from, right],
        follows: true,
        again: false,
        newest,
    };
    View { lanes: Arc::new(lanes), ..view }
}

/// A column near the readings of a view.
fn steady(i: i64, view: &View) -> Column {
    #[expect(clippy::cast_precision_loss, reason = "hundreds")]
    let x = i as f64 / 600.0;
    #[expect(clippy::cast_sign_loss, clippy::cast_possible_truncation, reason = "hundreds")]
    let noise = |seed| noise(i as usize, seed);
    let about =
        |value: Option<f64>, half: f64| value.map_or_else(MinMax::default, |value| reach(value, half));
    let loud = view
        .loudness
        .max_short_term_lufs
        .map(|max| max - 2.4 + 1.5 * (x * 21.0).sin() + 0.7 * (x * 47.0).sin());
    let whole = &view.averages[1].whole;
    Column {
        tenths: 2,
        momentary: about(loud.map(|loud| loud + noise(3)), 0.6),
        short_term: about(loud, 0.2),
        width: about(whole.side_share.map(|share| share * (1.0 + 0.1 * (x * 13.0).sin())), 0.005),
        correlation: Maybe::new(
            whole.correlation.map(|c| (c - 0.1 * (1.0 - c.abs()) * (1.0 + noise(9))).clamp(-1.0, 1.0)),
        ),
        ..Column::default()
    }
}

/// A session of four layers out of step, with everything the lanes can show: six kinds of findings, four joins.
pub fn busy_log() -> View {
    with_time(among_four(out_of_step()))
}

/// Lanes of an hour.
pub fn an_hour() -> View {
    timed(among_four(spacious()), 36_000, 720)
}

/// A view of the mix with three other layers and their balance.
fn among_four(mut view: View) -> View {
    let four = super::four();
    view.verdicts.balance = four.verdicts.balance;
    View { session: four.session, ..view }
}

/// The view of 40 s ago.
pub fn rewound() -> View {
    let view = busy_log();
    let at = Mark { grid: Grid::Song, index: view.lanes.right - 400 };
    View { past: Some(Past { at, rebuilt: false, absent: false, newest: Maybe::NONE }), ..view }
}

/// The same, reconstructed because no window was open then: no lines, no hold, no scope.
pub fn rebuilt() -> View {
    let mut view = rewound();
    for spectral in &mut view.averages {
        spectral.lines_dbfs = Vec::new();
    }
    view.hold_dbfs = Vec::new();
    view.scope = Vec::new();
    view.past = view.past.map(|past| Past { rebuilt: true, ..past });
    view
}

/// The same for a moment that was not kept.
pub fn absent() -> View {
    let mut view = rebuilt();
    (view.averages, view.meters) = Default::default();
    (view.loudness, view.verdicts) = Default::default();
    view.past = view.past.map(|past| Past { rebuilt: false, absent: true, ..past });
    view
}

fn some(value: f64) -> Maybe {
    Maybe::new(Some(value))
}

fn reach(middle: f64, half: f64) -> MinMax {
    MinMax { low: some(middle - half), high: some(middle + half) }
}

/// One column of lanes; `max_lufs` is the highest short-term loudness.
fn column(i: usize, count: usize, per_column: u32, max_lufs: f64) -> Column {
    #[expect(clippy::cast_precision_loss, reason = "a place in a picture")]
    let x = i as f64 / count as f64;
    // A stop of the transport: a stretch that was never played.
    if (0.36..0.372).contains(&x) {
        return Column::default();
    }
    let swell = (-((x - 0.62) / 0.05).powi(2)).exp();
    let wide = 0.22 + 0.12 * (x * 13.0).sin() + 0.5 * swell;
    let foley = 0.18 + 0.16 * (x * 9.0).sin().max(0.0);
    let design = 0.04 + 0.45 * swell;
    let spread = if per_column > 10 { 3.5 } else { 0.4 };
    let loud = max_lufs - spread / 2.0 - 4.3 + 1.8 * (x * 21.0).sin() + 3.5 * swell;
    Column {
        tenths: per_column,
        broken: u32::from(i == count / 5),
        momentary: reach(loud + 2.0 * noise(i, 3), spread + 1.0),
        short_term: reach(loud, spread / 2.0),
        width: reach(wide, spread / 60.0),
        correlation: some((0.75 - 1.3 * swell + 0.15 * noise(i, 9)).clamp(-1.0, 1.0)),
        shares: [some(1.0 - foley - design), some(foley), some(design), some(0.0), some(0.0)],
        former_short_term: if x < 0.75 { reach(loud - 3.0, spread / 2.0) } else { MinMax::default() },
        former_width: if x < 0.75 { reach(wide * 0.8, spread / 60.0) } else { MinMax::default() },
    }
}

fn timed(view: View, tenths: u32, columns: usize) -> View {
    let newest = view.clock.position.sample / 4_800;
    #[expect(clippy::cast_possible_truncation, reason = "hundreds")]
    let per_column = tenths.div_ceil(columns as u32);
    let right = newest + 1;
    let left = right - i64::from(tenths);
    let max_lufs = view.loudness.max_short_term_lufs.unwrap_or(-20.0);
    let per = i64::from(per_column);
    let first = left.div_euclid(per) * per;
    let lanes = Lanes {
        grid: Grid::Song,
        first,
        per_column,
        left,
        right,
        columns: (0..=columns).map(|i| column(i, columns, per_column, max_lufs)).collect(),
        extent: [right - 36_000, right],
        follows: true,
        again: false,
        newest,
    };
    let at = |share: f64| {
        #[expect(clippy::cast_possible_truncation, reason = "a tenth inside the lanes")]
        let tenth = left + (f64::from(tenths) * share) as i64;
        tenth
    };
    let log = log(&at, &view);
    View { lanes: Arc::new(lanes), log: Arc::new(log), ..view }
}

fn concerned(id: u64, name: &str) -> Concerned {
    Concerned { id: LayerId(id), name: name.to_owned() }
}

fn finding(kind: Kind, start: i64, end: i64, worst: f64, grade: Grade) -> Finding {
    Finding {
        id: 0,
        kind,
        grid: Grid::Song,
        start,
        end,
        open: false,
        span: None,
        worst,
        at: start,
        grade,
        cause: None,
        right: None,
        role: None,
        layers: Vec::new(),
        follows: None,
        seen: false,
    }
}

fn log(at: &dyn Fn(f64) -> i64, view: &View) -> Log {
    let span = |low: usize, high: usize| {
        Some(Span { low_hz: third_span(low).low_hz, high_hz: third_span(high).high_hz })
    };
    let mut findings = vec![
        Finding {
            layers: vec![concerned(3, "Foley rope"), concerned(1, "Tower")],
            ..finding(Kind::Covered, at(0.08), at(0.16), 12.4, Grade::Slight)
        },
        Finding { seen: true, ..finding(Kind::Gap, at(0.2), at(0.2) + 1, 512.0, Grade::Clear) },
        Finding {
            role: Some(plumbline_programme::Role::Natural),
            ..finding(Kind::Balance, at(0.42), at(0.52), -18.0, Grade::Clear)
        },
        Finding {
            span: span(13, 20),
            layers: vec![concerned(4, "Design swells")],
            cause: Some(plumbline_programme::arrival::Cause::Inverted),
            ..finding(Kind::OutOfStep, at(0.57), at(0.68), 0.92, Grade::Grave)
        },
        Finding {
            span: span(13, 20),
            layers: vec![concerned(4, "Design swells")],
            // The finding before it.
            follows: Some(4),
            ..finding(Kind::MonoLoss, at(0.58), at(0.67), f64::INFINITY, Grade::Grave)
        },
        finding(Kind::Clipped, at(0.81), at(0.81) + 1, 175.0, Grade::Grave),
        finding(Kind::TruePeak, at(0.81), at(0.81) + 1, 1.5, Grade::Clear),
        Finding {
            right: Some(true),
            ..finding(Kind::OneSided, at(0.86), at(0.9), f64::INFINITY, Grade::Grave)
        },
        finding(Kind::Dropout, at(0.93), at(0.93) + 2, 200.0, Grade::Clear),
        Finding { open: true, ..finding(Kind::Wind, at(0.96), at(1.0), 9.3, Grade::Slight) },
    ];
    (1..).zip(&mut findings).for_each(|(id, finding)| finding.id = id);
    let mut joins: Vec<Join> = [
        (0.25, -3.2, 1.5, 0.05),
        (0.37, 2.1, -0.4, -0.02),
        (0.57, 9.4, 3.9, 0.48),
        (0.68, -8.8, -4.1, -0.45),
    ]
    .into_iter()
    .map(|(x, loudness, tone, width)| join(at(x), loudness, tone, width))
    .collect();
    (1..).zip(&mut joins).for_each(|(id, join)| join.id = id);
    joins[1].marked = true;
    joins[1].takes_secs = Some(1.4);
    let marks = vec![Mark { grid: Grid::Song, index: at(0.37) }, Mark { grid: Grid::Song, index: at(0.75) }];
    let slow = &view.averages[1];
    let passage = |from: f64, to: f64, shift: f64| PassageLine {
        grid: Grid::Song,
        start: at(from),
        end: at(to),
        secs: (at(to) - at(from)) as f64 / 10.0,
        whole: slow.whole,
        bands: slow.bands,
        loudness: plumbline_measure::Loudness {
            integrated_lufs: view.loudness.integrated_lufs.map(|l| l + shift),
            ..view.loudness
        },
        lowest_correlation: Some(-0.31),
        peak_dbfs: [Some(-3.4), Some(-2.9)],
        overs: [0, 3],
        lost: 512,
        not_finite: 0,
        shares: [Some(0.68), Some(0.25), Some(0.07), Some(0.0), None],
        leads: [Some(0.52), Some(0.21), Some(0.08), Some(0.0), None],
        unaccounted_db: Some(0.2),
    };
    Log {
        serial: 1,
        findings,
        joins,
        marks,
        passages: vec![
            passage(0.0, 1.0, 0.0),
            passage(0.0, 0.37, -1.2),
            passage(0.37, 0.75, 2.2),
            passage(0.75, 1.0, -0.4),
        ],
        dropped: 0,
    }
}

fn join(at: i64, loudness: f64, tone: f64, width: f64) -> Join {
    let thirds = |tilt: f64, level: f64| -> [Maybe; THIRDS] {
        std::array::from_fn(|third| {
            #[expect(clippy::cast_precision_loss, reason = "30 at most")]
            let octaves = (third as f64 - 17.0) / 3.0;
            some(level - 14.0 + tilt * octaves + 2.0 * noise(third, 21))
        })
    };
    let before = Side {
        tenths: 20,
        loudness_lufs: Some(-26.0),
        tone_db_per_octave: Some(-4.5),
        side_share: Some(0.24),
        shares: [Some(0.72), Some(0.24), Some(0.04), Some(0.0), None],
        thirds_dbfs: thirds(-4.5, -26.0),
    };
    let after = Side {
        tenths: 20,
        loudness_lufs: Some(-26.0 + loudness),
        tone_db_per_octave: Some(-4.5 + tone),
        side_share: Some(0.24 + width),
        shares: [Some(0.72 - width), Some(0.24), Some(0.04 + width), Some(0.0), None],
        thirds_dbfs: thirds(-4.5 + tone, -26.0 + loudness),
    };
    Join {
        grid: Grid::Song,
        at,
        sample: at * 4_800 + 960,
        found: true,
        before,
        after,
        takes_secs: Some(0.3),
        ..Join::default()
    }
}

/// A full log: 2,000 findings of all kinds over an hour, 300 joins at marks, and some dropped entries.
pub fn full_log() -> View {
    let view = an_hour();
    let mut log = Log::clone(&view.log);
    let start = view.lanes.left;
    log.findings = (0..2_000_usize)
        .map(|i| {
            let kind = Kind::ALL[(i * 7) % Kind::ALL.len()];
            #[expect(clippy::cast_possible_wrap, reason = "thousands")]
            let from = start + i as i64 * 18;
            let grade = [Grade::Slight, Grade::Slight, Grade::Clear, Grade::Grave][(i * 5) % 4];
            let size = noise(i, 41).abs();
            let worst = if kind == Kind::OutOfStep { 0.6 + 0.4 * size } else { 3.0 + 9.0 * size };
            Finding { id: i as u64 + 1, seen: i % 3 == 0, ..finding(kind, from, from + 15, worst, grade) }
        })
        .collect();
    log.marks = (0..300).map(|i| Mark { grid: Grid::Song, index: start + i * 120 }).collect();
    log.joins = (0..300_usize)
        .map(|i| Join {
            id: i as u64 + 1,
            marked: true,
            ..join(log.marks[i].index, 6.0 * noise(i, 51), 2.0 * noise(i, 52), 0.2 * noise(i, 53))
        })
        .collect();
    log.passages = (0..301)
        .map(|i| {
            let mut line = log.passages[0].clone();
            if i > 0 {
                (line.start, line.end, line.secs) = (start + (i - 1) * 120, start + i * 120, 12.0);
            }
            line
        })
        .collect();
    log.dropped = 312;
    View { log: Arc::new(log), ..view }
}

/// Three minutes without findings.
pub fn clean_log() -> View {
    let view = super::spacious();
    let newest = view.clock.position.sample / 4_800;
    let line = PassageLine {
        grid: Grid::Song,
        start: newest - 1_840,
        end: newest,
        secs: 184.0,
        whole: view.averages[1].whole,
        loudness: view.loudness,
        ..PassageLine::default()
    };
    View { log: Arc::new(Log { passages: vec![line], ..Log::default() }), ..view }
}
