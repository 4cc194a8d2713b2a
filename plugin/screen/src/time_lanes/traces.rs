//! The rows of values, in few shapes: one path per run, one mesh per kind of bar.

use super::axis::TimeAxis;
use super::layout::TimeRow;
use crate::mapping::ValueAxis;
use crate::painter::Painter;
use crate::role_marks::drawable;
use crate::settings::Settings;
use crate::tokens::{Ink, stroke};
use egui::epaint::Mesh;
use egui::{Pos2, Rect, Shape, pos2};
use plumbline_programme::{Column, Lanes, MOST_COLUMNS, MinMax, Role};

/// Loudness axis about the target, LU: EBU Tech 3341 clause 2.4, "EBU +9".
const ABOUT_LU: [f64; 2] = [-18.0, 9.0];

/// The axis of values of a row.
pub(super) fn values(row: TimeRow, settings: &Settings, plot: Rect) -> ValueAxis {
    let target = settings.target.integrated_lufs;
    let (bottom, top) = match row {
        TimeRow::Loudness => (target + ABOUT_LU[0], target + ABOUT_LU[1]),
        TimeRow::Width | TimeRow::Shares => (0.0, 1.0),
        TimeRow::Correlation => (-1.0, 1.0),
    };
    // Space for a line along an edge; stacked shares fill the plot.
    let inset = if row == TimeRow::Shares { 0.0 } else { stroke::TRACE.min(plot.height() / 2.0) / 2.0 };
    ValueAxis { bottom, top, y: plot.y_range().shrink(inset) }
}

/// Bars along the upper edge wherever the short-term loudness is above the axis.
fn over(lanes: &Lanes, axis: TimeAxis, values: ValueAxis) -> impl Iterator<Item = Rect> {
    let heard = placed(lanes, axis).filter(|(.., column)| column.tenths > 0);
    let over = heard.filter(move |(.., column)| {
        column.short_term.high.get().is_some_and(|high| high.is_finite() && high > values.top)
    });
    let y = values.y.min - stroke::TRACE / 2.0..=values.y.min + 2.0 * stroke::TRACE;
    over.map(move |(left, right, _)| Rect::from_x_y_ranges(left..=right, y.clone()))
}

/// The visible columns with their left and right edge.
pub(super) fn placed(lanes: &Lanes, axis: TimeAxis) -> impl Iterator<Item = (f32, f32, &Column)> {
    let per = i64::from(lanes.per_column.max(1));
    let columns = lanes.columns.iter().take(usize::from(MOST_COLUMNS) + 2);
    let edge = move |i: i64| axis.x(lanes.first.saturating_add(per.saturating_mul(i)));
    (0_i64..).zip(columns).filter_map(move |(i, column)| {
        let (left, right) = (edge(i).max(axis.x.min), edge(i + 1).min(axis.x.max));
        (right > left).then_some((left, right, column))
    })
}

/// A mesh of vertical bars.
#[derive(Default)]
pub(super) struct Bars(Mesh);

impl Bars {
    pub(super) fn add(&mut self, rect: Rect, ink: Ink) {
        self.0.add_colored_rect(rect, ink);
    }

    pub(super) fn paint(self, painter: &Painter) {
        if !self.0.is_empty() {
            painter.egui.add(Shape::mesh(self.0));
        }
    }
}

/// One path for each run of columns that have a reading.
pub(super) fn trace(
    painter: &Painter,
    lanes: &Lanes,
    axis: TimeAxis,
    values: ValueAxis,
    look: (f32, Ink),
    reading: impl Fn(&Column) -> Option<f64>,
) {
    for run in runs(lanes, axis, values, reading) {
        painter.path(run, look.0, look.1);
    }
}

fn runs(
    lanes: &Lanes,
    axis: TimeAxis,
    values: ValueAxis,
    reading: impl Fn(&Column) -> Option<f64>,
) -> Vec<Vec<Pos2>> {
    let mut runs: Vec<Vec<Pos2>> = Vec::new();
    // End of the current run: a run reaches both edges of its audio.
    let mut end: Option<Pos2> = None;
    for (left, right, column) in placed(lanes, axis) {
        let value = reading(column).filter(|value| value.is_finite() && column.tenths > 0);
        let Some(y) = value.map(|value| values.y(value)) else {
            if let (Some(run), Some(end)) = (runs.last_mut(), end.take()) {
                run.push(end);
            }
            continue;
        };
        if end.is_none() {
            runs.push(vec![pos2(left, y)]);
        }
        if let Some(run) = runs.last_mut() {
            run.push(pos2(f32::midpoint(left, right), y));
        }
        end = Some(pos2(right, y));
    }
    if let (Some(run), Some(end)) = (runs.last_mut(), end) {
        run.push(end);
    }
    runs
}

/// The range of each column, lowest to highest, as a bar.
fn reaches(
    painter: &Painter,
    lanes: &Lanes,
    axis: TimeAxis,
    values: ValueAxis,
    ink: Ink,
    reading: impl Fn(&Column) -> MinMax,
) {
    let mut bars = Bars::default();
    for (left, right, column) in placed(lanes, axis).filter(|(.., column)| column.tenths > 0) {
        let reach = reading(column);
        let (Some(low), Some(high)) = (reach.low.get(), reach.high.get()) else { continue };
        let (top, bottom) = (values.y(low.max(high)), values.y(low.min(high)));
        let thin = (1.0 - (bottom - top)).max(0.0) / 2.0;
        let held = |y: f32| y.max(values.y.min).min(values.y.max);
        bars.add(Rect::from_x_y_ranges(left..=right, held(top - thin)..=held(bottom + thin)), ink);
    }
    bars.paint(painter);
}

/// Gaps without audio, and marks at the bottom where audio was lost.
pub(super) fn gaps(painter: &Painter, lanes: &Lanes, axis: TimeAxis, plots: &[Rect]) {
    let theme = painter.theme;
    let (mut open, mut broken) = (Bars::default(), Bars::default());
    // Neighbouring gaps are one bar.
    let mut gap: Option<(f32, f32)> = None;
    let mut close = |gap: &mut Option<(f32, f32)>| {
        if let Some((left, right)) = gap.take() {
            for plot in plots {
                open.add(Rect::from_x_y_ranges(left..=right, plot.y_range()), theme.page);
            }
        }
    };
    for (left, right, column) in placed(lanes, axis) {
        if column.tenths == 0 {
            gap = Some((gap.map_or(left, |gap| gap.0), right));
            continue;
        }
        close(&mut gap);
        if let Some(plot) = plots.first().filter(|_| column.broken > 0) {
            let wide = right.max(left + 3.0);
            broken.add(Rect::from_x_y_ranges(left..=wide, plot.bottom() - 4.0..=plot.bottom()), theme.fault);
        }
    }
    close(&mut gap);
    open.paint(painter);
    broken.paint(painter);
}

/// Paints one row into a painter that is clipped to its plot.
pub(super) fn row_ui(
    painter: &Painter,
    lanes: &Lanes,
    axis: TimeAxis,
    row: TimeRow,
    plot: Rect,
    settings: &Settings,
) {
    let (theme, values) = (painter.theme, values(row, settings, plot));
    let several = lanes.per_column > 1;
    let level = |value: f64, ink: Ink| {
        let y = values.y(value);
        painter.hairline(pos2(plot.left(), y), pos2(plot.right(), y), ink);
    };
    match row {
        TimeRow::Loudness => {
            let target = &settings.target;
            let [top, bottom] =
                [target.above_lu, -target.below_lu].map(|lu| values.y(target.integrated_lufs + lu));
            if bottom - top > 1.0 {
                painter.fill(Rect::from_x_y_ranges(plot.x_range(), top..=bottom), theme.tolerance);
            }
            reaches(painter, lanes, axis, values, theme.bar_faint, |column| column.momentary);
            level(target.integrated_lufs, theme.muted);
            let former = (stroke::THIN, theme.trace_hold);
            trace(painter, lanes, axis, values, former, |column| column.former_short_term.middle());
            if several {
                reaches(painter, lanes, axis, values, theme.trace_behind, |column| column.short_term);
            }
            trace(painter, lanes, axis, values, (stroke::TRACE, theme.trace), |column| {
                column.short_term.middle()
            });
            let mut bars = Bars::default();
            over(lanes, axis, values).for_each(|bar| bars.add(bar, theme.trace));
            bars.paint(painter);
        }
        TimeRow::Width => {
            level(0.5, theme.grid_strong);
            trace(painter, lanes, axis, values, (stroke::THIN, theme.trace_hold), |column| {
                column.former_width.middle()
            });
            if several {
                reaches(painter, lanes, axis, values, theme.bar_faint, |column| column.width);
            }
            trace(painter, lanes, axis, values, (stroke::TRACE, theme.bar), |column| column.width.middle());
        }
        TimeRow::Correlation => {
            level(0.0, theme.grid_strong);
            trace(painter, lanes, axis, values, (stroke::TRACE, theme.bar), |column| {
                column.correlation.get()
            });
        }
        TimeRow::Shares => shares(painter, lanes, axis, values),
    }
}

/// The roles' shares, stacked from the bottom in role order.
fn shares(painter: &Painter, lanes: &Lanes, axis: TimeAxis, values: ValueAxis) {
    let mut bars = Bars::default();
    for (left, right, column) in placed(lanes, axis).filter(|(.., column)| column.tenths > 0) {
        let mut from = 0.0;
        for (share, role) in column.shares.into_iter().zip(Role::PARTS) {
            let Some(share) = drawable(share.get()) else { continue };
            let (bottom, top) = (values.y(from), values.y(from + share));
            from += share;
            if bottom - top >= 0.25 {
                bars.add(Rect::from_x_y_ranges(left..=right, top..=bottom), painter.theme.role(role));
            }
        }
    }
    bars.paint(painter);
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::Rangef;
    use plumbline_measure::Maybe;

    fn column(value: Option<f64>) -> Column {
        let value = Maybe::new(value);
        Column { tenths: 2, short_term: MinMax { low: value, high: value }, ..Column::default() }
    }

    #[test]
    fn gaps_and_absent_readings_split_a_trace() {
        let columns = vec![
            column(Some(-20.0)),
            column(Some(-21.0)),
            Column::default(),
            column(Some(-22.0)),
            column(None),
        ];
        let lanes = Lanes { first: 10, per_column: 2, left: 10, right: 20, columns, ..Lanes::default() };
        let axis = TimeAxis::of(&lanes, Rangef::new(0.0, 100.0));
        let values = ValueAxis { bottom: -40.0, top: 0.0, y: Rangef::new(0.0, 40.0) };
        let runs = runs(&lanes, axis, values, |column| column.short_term.middle());
        assert_eq!(runs.len(), 2);
        // A column of two tenths is twenty points wide. A run goes from edge to edge, through the middles.
        let slope = [pos2(0.0, 20.0), pos2(10.0, 20.0), pos2(30.0, 21.0), pos2(40.0, 21.0)];
        assert!(
            runs[0].len() == 4 && runs[0].iter().zip(&slope).all(|(a, b)| a.distance(*b) < 1e-3),
            "{runs:?}"
        );
        let level = [pos2(60.0, 22.0), pos2(70.0, 22.0), pos2(80.0, 22.0)];
        assert!(
            runs[1].len() == 3 && runs[1].iter().zip(&level).all(|(a, b)| a.distance(*b) < 1e-3),
            "{runs:?}"
        );
    }

    #[test]
    fn loudness_over_its_axis_is_held_at_the_edge_and_marked() {
        let settings = Settings::default();
        let target = settings.target.integrated_lufs;
        let columns = [8.9, 9.1, -40.0].map(|lu| column(Some(target + lu)));
        let columns = columns.into_iter().chain([column(None), column(Some(f64::INFINITY))]).collect();
        let lanes = Lanes { first: 0, per_column: 1, left: 0, right: 5, columns, ..Lanes::default() };
        let axis = TimeAxis::of(&lanes, Rangef::new(0.0, 50.0));
        let plot = Rect::from_min_max(pos2(0.0, 10.0), pos2(50.0, 50.0));
        let values = values(TimeRow::Loudness, &settings, plot);
        let bars: Vec<Rect> = over(&lanes, axis, values).collect();
        let places: Vec<_> = bars.iter().map(|bar| (bar.left(), bar.right(), bar.top())).collect();
        assert_eq!(places, [(10.0, 20.0, 10.0)]);
        // The line itself, as wide as it is painted, stays inside at both edges.
        for lu in [60.0, -200.0] {
            let y = values.y(target + lu);
            assert!(plot.y_range().shrink(stroke::TRACE / 2.0 - 1e-3).contains(y), "{lu} LU at {y}");
        }
    }

    #[test]
    fn columns_are_cut_at_the_edges() {
        let columns = vec![column(Some(-20.0)); 6];
        let lanes = Lanes { first: 8, per_column: 2, left: 9, right: 17, columns, ..Lanes::default() };
        let axis = TimeAxis::of(&lanes, Rangef::new(0.0, 80.0));
        let edges: Vec<(f32, f32)> = placed(&lanes, axis).map(|(left, right, _)| (left, right)).collect();
        assert_eq!(edges, [(0.0, 10.0), (10.0, 30.0), (30.0, 50.0), (50.0, 70.0), (70.0, 80.0)]);
    }
}
