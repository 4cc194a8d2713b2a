//! Correlation, balance, sample peaks.

use crate::mapping::ValueAxis;
use crate::painter::{Painter, place};
use crate::screen::Scene;
use crate::tokens::{Theme, size, space, stroke};
use egui::{Align2, Rangef, Rect, Ui, pos2};
use plumbline_report::figures;

/// A scale with a bob that hangs at the value.
struct Needle<'a> {
    title: &'a str,
    figure: String,
    value: Option<f64>,
    ends: [f64; 2],
    marks: &'a [(f64, &'a str)],
    /// Values at or under this are painted as a fault.
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
               −1 opposed. Low is wide, and no fault by itself: see the verdict.";
    place(ui, rect, "correlation now", tip, || format!("Correlation now {figure}"));
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
    let tip = "Level of the right channel against the left over the last 300 ms, in dB.";
    place(ui, rect, "balance now", tip, || format!("Balance now {figure}"));
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
        let x = |value: f64| across(bar, self.ends, value);
        for (value, label) in self.marks {
            let at = x(*value);
            painter.hair(pos2(at, bar.top() - 1.0), pos2(at, bar.bottom() + 1.0), theme.grid_strong);
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
        painter.bob(pos2(to, bar.bottom()), 9.0, false, if fault { theme.fault } else { theme.text });
    }
}

fn across(bar: Rect, ends: [f64; 2], value: f64) -> f32 {
    // A value axis lying down: its upper end is the right one.
    let axis = ValueAxis { bottom: ends[0], top: ends[1], y: Rangef::new(0.0, bar.width()) };
    bar.right() - axis.y(value)
}

pub(super) fn peaks_ui(ui: &Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let (theme, meters) = (scene.theme, &scene.view.meters);
    painter.block(rect, theme.panel);
    let inside = rect.shrink2(egui::vec2(space::INSET, 3.0));
    let line = |row: f32| inside.top() + space::LINE * (row + 0.5);
    painter.text(
        pos2(inside.left(), line(0.0)),
        Align2::LEFT_CENTER,
        "Sample peak",
        size::SMALL,
        theme.muted,
    );
    painter.text(pos2(inside.right(), line(0.0)), Align2::RIGHT_CENTER, "max dBFS", size::AXIS, theme.muted);
    for (channel, (name, row)) in [("L", 1.0), ("R", 2.0)].into_iter().enumerate() {
        painter.text(pos2(inside.left(), line(row)), Align2::LEFT_CENTER, name, size::SMALL, theme.muted);
        let bar = Rect::from_x_y_ranges(
            inside.left() + 16.0..=inside.right() - 52.0,
            line(row) - 4.0..=line(row) + 4.0,
        );
        peak_bar(painter, theme, bar, meters.peak_dbfs[channel], meters.max_peak_dbfs[channel]);
        let max = figures::plain(meters.max_peak_dbfs[channel], 1);
        let ink = if meters.overs[channel] > 0 { theme.fault_text } else { theme.text };
        painter.text(pos2(inside.right(), line(row)), Align2::RIGHT_CENTER, max, size::SMALL, ink);
    }
    let overs = meters.overs[0].saturating_add(meters.overs[1]);
    let dc = meters.dc.iter().flatten().filter(|d| d.is_finite()).map(|d| d.abs()).reduce(f64::max);
    let dc = figures::unit(figures::plain(dc.map(|d| d * 100.0), 2), "%");
    let over_ink = if overs > 0 { theme.fault_text } else { theme.text };
    let over_text = match overs {
        // Counted since reset: a moment that is made again does not know.
        0 if scene.view.past.is_some_and(|past| past.rebuilt || past.absent) => {
            format!("{} clipped", figures::DASH)
        }
        0 => "none clipped".to_owned(),
        _ => format!("{overs} clipped"),
    };
    let indent = if overs > 0 { 12.0 } else { 0.0 };
    let at = pos2(inside.left() + indent, line(3.2));
    painter.text(at, Align2::LEFT_CENTER, &over_text, size::SMALL, over_ink);
    if overs > 0 {
        painter.bob(pos2(inside.left() + 4.0, at.y - 3.5), 7.0, true, theme.fault);
    }
    painter.text(
        pos2(inside.right(), line(3.2)),
        Align2::RIGHT_CENTER,
        format!("DC {dc}"),
        size::SMALL,
        theme.text,
    );
    let tip = "Sample peak of each channel in dBFS: holds 1 s, then falls 20 dB in 1.7 s (IEC TR 60268-18); the \
               highest since reset beside it. Samples at full scale are counted as clipped. DC over 3 s, as a share of \
               full scale.";
    place(ui, rect, "peaks", tip, || {
        let [left, right] = meters.max_peak_dbfs.map(|max| figures::plain(max, 1));
        format!("Sample peak, highest: left {left} dBFS, right {right} dBFS, {over_text}, DC {dc}")
    });
}

/// Lowest level of the peak bars, dBFS.
const PEAK_FLOOR_DB: f64 = -60.0;

fn peak_bar(painter: &Painter, theme: &Theme, bar: Rect, peak: Option<f64>, max: Option<f64>) {
    painter.fill(bar, theme.plot);
    let x = |value: f64| across(bar, [PEAK_FLOOR_DB, 0.0], value);
    for mark in [-40.0, -20.0, -10.0] {
        painter.hair(pos2(x(mark), bar.top()), pos2(x(mark), bar.bottom()), theme.grid_strong);
    }
    if let Some(peak) = peak.filter(|p| !p.is_nan()) {
        painter.fill(Rect::from_x_y_ranges(bar.left()..=x(peak), bar.shrink(1.5).y_range()), theme.bar);
    }
    if let Some(max) = max.filter(|m| !m.is_nan()) {
        let ink = if max >= 0.0 { theme.fault } else { theme.text };
        let at = (x(max) - 1.0).max(bar.left());
        painter.fill(Rect::from_x_y_ranges(at..=at + stroke::MARK, bar.y_range()), ink);
    }
}
