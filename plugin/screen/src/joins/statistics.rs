//! Statistics: everything since reset, then passage by passage.

pub(super) mod columns;

use super::state::JoinsState;
use crate::frame_data::Scene;
use crate::painter::{Painter, named_area};
use crate::settings::Settings;
use crate::table::Rows;
use crate::time_label;
use crate::tokens::{size, space};
use crate::widgets;
use columns::{Column, ColumnGroup};
use egui::{Align2, Rect, Ui, pos2, vec2};
use plumbline_programme::PassageLine;
use plumbline_report::figures;
use plumbline_report::words;

pub(super) const HEADS: f32 = 30.0;
pub(super) const ROW: f32 = 19.0;
/// Widths of name, start and length.
const NAME: f32 = 84.0;
const START: f32 = 82.0;
const LENGTH: f32 = 66.0;
/// Room for the scroll bar at the right.
const MARGIN: f32 = 6.0;

pub(super) fn statistics_ui(
    settings: &Settings,
    state: &mut JoinsState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
) {
    painter.block(rect, scene.theme.panel);
    let mut inside = rect.shrink2(vec2(space::NEAR, 2.0));
    let log = &*scene.view.log;
    if inside.width() < NAME + START + LENGTH || inside.height() < HEADS + ROW {
        return;
    }
    if log.passages.is_empty() {
        let text = "No statistics yet: they cover what was heard since reset and between marks.";
        let galley = painter.fitted_in(text, size::SMALL, inside.width(), scene.theme.muted);
        painter.put(inside.left_top() + vec2(space::NEAR, space::NEAR), Align2::LEFT_TOP, galley);
        named_area(ui, inside, "no statistics", || text.to_owned());
        return;
    }
    let room = inside.width() - NAME - START - LENGTH - MARGIN;
    let mut columns = columns::all(log);
    if columns.iter().map(|column| column.width).sum::<f32>() > room {
        let bar = inside.with_max_y((inside.top() + space::BUTTON).min(inside.bottom()));
        groups_ui(state, ui, bar);
        inside.min.y = (bar.bottom() + 2.0).min(inside.bottom());
        columns.retain(|column| column.group == state.group);
    }
    let heads = inside.with_max_y(inside.top() + HEADS);
    heads_ui(ui, painter, heads, &columns);
    let here = scene.view.moment().and_then(|moment| log.passage_at(moment));
    let rows = Rows { salt: "passages", height: ROW, count: log.passages.len(), seek: None };
    rows.ui(ui, inside.with_min_y(heads.bottom()), |ui, at, row| {
        row_ui(settings, ui, scene, &log.passages[at], (at, here == Some(at)), row, &columns);
    });
}

fn groups_ui(state: &mut JoinsState, ui: &mut Ui, rect: Rect) {
    let mut row = widgets::row(ui, "groups", rect);
    row.spacing_mut().item_spacing.x = 1.0;
    for (group, label, tip) in [
        (ColumnGroup::Loudness, "Loudness", "Loudness, range, true peak, clipped and lost samples"),
        (ColumnGroup::Stereo, "Stereo", "Width, correlation, coherence, out of step, mono loss, balance"),
        (ColumnGroup::Roles, "Roles", "Shares and leads of the roles, and what is unaccounted for"),
    ] {
        let name = format!("Columns {}", label.to_lowercase());
        widgets::choose(&mut row, &mut state.group, group, label, &name, tip);
    }
}

/// The columns at the right of name, start and length, in their places.
fn places(row: Rect, columns: &[Column]) -> impl Iterator<Item = (&Column, Rect)> {
    let wanted: f32 = columns.iter().map(|column| column.width).sum();
    let fixed = NAME + START + LENGTH + MARGIN;
    let spread = ((row.width() - fixed - wanted) / columns.len().max(1) as f32).clamp(0.0, 24.0);
    let mut x = row.left() + NAME + START + LENGTH;
    columns.iter().map(move |column| {
        let from = x;
        x += column.width + spread;
        (column, Rect::from_x_y_ranges(from..=x, row.y_range()))
    })
}

fn heads_ui(ui: &Ui, painter: &Painter, rect: Rect, columns: &[Column]) {
    let muted = painter.theme.muted;
    let lower = rect.bottom() - 8.0;
    painter.text(pos2(rect.left() + 12.0, lower), Align2::LEFT_CENTER, "Passage", size::AXIS, muted);
    painter.text(pos2(rect.left() + NAME, lower), Align2::LEFT_CENTER, "Start", size::AXIS, muted);
    let right = rect.left() + NAME + START + LENGTH;
    painter.text(pos2(right, lower), Align2::RIGHT_CENTER, "Length", size::AXIS, muted);
    let fixed = rect.with_max_x(right.min(rect.right()));
    let tip = "Everything heard since reset, then each passage between marks: where it starts, and how much of it \
               was heard. Each moment of the song counts once, as it last sounded.";
    named_area(ui, fixed, "passage", || "Columns passage, start and length heard".to_owned())
        .on_hover_text(tip);
    for (column, cell) in places(rect, columns) {
        let (name, unit) = column.head();
        painter.text(pos2(cell.right(), rect.top() + 8.0), Align2::RIGHT_CENTER, name, size::AXIS, muted);
        painter.text(pos2(cell.right(), lower), Align2::RIGHT_CENTER, unit, size::AXIS, muted);
        named_area(ui, cell, &format!("{name} {unit}"), || format!("Column {name} {unit}"))
            .on_hover_text(column.tip());
    }
}

fn row_ui(
    settings: &Settings,
    ui: &Ui,
    scene: &Scene<'_>,
    line: &PassageLine,
    (at, here): (usize, bool),
    rect: Rect,
    columns: &[Column],
) {
    let theme = scene.theme;
    let painter = Painter::of(ui, theme);
    let name = if at == 0 { "Since reset".to_owned() } else { format!("{at}") };
    let start = time_label::tenth(scene.view, settings, line.grid, line.start);
    let length = words::length(line.secs);
    if here {
        painter.fill(rect, theme.button);
    }
    let y = rect.center().y;
    let word = if scene.view.past.is_some() { "shown" } else { "now" };
    let text = painter.text(pos2(rect.left() + 12.0, y), Align2::LEFT_CENTER, &name, size::SMALL, theme.text);
    if here {
        // A triangle and a word mark the passage that is playing or shown.
        let tip = pos2(rect.left() + 9.0, y);
        painter.polygon(vec![tip, tip + vec2(-6.0, -4.5), tip + vec2(-6.0, 4.5)], theme.plumb);
        painter.text(pos2(text.right() + 6.0, y + 0.5), Align2::LEFT_CENTER, word, size::AXIS, theme.muted);
    }
    painter.text(pos2(rect.left() + NAME, y), Align2::LEFT_CENTER, &start, size::SMALL, theme.text);
    let right = rect.left() + NAME + START + LENGTH;
    painter.text(pos2(right, y), Align2::RIGHT_CENTER, &length, size::SMALL, theme.text);
    for (column, cell) in places(rect, columns) {
        painter.text(
            pos2(cell.right(), y),
            Align2::RIGHT_CENTER,
            column.value(line),
            size::SMALL,
            theme.text,
        );
    }
    if at == 0 {
        painter.hairline(rect.left_bottom(), rect.right_bottom(), theme.grid_strong);
    }
    named_area(ui, rect, &format!("passage {at}"), || {
        let values: Vec<String> = columns
            .iter()
            .map(|column| {
                let (name, unit) = column.head();
                format!("{name} {} {unit}", column.value(line)).trim_end().to_owned()
            })
            .collect();
        let name = if at == 0 { name.clone() } else { format!("Passage {name}") };
        let here = if here { format!(", {word}") } else { String::new() };
        let lost = if line.not_finite > 0 {
            format!(
                ", {}",
                figures::count(
                    line.not_finite as f64,
                    "sample that was not a number",
                    "samples that were not numbers"
                )
            )
        } else {
            String::new()
        };
        format!("{name}{here}: from {start}, {length} heard, {}{lost}", values.join(", "))
    });
}
