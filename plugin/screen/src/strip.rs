//! The time strip: short-term loudness and lowest correlation of the newest tenths, newest at the right.

use crate::figures;
use crate::mapping::{ValueAxis, single};
use crate::pen::{Pen, place};
use crate::screen::Scene;
use crate::settings::Settings;
use crate::tokens::{size, space, stroke};
use egui::{Align2, Pos2, Rect, Ui, pos2};
use plumbline_measure::Tenth;

/// Seconds that the strip is long.
const SECS: f64 = 60.0;
/// Seconds between lines of its grid.
const GRID_SECS: f64 = 10.0;
/// Loudness axis about the target, LU.
const ABOUT_LU: [f64; 2] = [-18.0, 9.0];

const TIP: &str = "The last minute. Above: short-term loudness (3 s, EBU Tech 3341), the target as a line. Below: the \
                   lowest correlation (300 ms) in each tenth of a second, −1 to +1. Gaps are left open.";

pub(crate) fn strip_ui(ui: &Ui, pen: &Pen<'_>, scene: &Scene<'_>, settings: &Settings, rect: Rect) {
    let theme = scene.theme;
    pen.block(rect, theme.panel);
    let right = rect.right() - space::INSET;
    let plot = Rect::from_x_y_ranges(scene.plan.axis.min..=right, rect.top() + 4.0..=rect.bottom() - 15.0);
    let middle = plot.center().y;
    let lanes = [
        Rect::from_x_y_ranges(plot.x_range(), plot.top()..=middle - 1.5),
        Rect::from_x_y_ranges(plot.x_range(), middle + 1.5..=plot.bottom()),
    ];
    let x = |secs_ago: f64| plot.right() - single(secs_ago / SECS) * plot.width();
    for lane in lanes {
        pen.fill(lane, theme.plot);
        let mut at = 0.0;
        while at <= SECS {
            pen.hair(pos2(x(at), lane.top()), pos2(x(at), lane.bottom()), theme.grid);
            at += GRID_SECS;
        }
    }
    for (secs, label) in [(60.0, "60 s ago"), (40.0, "40"), (20.0, "20"), (0.0, "now")] {
        let anchor = match secs {
            s if s <= 0.0 => Align2::RIGHT_CENTER,
            s if s >= SECS => Align2::LEFT_CENTER,
            _ => Align2::CENTER_CENTER,
        };
        pen.text(pos2(x(secs), rect.bottom() - 7.5), anchor, label, size::AXIS, theme.muted);
    }
    for (lane, label) in lanes.iter().zip(["Loudness", "Correlation"]) {
        let at = pos2(plot.left() - 6.0, lane.center().y);
        pen.text(at, Align2::RIGHT_CENTER, label, size::AXIS, theme.muted);
    }

    let target = settings.target.integrated_lufs;
    let loudness =
        ValueAxis { bottom: target + ABOUT_LU[0], top: target + ABOUT_LU[1], y: lanes[0].y_range() };
    let correlation = ValueAxis { bottom: -1.0, top: 1.0, y: lanes[1].y_range() };
    pen.hair(
        pos2(plot.left(), loudness.y(target)),
        pos2(plot.right(), loudness.y(target)),
        theme.grid_strong,
    );
    pen.hair(
        pos2(plot.left(), correlation.y(0.0)),
        pos2(plot.right(), correlation.y(0.0)),
        theme.grid_strong,
    );
    let recent = &scene.view.recent;
    for run in runs(recent, |tenth| tenth.short_term.get(), x, loudness) {
        pen.path(run, stroke::TRACE, theme.trace);
    }
    for run in runs(recent, |tenth| tenth.lowest_correlation.get(), x, correlation) {
        pen.path(run, stroke::TRACE, theme.bar);
    }
    place(ui, rect, "strip", TIP, || {
        let newest = recent.last().and_then(|tenth| tenth.short_term.get());
        format!("The last minute: short-term loudness now {} LUFS", figures::plain(newest, 1))
    });
}

/// Points of one reading over the newest minute, split where tenths are missing or carry no reading.
fn runs(
    recent: &[Tenth],
    reading: impl Fn(&Tenth) -> Option<f64>,
    x: impl Fn(f64) -> f32,
    axis: ValueAxis,
) -> Vec<Vec<Pos2>> {
    let Some(newest) = recent.last() else { return Vec::new() };
    let mut runs: Vec<Vec<Pos2>> = Vec::new();
    let mut before: Option<i64> = None;
    for tenth in recent.iter().filter(|tenth| tenth.grid == newest.grid) {
        let ago = i128::from(newest.index) - i128::from(tenth.index);
        #[expect(clippy::cast_precision_loss, reason = "within a minute where it matters")]
        let secs_ago = ago as f64 / 10.0;
        let value = reading(tenth).filter(|v| v.is_finite());
        let Some(value) = value.filter(|_| (0.0..=SECS).contains(&secs_ago)) else {
            before = None;
            continue;
        };
        let point = pos2(x(secs_ago), axis.y(value));
        match (runs.last_mut(), before) {
            (Some(run), Some(index)) if index.checked_add(1) == Some(tenth.index) => run.push(point),
            _ => runs.push(vec![point]),
        }
        before = Some(tenth.index);
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::Rangef;
    use plumbline_measure::reading::Maybe;

    #[test]
    fn a_missing_tenth_leaves_a_gap() {
        let tenth = |index, value| Tenth { index, short_term: Maybe::new(value), ..Tenth::default() };
        let recent = [
            tenth(1, Some(-20.0)),
            tenth(2, Some(-21.0)),
            tenth(4, Some(-22.0)),
            tenth(5, None),
            tenth(6, Some(-23.0)),
        ];
        let axis = ValueAxis { bottom: -40.0, top: 0.0, y: Rangef::new(0.0, 40.0) };
        let runs = runs(&recent, |t| t.short_term.get(), single, axis);
        let lengths: Vec<usize> = runs.iter().map(Vec::len).collect();
        assert_eq!(lengths, [2, 1, 1]);
        assert_eq!(runs[0][0], pos2(0.5, 20.0));
    }
}
