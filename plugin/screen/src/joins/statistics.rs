//! Statistics: everything since reset, then passage by passage.

mod columns;

use crate::controls::choice;
use crate::painter::{Painter, name_only};
use crate::screen::{Scene, Screen};
use crate::tokens::{size, space};
use crate::when;
use columns::Column;
pub(super) use columns::Group;
use egui::{Align, Align2, Layout, Rect, Sense, Ui, UiBuilder, pos2, vec2};
use plumbline_programme::{Log, Mark, PassageLine};
use plumbline_report::figures;
use plumbline_report::words;

pub(super) const HEADS: f32 = 30.0;
pub(super) const ROW: f32 = 19.0;
/// Widths of name, start and length.
const NAME: f32 = 84.0;
const START: f32 = 82.0;
const LENGTH: f32 = 66.0;
/// Room at the right for the bar of the scroll area.
const MARGIN: f32 = 6.0;

pub(super) fn statistics_ui(
    screen: &mut Screen,
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
        let text = "No statistics yet: they count what was heard since reset, and between marks.";
        let galley = crate::header::fitted_in(painter, text, size::SMALL, inside.width(), scene.theme.muted);
        painter.put(inside.left_top() + vec2(space::NEAR, space::NEAR), Align2::LEFT_TOP, galley);
        name_only(ui, inside, "no statistics", || text.to_owned());
        return;
    }
    let room = inside.width() - NAME - START - LENGTH - MARGIN;
    let mut columns = columns::all(log);
    if columns.iter().map(|column| column.width).sum::<f32>() > room {
        let bar = inside.with_max_y((inside.top() + space::BUTTON).min(inside.bottom()));
        groups_ui(screen, ui, bar);
        inside.min.y = (bar.bottom() + 2.0).min(inside.bottom());
        columns.retain(|column| column.group == screen.joins.group);
    }
    let heads = inside.with_max_y(inside.top() + HEADS);
    heads_ui(ui, painter, heads, &columns);
    let body = inside.with_min_y(heads.bottom());
    let mut child = ui.new_child(UiBuilder::new().id_salt("passages").max_rect(body));
    child.spacing_mut().item_spacing.y = 0.0;
    let here = super::here(scene.view).and_then(|mark| holding(log, mark));
    egui::ScrollArea::vertical().id_salt("passages").auto_shrink([false, false]).show_rows(
        &mut child,
        ROW,
        log.passages.len(),
        |ui, range| {
            for at in range {
                let Some(line) = log.passages.get(at) else { continue };
                let (row, _) = ui.allocate_exact_size(vec2(inside.width(), ROW), Sense::hover());
                row_ui(screen, ui, scene, line, (at, here == Some(at)), row, &columns);
            }
        },
    );
}

/// Which passage a moment lies in: of those between marks the last that starts at or before it.
fn holding(log: &Log, moment: Mark) -> Option<usize> {
    let starts = |(_, line): &(usize, &PassageLine)| line.grid == moment.grid && line.start <= moment.index;
    let between = log.passages.iter().enumerate().skip(1).filter(starts);
    between.max_by_key(|(_, line)| line.start).map(|(at, _)| at)
}

fn groups_ui(screen: &mut Screen, ui: &mut Ui, rect: Rect) {
    let builder =
        UiBuilder::new().id_salt("groups").max_rect(rect).layout(Layout::left_to_right(Align::Center));
    let mut row = ui.new_child(builder);
    row.spacing_mut().item_spacing.x = 1.0;
    for (group, label, tip) in [
        (Group::Loudness, "Loudness", "Loudness, range, true peak, clipped and lost samples"),
        (Group::Stereo, "Stereo", "Width, correlation, coherence, out of step, mono loss, balance"),
        (Group::Roles, "Roles", "Shares and leads of the roles, and what is unaccounted for"),
    ] {
        let chosen = screen.joins.group == group;
        if choice(&mut row, chosen, label, &format!("Columns {}", label.to_lowercase()), tip).clicked() {
            screen.joins.group = group;
        }
    }
}

/// The columns at the right of name, start and length, in their places.
fn places(row: Rect, columns: &[Column]) -> impl Iterator<Item = (&Column, Rect)> {
    let wanted: f32 = columns.iter().map(|column| column.width).sum();
    let fixed = NAME + START + LENGTH + MARGIN;
    #[expect(clippy::cast_precision_loss, reason = "tens of columns")]
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
    let tip = "All that was heard since reset, then what lies between marks: where it starts, and how much of it was heard. \
               Each moment of the song counts once, as it sounded last.";
    name_only(ui, fixed, "passage", || "Columns passage, start and length heard".to_owned())
        .on_hover_text(tip);
    for (column, cell) in places(rect, columns) {
        let (name, unit) = column.head();
        painter.text(pos2(cell.right(), rect.top() + 8.0), Align2::RIGHT_CENTER, name, size::AXIS, muted);
        painter.text(pos2(cell.right(), lower), Align2::RIGHT_CENTER, unit, size::AXIS, muted);
        name_only(ui, cell, &format!("{name} {unit}"), || format!("Column {name} {unit}"))
            .on_hover_text(column.tip());
    }
}

fn row_ui(
    screen: &Screen,
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
    let start = when::tenth(scene, screen.settings(), line.grid, line.start);
    let length = words::length(line.secs);
    if here {
        painter.fill(rect, theme.button);
    }
    let y = rect.center().y;
    let word = if scene.view.past.is_some() { "shown" } else { "now" };
    let text = painter.text(pos2(rect.left() + 12.0, y), Align2::LEFT_CENTER, &name, size::SMALL, theme.text);
    if here {
        // A shape and a word: which passage is heard, or looked at.
        let tip = pos2(rect.left() + 9.0, y);
        let points = vec![tip, tip + vec2(-6.0, -4.5), tip + vec2(-6.0, 4.5)];
        painter.egui.add(egui::Shape::convex_polygon(points, theme.plumb, egui::Stroke::NONE));
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
        painter.hair(rect.left_bottom(), rect.right_bottom(), theme.grid_strong);
    }
    name_only(ui, rect, &format!("passage {at}"), || {
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
                    "sample that was no number",
                    "samples that were no numbers"
                )
            )
        } else {
            String::new()
        };
        format!("{name}{here}: from {start}, {length} heard, {}{lost}", values.join(", "))
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_measure::Grid;

    #[test]
    fn a_moment_lies_in_the_last_passage_that_starts_before_it() {
        let line = |start, end| PassageLine { grid: Grid::Song, start, end, ..PassageLine::default() };
        let log =
            Log { passages: vec![line(0, 90), line(0, 30), line(30, 60), line(60, 90)], ..Log::default() };
        let at = |index| holding(&log, Mark { grid: Grid::Song, index });
        assert_eq!([at(0), at(29), at(30), at(89), at(90)], [Some(1), Some(1), Some(2), Some(3), Some(3)]);
        assert_eq!(at(-1), None);
        assert_eq!(holding(&log, Mark { grid: Grid::Clock, index: 40 }), None);
        let alone = Log { passages: vec![line(0, 90)], ..Log::default() };
        assert_eq!(holding(&alone, Mark { grid: Grid::Song, index: 40 }), None, "all of it needs no mark");
    }
}
