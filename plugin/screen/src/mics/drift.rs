//! The delay of a pair over the last minute.

use super::title::titled;
use crate::mapping::{ValueAxis, single};
use crate::painter::{Painter, named_area};
use crate::tokens::{size, space, stroke};
use egui::{Align2, Rect, Ui, pos2};
use plumbline_programme::PairLine;
use plumbline_programme::pair::DRIFT_SECS;
use plumbline_report::figures;

/// The least height of the axis in ms: in a room, the delay scatters by about this much between windows.
const LEAST_MS: f64 = 0.5;
const TIP: &str = "The delay found in each 2 s window over the last minute, and the line that most of them lie on. A \
                   sloping line means that the recorders' clocks differ: 1 ppm is 3.6 ms in an hour.";

pub(super) fn drift_ui(ui: &Ui, painter: &Painter, line: &PairLine, rect: Rect) {
    let said = words(line);
    let inside = titled(painter, rect, &format!("Delay over time  ·  {said}"));
    let theme = painter.theme;
    let plot = Rect::from_min_max(
        pos2(inside.left() + 42.0, inside.top()),
        pos2(inside.right() - 8.0, inside.bottom() - space::LINE),
    );
    named_area(ui, rect, "drift", || format!("Delay over time: {said}")).on_hover_text(TIP);
    if plot.height() < 18.0 || plot.width() < 80.0 {
        return;
    }
    painter.fill(plot, theme.plot);
    let x = |secs: f64| {
        let part = 1.0 + secs / DRIFT_SECS;
        plot.left() + plot.width() * single(if part.is_nan() { 0.0 } else { part.clamp(0.0, 1.0) })
    };
    for secs in [-60.0, -45.0, -30.0, -15.0, 0.0_f64] {
        let label =
            if secs == 0.0 { "now".to_owned() } else { figures::unit(figures::plain(Some(secs), 0), "s") };
        painter.hairline(pos2(x(secs), plot.top()), pos2(x(secs), plot.bottom()), theme.grid);
        let anchor = if secs == 0.0 { Align2::RIGHT_CENTER } else { Align2::CENTER_CENTER };
        painter.text(
            pos2(x(secs), plot.bottom() + space::LINE / 2.0),
            anchor,
            label,
            size::AXIS,
            theme.muted,
        );
    }
    let Some(middle) = line.middle_delay_secs() else {
        painter.text(plot.center(), Align2::CENTER_CENTER, "No delay found yet", size::SMALL, theme.muted);
        return;
    };
    // Nine points in ten set the axis, so that outliers do not squeeze the rest.
    let half = (line.delay_spread_secs(middle) * 1e3 * 1.2).max(LEAST_MS / 2.0);
    let middle = middle * 1e3;
    let values = ValueAxis { bottom: middle - half, top: middle + half, y: plot.y_range() };
    for at in [middle + half, middle, middle - half] {
        let y = values.y(at).clamp(plot.top() + 5.0, plot.bottom() - 5.0);
        painter.hairline(pos2(plot.left(), values.y(at)), pos2(plot.right(), values.y(at)), theme.grid);
        if plot.height() >= 36.0 || at == middle {
            let label = figures::plain(Some(at), 2);
            painter.text(pos2(plot.left() - 4.0, y), Align2::RIGHT_CENTER, label, size::AXIS, theme.muted);
        }
    }
    let painter = painter.within(plot);
    for [secs, delay] in &line.delays {
        if delay.is_finite() && secs.is_finite() {
            painter.egui.circle_filled(pos2(x(*secs), values.y(delay * 1e3)), 1.8, theme.trace);
        }
    }
    let oldest = line.delays.first().map_or(0.0, |d| d[0]).clamp(-DRIFT_SECS, 0.0);
    let at = |secs: f64| Some(pos2(x(secs), values.y(line.delay_at(secs)? * 1e3)));
    if let (Some(from), Some(to)) = (at(oldest), at(0.0)) {
        painter.path(vec![from, to], stroke::THIN, theme.plumb);
    }
}

fn words(line: &PairLine) -> String {
    let Ok(agreed) = line.reading.outcome else { return "no delay found".to_owned() };
    match agreed.drift {
        None => "drift: needs 8 s".to_owned(),
        Some(drift) => {
            let ppm = crate::words::with_sigma(figures::signed(Some(drift.ppm), 1), drift.sigma_ppm);
            if drift.plain { format!("drift {ppm}") } else { format!("no clear drift, {ppm}") }
        }
    }
}
