//! The selected join: the spectrum and the shares on both sides, and the jumps in words.

use super::entries::Entry;
use super::{before_after, list};
use crate::frame_data::Scene;
use crate::mapping::{FrequencyAxis, LABELLED_HZ};
use crate::painter::{Painter, named_area};
use crate::settings::Settings;
use crate::time_label;
use crate::tokens::{size, space, stroke};
use egui::{Align2, Rect, Ui, pos2, vec2};
use plumbline_programme::Join;
use plumbline_programme::joins::Side;
use plumbline_report::figures;

/// Room for the labels of the levels.
const GUTTER: f32 = 34.0;
const BAR: f32 = 16.0;
/// Room for the words at the left of a bar.
const WORD: f32 = 44.0;

pub(super) fn selected_ui(
    settings: &Settings,
    ui: &Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    row: &Entry<'_>,
    rect: Rect,
) {
    if rect.width() < 120.0 || rect.height() < 60.0 {
        return;
    }
    let theme = scene.theme;
    painter.block(rect, theme.panel);
    let inside = rect.shrink2(vec2(space::INSET, space::NEAR));
    let Entry::Join(join, _) = row else {
        let text = list::said(row);
        if let Some(galley) = painter.first_that_fits(&[&text], size::BODY, theme.text, inside.size()) {
            painter.put(inside.left_top(), Align2::LEFT_TOP, galley);
        }
        named_area(ui, rect, "selected mark", || text.clone());
        return;
    };
    let at = time_label::join(scene.view, settings, join);
    let said = list::said(row);
    let title = format!("{at}  ·  2 s before and after");
    let head = inside.with_max_y(inside.top() + space::LINE);
    painter.put(head.left_center(), Align2::LEFT_CENTER, painter.fitted(&title, size::SMALL, head.width()));
    let mut top = head.bottom() + 2.0;
    let room = vec2(inside.width(), (inside.height() * 0.24).max(34.0));
    let sentence = painter
        .first_that_fits(&[&said], size::BODY, theme.text, room)
        .or_else(|| painter.first_that_fits(&[&said], size::SMALL, theme.text, room))
        .or_else(|| painter.first_that_fits(&[&said], size::AXIS, theme.text, room));
    if let Some(sentence) = sentence {
        top = painter.put(pos2(inside.left(), top), Align2::LEFT_TOP, sentence).bottom() + 2.0;
    }
    let told = join.roles().next().is_some();
    let bars_h = if told { 2.0 * (BAR + 2.0) + space::LINE } else { 0.0 };
    let bars = inside.with_min_y((inside.bottom() - bars_h).max(top));
    let plot = inside.with_min_y(top).with_max_y((bars.top() - space::NEAR).max(top));
    spectra(painter, plot, join);
    if told {
        balances(painter, bars, join);
    }
    let tip = "Levels of the one-third-octave bands (IEC 61260-1) in dBFS, and shares of the K-weighted energy (ITU-R \
               BS.1770-5) in per cent: 2 s before the join against 2 s after it.";
    named_area(ui, rect, "selected join", || aloud(&at, join, &said)).on_hover_text(tip);
}

fn spectra(painter: &Painter, rect: Rect, join: &Join) {
    let theme = painter.theme;
    let plot = Rect::from_min_max(
        pos2(rect.left() + GUTTER, rect.top() + space::LINE),
        pos2(rect.right(), rect.bottom() - space::LINE),
    );
    if plot.width() < 60.0 || plot.height() < 24.0 {
        return;
    }
    legend(painter, rect.with_max_y(plot.top()));
    painter.fill(plot, theme.plot);
    let levels = before_after::levels(join, plot.y_range());
    let steps = if plot.height() < 90.0 { 2 } else { 3 };
    for step in 0..=steps {
        let level = levels.top - 20.0 * f64::from(step) * 3.0 / f64::from(steps);
        let y = levels.y(level);
        painter.hairline(pos2(plot.left(), y), pos2(plot.right(), y), theme.grid);
        let text = figures::plain(Some(level), 0);
        // The lowest label must not touch those of the frequencies.
        let lift = if step == steps { 5.0 } else { 0.0 };
        painter.text(pos2(plot.left() - 4.0, y - lift), Align2::RIGHT_CENTER, text, size::AXIS, theme.muted);
    }
    let axis = FrequencyAxis { x: plot.x_range() };
    let mut free = f32::NEG_INFINITY;
    for (hz, label) in LABELLED_HZ {
        let x = axis.x(hz);
        painter.hairline(pos2(x, plot.top()), pos2(x, plot.bottom()), theme.grid);
        let (anchor, before) =
            if x + 12.0 > plot.right() { (Align2::RIGHT_TOP, 26.0) } else { (Align2::CENTER_TOP, 14.0) };
        if x - before > free {
            free = painter.text(pos2(x, plot.bottom() + 2.0), anchor, label, size::AXIS, theme.muted).right();
        }
    }
    before_after::lines(&painter.within(plot), plot, join, stroke::TRACE, 5.0);
}

/// The legend for both lines.
fn legend(painter: &Painter, rect: Rect) {
    let (theme, y) = (painter.theme, rect.top() + space::LINE / 2.0 - 1.0);
    let mut x = rect.left() + GUTTER;
    for (name, dashed, ink) in [("before", true, theme.trace_hold), ("after", false, theme.trace)] {
        let ends = vec![pos2(x, y), pos2(x + 20.0, y)];
        if dashed {
            let stroke = egui::Stroke::new(stroke::TRACE, ink);
            painter.egui.extend(egui::Shape::dashed_line(&ends, stroke, 5.0, 3.0));
        } else {
            painter.path(ends, stroke::TRACE, ink);
        }
        x = painter.text(pos2(x + 25.0, y), Align2::LEFT_CENTER, name, size::AXIS, theme.muted).right()
            + space::GAP;
    }
    painter.text(pos2(rect.right(), y), Align2::RIGHT_CENTER, "dBFS per third", size::AXIS, theme.muted);
}

fn balances(painter: &Painter, rect: Rect, join: &Join) {
    let theme = painter.theme;
    if rect.height() < 2.0 * BAR {
        return;
    }
    for (at, (name, side)) in [("before", &join.before), ("after", &join.after)].into_iter().enumerate() {
        let top = rect.top() + at as f32 * (BAR + 2.0);
        let row = Rect::from_min_max(pos2(rect.left(), top), pos2(rect.right(), top + BAR));
        painter.text(row.left_center(), Align2::LEFT_CENTER, name, size::AXIS, theme.muted);
        let bar = row.with_min_x((row.left() + WORD).min(row.right()));
        painter.fill(bar, theme.plot);
        before_after::shares(painter, bar, side, theme.muted);
    }
    let under = pos2(rect.left() + WORD, rect.bottom() - space::LINE / 2.0 + 1.0);
    list::legend(painter, under, rect.right(), join.roles());
}

/// Accessible text for both sides.
fn aloud(at: &str, join: &Join, said: &str) -> String {
    let side = |name: &str, side: &Side| {
        let shares: Vec<String> = join
            .roles()
            .map(|(part, role)| format!("{} {}", role.name(), figures::percent(side.shares[part])))
            .collect();
        format!(
            "{name}: {} LUFS, {} dB per octave, width {}{}{}",
            figures::plain(side.loudness_lufs, 1),
            figures::signed(side.tone_db_per_octave, 1),
            figures::percent(side.side_share),
            if shares.is_empty() { "" } else { ", " },
            shares.join(", ")
        )
    };
    format!("Selected join at {at}. {said} {}. {}", side("Before", &join.before), side("After", &join.after))
}
