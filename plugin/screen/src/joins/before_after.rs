//! Before and after as a picture: the thirds as two lines, the shares as two stacked bars.

use crate::mapping::{FrequencyAxis, ValueAxis};
use crate::painter::Painter;
use crate::role_marks;
use crate::tokens::{Ink, stroke};
use egui::{Pos2, Rect, Shape, Stroke, pos2};
use plumbline_measure::bands::{THIRDS, third_centre_hz};
use plumbline_programme::joins::Side;
use plumbline_programme::{Join, Role};

/// Length of the level axis, dB.
const SPAN_DB: f64 = 60.0;

/// The level axis of both sides: its top is the next multiple of 10 dB over the loudest third.
pub(super) fn levels(join: &Join, y: egui::Rangef) -> ValueAxis {
    let all = join.before.thirds_dbfs.iter().chain(&join.after.thirds_dbfs);
    let loudest =
        all.filter_map(|level| level.get()).filter(|level| level.is_finite()).fold(f64::NAN, f64::max);
    let top = if loudest.is_nan() { 0.0 } else { ((loudest / 10.0).floor() + 1.0).clamp(-12.0, 6.0) * 10.0 };
    ValueAxis { bottom: top - SPAN_DB, top, y }
}

/// The runs of neighbouring thirds that have a level.
fn runs(side: &Side, axis: FrequencyAxis, levels: ValueAxis) -> Vec<Vec<Pos2>> {
    let mut runs: Vec<Vec<Pos2>> = vec![Vec::new()];
    for third in 0..THIRDS {
        match side.thirds_dbfs[third].get() {
            Some(level) => {
                let at = pos2(axis.x(third_centre_hz(third)), levels.y(level));
                if let Some(run) = runs.last_mut() {
                    run.push(at);
                }
            }
            None => runs.push(Vec::new()),
        }
    }
    runs.retain(|run| !run.is_empty());
    runs
}

/// Both lines: before dashed, after solid.
pub(super) fn lines(painter: &Painter, plot: Rect, join: &Join, width: f32, dash: f32) {
    let axis = FrequencyAxis { x: plot.x_range() };
    let levels = levels(join, plot.y_range());
    for run in runs(&join.before, axis, levels) {
        let stroke = Stroke::new(width, painter.theme.trace_hold);
        painter.egui.extend(Shape::dashed_line(&run, stroke, dash, dash * 0.6));
    }
    for run in runs(&join.after, axis, levels) {
        painter.path(run, width, painter.theme.trace);
    }
}

/// The shares of one side as a bar.
pub(super) fn shares(painter: &Painter, bar: Rect, side: &Side, empty: Ink) {
    let shares = Role::PARTS.into_iter().zip(side.shares);
    if !role_marks::segments(painter, bar, shares) {
        painter.hairline(bar.left_center(), bar.right_center(), empty);
    }
}

/// The small picture: lines over two bars.
pub(super) fn small(painter: &Painter, rect: Rect, join: &Join) {
    if rect.width() < 20.0 || rect.height() < 20.0 {
        return;
    }
    painter.fill(rect, painter.theme.plot);
    let mut plot = rect;
    if join.roles().next().is_some() {
        let bar = |from: f32| rect.with_min_y(rect.bottom() - from).with_max_y(rect.bottom() - from + 4.0);
        plot.max.y = rect.bottom() - 11.0;
        shares(painter, bar(9.0), &join.before, painter.theme.muted);
        shares(painter, bar(4.0), &join.after, painter.theme.muted);
    }
    lines(&painter.within(rect), plot.shrink(1.0), join, stroke::THIN, 2.5);
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::Rangef;
    use plumbline_measure::reading::Maybe;

    #[test]
    fn the_axis_holds_the_loudest_third_of_both_sides() {
        let mut join = Join::default();
        let top = |join: &Join| levels(join, Rangef::new(0.0, 60.0)).top;
        assert_eq!(top(&join), 0.0);
        join.before.thirds_dbfs[3] = Maybe::new(Some(-41.0));
        assert_eq!(top(&join), -40.0);
        join.after.thirds_dbfs[9] = Maybe::new(Some(-20.0));
        assert_eq!(top(&join), -10.0, "a third on the edge of ten has room");
        join.after.thirds_dbfs[9] = Maybe::new(Some(f64::INFINITY));
        assert_eq!(top(&join), -40.0);
    }

    #[test]
    fn a_third_without_a_level_breaks_the_line() {
        let mut side = Side::default();
        for third in [2, 3, 4, 9, 10] {
            side.thirds_dbfs[third] = Maybe::new(Some(-30.0));
        }
        let axis = FrequencyAxis { x: Rangef::new(0.0, 100.0) };
        let levels = ValueAxis { bottom: -60.0, top: 0.0, y: Rangef::new(0.0, 60.0) };
        let lengths: Vec<usize> = runs(&side, axis, levels).iter().map(Vec::len).collect();
        assert_eq!(lengths, [3, 2]);
    }

    #[test]
    fn only_roles_that_sound_on_either_side_are_named() {
        let mut join = Join::default();
        join.before.shares = [Some(1.0), Some(0.0), None, Some(f64::NAN), None];
        join.after.shares = [Some(0.4), Some(0.0), Some(0.6), None, None];
        let named: Vec<Role> = join.roles().map(|(_, role)| role).collect();
        assert_eq!(named, [Role::Natural, Role::Design]);
    }
}
