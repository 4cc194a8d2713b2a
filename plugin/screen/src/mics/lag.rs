//! Correlation of a pair against delay.

use super::title::titled;
use crate::mapping::{ValueAxis, single};
use crate::painter::{Painter, named_area};
use crate::settings::Settings;
use crate::tokens::{size, space, stroke};
use egui::{Align2, Pos2, Rect, Ui, pos2};
use plumbline_programme::PairLine;
use plumbline_programme::pair::{LONGEST_LAG_SECS, Polarity, speed_of_sound};
use plumbline_report::figures;

const TIP: &str = "Generalised cross-correlation with phase transform of the last 2 s: 1 where the two agree at that \
                   delay, −1 where they agree with polarity inverted. To the right, the second trails the first. \
                   Metres use the speed of sound at the air temperature in the settings (ISO 9613-1).";

pub(super) fn lag_ui(
    ui: &Ui,
    painter: &Painter,
    line: &PairLine,
    kept: Option<&PairLine>,
    [first, second]: [String; 2],
    settings: &Settings,
    rect: Rect,
) {
    let title = format!("Correlation against delay  ·  right: {second} trails {first}");
    let inside = titled(painter, rect, &title);
    let theme = painter.theme;
    let plot = Rect::from_min_max(
        pos2(inside.left() + 26.0, inside.top() + 2.0),
        pos2(inside.right() - 8.0, inside.bottom() - 2.0 * space::LINE),
    );
    if plot.height() < 24.0 || plot.width() < 80.0 {
        return;
    }
    painter.fill(plot, theme.plot);
    let ms = LONGEST_LAG_SECS * 1e3;
    let x = |secs: f64| {
        let part = (secs / LONGEST_LAG_SECS + 1.0) / 2.0;
        plot.left() + plot.width() * single(if part.is_nan() { 0.5 } else { part.clamp(0.0, 1.0) })
    };
    let values = ValueAxis { bottom: -1.0, top: 1.0, y: plot.y_range() };
    for (value, label) in [(1.0, "+1"), (0.0, "0"), (-1.0, "−1")] {
        let ink = if value == 0.0 { theme.grid_strong } else { theme.grid };
        painter.hairline(pos2(plot.left(), values.y(value)), pos2(plot.right(), values.y(value)), ink);
        let y = values.y(value).clamp(plot.top() + 5.0, plot.bottom() - 5.0);
        painter.text(pos2(plot.left() - 4.0, y), Align2::RIGHT_CENTER, label, size::AXIS, theme.muted);
    }
    let under = plot.bottom() + space::LINE / 2.0;
    for step in -3..=3_i32 {
        let at = f64::from(step) * ms / 3.0;
        let place = x(at / 1e3);
        painter.hairline(
            pos2(place, plot.top()),
            pos2(place, plot.bottom()),
            if step == 0 { theme.grid_strong } else { theme.grid },
        );
        let label = if step == 3 { format!("+{at:.0} ms") } else { figures::signed(Some(at), 0) };
        let anchor = if step == 3 { Align2::RIGHT_CENTER } else { Align2::CENTER_CENTER };
        let place = if step == 3 { plot.right() + 6.0 } else { place };
        painter.text(pos2(place, under), anchor, label, size::AXIS, theme.muted);
    }
    let speed = speed_of_sound(settings.celsius);
    for metres in [-15.0, -10.0, -5.0, 0.0, 5.0, 10.0, 15.0_f64] {
        let place = x(metres / speed);
        let label = if metres == 15.0 { "+15 m".to_owned() } else { figures::signed(Some(metres), 0) };
        painter.text(
            pos2(place, under + space::LINE - 1.0),
            Align2::CENTER_CENTER,
            label,
            size::AXIS,
            theme.muted,
        );
    }
    let inside = painter.within(plot);
    if let Some(kept) = kept {
        inside.path(curve(kept, &x, &values), stroke::HAIR, theme.trace_reference);
    }
    inside.path(curve(line, &x, &values), stroke::THIN, theme.trace);
    let said = match line.reading.outcome {
        Ok(agreed) => {
            let up = agreed.polarity == Polarity::Same;
            let place = x(agreed.delay_secs);
            painter.hairline(pos2(place, plot.top()), pos2(place, plot.bottom()), theme.plumb);
            let tip = if up { pos2(place, plot.top() + 9.0) } else { pos2(place, plot.bottom() - 9.0) };
            painter.triangle(tip, 8.0, !up, theme.plumb);
            let polarity = if up { "same polarity" } else { "polarity inverted" };
            let text = format!(
                "{}, {polarity}",
                figures::unit(figures::signed(Some(agreed.delay_secs * 1e3), 2), "ms")
            );
            let right = place < plot.center().x;
            let anchor = if right { Align2::LEFT_CENTER } else { Align2::RIGHT_CENTER };
            let aside = if right { 8.0 } else { -8.0 };
            let y = if up { plot.top() + 9.0 } else { plot.bottom() - 9.0 };
            painter.text(pos2(place + aside, y), anchor, text.clone(), size::SMALL, theme.text);
            text
        }
        Err(_) => "no delay found".to_owned(),
    };
    if line.trace.is_empty() {
        let text = "Nothing compared yet";
        painter.text(
            plot.center() - egui::vec2(0.0, 14.0),
            Align2::CENTER_CENTER,
            text,
            size::SMALL,
            theme.muted,
        );
    }
    named_area(ui, rect, "lag", || format!("Correlation against delay: {said}")).on_hover_text(TIP);
}

fn curve(line: &PairLine, x: &impl Fn(f64) -> f32, values: &ValueAxis) -> Vec<Pos2> {
    let last = line.trace.len().saturating_sub(1).max(1) as f64;
    let at = |i: usize| (2.0 * i as f64 / last - 1.0) * LONGEST_LAG_SECS;
    let height = |v: f32| if v.is_finite() { f64::from(v) } else { 0.0 };
    line.trace.iter().enumerate().map(|(i, v)| pos2(x(at(i)), values.y(height(*v)))).collect()
}
