//! Correlation and balance of the last 300 ms.

use crate::frame_data::Scene;
use crate::mapping::ValueAxis;
use crate::painter::{Painter, tooltip_area};
use crate::tokens::{size, space};
use egui::{Align2, Rangef, Rect, Ui, pos2};
use plumbline_report::figures;

/// A scale with a triangle at the value.
struct Needle<'a> {
    title: &'a str,
    figure: String,
    value: Option<f64>,
    ends: [f64; 2],
    marks: &'a [(f64, &'a str)],
    /// Values at or below this are a fault.
    fault_below: f64,
}

pub(super) fn correlation_ui(ui: &Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let value = scene.view.meters.correlation;
    let figure = figures::signed(value, 2);
    let needle = Needle {
        title: "Correlation",
        figure: figure.clone(),
        value,
        ends: [-1.0, 1.0],
        marks: &[(-1.0, "−1"), (0.0, "0"), (1.0, "+1")],
        fault_below: plumbline_programme::verdict::OPPOSED_CORRELATION,
    };
    needle.paint(painter, rect);
    let tip = "Correlation of left and right over the last 300 ms, 20 Hz to 20 kHz as heard: +1 mono, 0 unrelated, \
               −1 polarity inverted. Low means wide, which is not a fault in itself: see the verdict.";
    tooltip_area(ui, rect, "correlation now", tip, || format!("Correlation now {figure}"));
}

pub(super) fn balance_ui(ui: &Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let value = scene.view.meters.balance_db;
    let figure = figures::unit(figures::balance(value), "dB");
    let needle = Needle {
        title: "Balance",
        figure: figure.clone(),
        value,
        ends: [-12.0, 12.0],
        marks: &[(-12.0, "L 12"), (0.0, "0"), (12.0, "R 12")],
        fault_below: f64::NEG_INFINITY,
    };
    needle.paint(painter, rect);
    let tip = "Level of the right channel relative to the left over the last 300 ms, in dB.";
    tooltip_area(ui, rect, "balance now", tip, || format!("Balance now {figure}"));
}

impl Needle<'_> {
    fn paint(&self, painter: &Painter, rect: Rect) {
        let theme = painter.theme;
        painter.block(rect, theme.panel);
        let inside = rect.shrink2(egui::vec2(space::INSET, 3.0));
        let top = inside.top() + space::LINE / 2.0;
        painter.text(pos2(inside.left(), top), Align2::LEFT_CENTER, self.title, size::SMALL, theme.muted);
        painter.text(pos2(inside.right(), top), Align2::RIGHT_CENTER, &self.figure, size::BODY, theme.text);
        let bar = Rect::from_x_y_ranges(
            inside.left() + 14.0..=inside.right() - 14.0,
            inside.bottom() - 15.0..=inside.bottom() - 10.0,
        );
        painter.fill(bar, theme.plot);
        let x = |value: f64| value_x(bar, self.ends, value);
        for (value, label) in self.marks {
            let at = x(*value);
            painter.hairline(pos2(at, bar.top() - 1.0), pos2(at, bar.bottom() + 1.0), theme.grid_strong);
            painter.text(
                pos2(at, inside.bottom() + 2.0),
                Align2::CENTER_BOTTOM,
                *label,
                size::AXIS,
                theme.muted,
            );
        }
        let Some(value) = self.value.filter(|v| v.is_finite()) else { return };
        let fault = value <= self.fault_below;
        let (from, to) = (x(0.0), x(value));
        let ink = if fault { theme.fault } else { theme.bar };
        painter.fill(Rect::from_x_y_ranges(from.min(to)..=from.max(to), bar.y_range()), ink);
        painter.triangle(pos2(to, bar.bottom()), 9.0, false, if fault { theme.fault } else { theme.text });
    }
}

pub(super) fn value_x(bar: Rect, ends: [f64; 2], value: f64) -> f32 {
    // A horizontal value axis: its upper end is at the right.
    let axis = ValueAxis { bottom: ends[0], top: ends[1], y: Rangef::new(0.0, bar.width()) };
    bar.right() - axis.y(value)
}
