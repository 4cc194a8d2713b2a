//! Sample peaks, clipped samples and DC.

use super::correlation::value_x;
use crate::frame_data::Scene;
use crate::painter::{Painter, tooltip_area};
use crate::tokens::{Theme, size, space, stroke};
use egui::{Align2, Rect, Ui, pos2};
use plumbline_report::figures;

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
        let ink = if meters.flat[channel] > 0 { theme.fault_text } else { theme.text };
        painter.text(pos2(inside.right(), line(row)), Align2::RIGHT_CENTER, max, size::SMALL, ink);
    }
    let overs = scene.view.clipped();
    let dc = figures::unit(figures::plain(scene.view.dc().map(|dc| dc * 100.0), 2), "%");
    let over_ink = if overs > 0 { theme.fault_text } else { theme.text };
    let over_text = match overs {
        // The count is since reset, so it is unknown for a reconstructed moment.
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
        painter.triangle(pos2(inside.left() + 4.0, at.y - 3.5), 7.0, true, theme.fault);
    }
    painter.text(
        pos2(inside.right(), line(3.2)),
        Align2::RIGHT_CENTER,
        format!("DC {dc}"),
        size::SMALL,
        theme.text,
    );
    let tip = "Sample peak of each channel in dBFS: holds 1 s, then falls 20 dB in 1.7 s (IEC TR 60268-18); the \
               highest since reset beside it. Three samples or more in a row at full scale are counted as clipped. DC \
               over 3 s, as a share of full scale.";
    tooltip_area(ui, rect, "peaks", tip, || {
        let [left, right] = meters.max_peak_dbfs.map(|max| figures::plain(max, 1));
        format!("Sample peak, highest: left {left} dBFS, right {right} dBFS, {over_text}, DC {dc}")
    });
}

/// Lowest level of the peak bars, dBFS.
const PEAK_FLOOR_DB: f64 = -60.0;

fn peak_bar(painter: &Painter, theme: &Theme, bar: Rect, peak: Option<f64>, max: Option<f64>) {
    painter.fill(bar, theme.plot);
    let x = |value: f64| value_x(bar, [PEAK_FLOOR_DB, 0.0], value);
    for mark in [-40.0, -20.0, -10.0] {
        painter.hairline(pos2(x(mark), bar.top()), pos2(x(mark), bar.bottom()), theme.grid_strong);
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
