//! The row of findings, and the ticks of joins and marks.

use super::axis::TimeAxis;
use super::traces::Bars;
use crate::painter::Painter;
use crate::settings::Settings;
use crate::time_label;
use crate::tokens::Ink;
use egui::{Pos2, Rect, Shape, Stroke, pos2, vec2};
use plumbline_programme::findings::Grade;
use plumbline_programme::{Finding, Lanes, Log, View};
use plumbline_report::words;

/// Distance from a finding, in points, within which the pointer still counts as on it.
const NEAR: f32 = 4.0;
/// The most findings in a tooltip.
const TOLD: usize = 3;
/// The least distance in points between two shapes.
const SHAPE: f32 = 9.0;

/// The grades in the order of painting, so that grave ones are on top.
const GRADES: [Grade; 3] = [Grade::Slight, Grade::Clear, Grade::Grave];

/// Left and right edge of a finding, if it is in view.
fn edges(finding: &Finding, lanes: &Lanes, axis: TimeAxis) -> Option<(f32, f32)> {
    let seen = finding.grid == lanes.grid && finding.end >= lanes.left && finding.start < lanes.right;
    let (left, right) = (axis.x(finding.start), axis.x(finding.end));
    (seen && right >= axis.x.min && left <= axis.x.max).then(|| (left, right.max(left + 3.0)))
}

/// The number of findings in view.
pub(super) fn in_view(log: &Log, lanes: &Lanes) -> usize {
    let axis = TimeAxis::of(lanes, egui::Rangef::new(0.0, 1.0));
    log.findings.iter().filter(|finding| edges(finding, lanes, axis).is_some()).count()
}

/// Findings as bars, taller for graver ones, with a shape at the start if it fits.
pub(super) fn row_ui(painter: &Painter, log: &Log, lanes: &Lanes, axis: TimeAxis, row: Rect) {
    let theme = painter.theme;
    let mut bars = Bars::default();
    for (step, grade) in (1_u8..).zip(GRADES) {
        let height = row.height() * f32::from(step) / 3.0;
        for finding in log.findings.iter().filter(|finding| finding.grade == grade) {
            let Some((left, right)) = edges(finding, lanes, axis) else { continue };
            let x = left.max(axis.x.min)..=right.min(axis.x.max).max(left.max(axis.x.min));
            bars.add(Rect::from_x_y_ranges(x, row.bottom() - height..=row.bottom()), ink(painter, finding));
        }
    }
    bars.paint(painter);
    for grade in GRADES.into_iter().rev() {
        let mut free = f32::NEG_INFINITY;
        for finding in log.findings.iter().filter(|finding| finding.grade == grade) {
            let Some((left, right)) = edges(finding, lanes, axis) else { continue };
            let x = left.max(axis.x.min) + SHAPE / 2.0;
            if right - left >= SHAPE + 2.0 && x - free >= SHAPE {
                shape(painter, pos2(x, row.center().y), grade, theme.page, theme.text);
                free = x;
            }
        }
    }
}

fn ink(painter: &Painter, finding: &Finding) -> Ink {
    let theme = painter.theme;
    match (finding.seen, finding.grade) {
        (true, _) => theme.bar_faint,
        (false, Grade::Slight) => theme.trace_behind,
        (false, Grade::Clear) => theme.trace_hold,
        (false, Grade::Grave) => theme.fault,
    }
}

/// A ring, a diamond, a triangle: slight, clear, grave.
fn shape(painter: &Painter, centre: Pos2, grade: Grade, fill: Ink, edge: Ink) {
    let half = SHAPE / 2.0 - 1.0;
    let polygon = |corners: &[(f32, f32)]| {
        let points = corners.iter().map(|(x, y)| centre + vec2(x * half, y * half)).collect();
        painter.egui.add(Shape::convex_polygon(points, fill, Stroke::new(1.0, edge)));
    };
    match grade {
        Grade::Slight => {
            painter.egui.circle(centre, half * 0.8, fill, Stroke::new(1.0, edge));
        }
        Grade::Clear => polygon(&[(0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)]),
        Grade::Grave => polygon(&[(0.0, -1.0), (1.0, 0.8), (-1.0, 0.8)]),
    }
}

/// Joins as short ticks at the top, marks as vertical lines through all rows.
pub(super) fn ticks_ui(painter: &Painter, log: &Log, lanes: &Lanes, axis: TimeAxis, field: Rect) {
    let theme = painter.theme;
    let mut bars = Bars::default();
    let seen = |at: i64| (lanes.left..lanes.right.max(lanes.left.saturating_add(1))).contains(&at);
    for join in log.joins.iter().filter(|join| join.grid == lanes.grid && seen(join.at)) {
        let x = axis.x(join.at);
        bars.add(Rect::from_x_y_ranges(x - 1.0..=x + 1.0, field.top()..=field.top() + 7.0), theme.muted);
    }
    for mark in log.marks.iter().filter(|mark| mark.grid == lanes.grid && seen(mark.index)) {
        let x = axis.x(mark.index);
        bars.add(Rect::from_x_y_ranges(x - 0.5..=x + 0.5, field.y_range()), theme.muted);
        bars.add(Rect::from_x_y_ranges(x - 3.0..=x + 3.0, field.top()..=field.top() + 3.0), theme.text);
    }
    bars.paint(painter);
}

/// The findings at a position, in words, the gravest first.
pub(super) fn told(view: &View, settings: &Settings, axis: TimeAxis, x: f32) -> Vec<String> {
    let lanes = &view.lanes;
    let near = |finding: &&Finding| {
        edges(finding, lanes, axis).is_some_and(|(left, right)| (left - NEAR..=right + NEAR).contains(&x))
    };
    let mut found: Vec<&Finding> = view.log.findings.iter().filter(near).collect();
    found.sort_by_key(|finding| std::cmp::Reverse(finding.grade));
    let more = found.len().saturating_sub(TOLD);
    let mut lines: Vec<String> =
        found.iter().take(TOLD).map(|finding| one(finding, view, settings)).collect();
    if more > 0 {
        lines.push(format!("and {more} more: see the Log page"));
    }
    lines
}

fn one(finding: &Finding, view: &View, settings: &Settings) -> String {
    let start = time_label::tenth_at_usual_rate(view, settings, finding.grid, finding.start);
    let end = if finding.open {
        "now".to_owned()
    } else {
        time_label::tenth_at_usual_rate(view, settings, finding.grid, finding.end)
    };
    let worst = words::worst(finding);
    let grade = words::grade(finding.grade).to_lowercase();
    format!("{}, {grade}: {worst}  ·  {start} – {end}", words::kind(finding.kind))
}
