//! The table of findings, two lines each: what and where, then what to do.

use super::order::{Filter, FindingOrder};
use super::state::{LogState, rewind};
use crate::frame_data::Scene;
use crate::intent::Intent;
use crate::page_state::Shared;
use crate::painter::{Painter, named_area};
use crate::severity_marks::severity_shape;
use crate::table::{self, HEADS, Rows};
use crate::time_label;
use crate::tokens::{size, space};
use egui::{Align2, Rangef, Rect, Ui, UiBuilder, pos2, vec2};
use plumbline_programme::findings::Grade;
use plumbline_programme::{Command, Finding};
use plumbline_report::words;

pub(super) const ROW: f32 = 38.0;
/// Room for the shape of the grade.
const SHAPE: f32 = 22.0;
const SEEN: f32 = 40.0;

/// Heads with width (0 means the remaining width), order, and tooltip.
const COLUMNS: [(&str, f32, Option<FindingOrder>, &str); 6] = [
    (
        "Time",
        86.0,
        Some(FindingOrder::Time),
        "Where it starts: SMPTE ST 12-1 timecode in song time, hours to tenths of a second in clock time.",
    ),
    ("Length", 96.0, None, "How long it lasts, in steps of 0.1 s. An ongoing finding has no end yet."),
    ("What", 100.0, Some(FindingOrder::Kind), "The rule that was broken. Its limit is under Rules."),
    (
        "Where",
        124.0,
        None,
        "Frequency range, in Hz: edges of one-third-octave bands (IEC 61260-1); \"all\" is the whole range.",
    ),
    ("Owner", 0.0, None, "The layers, role or channel it concerns."),
    (
        "Worst",
        116.0,
        Some(FindingOrder::Grade),
        "The worst value, with its unit. Bars at the left of the row: one is slight, two are clear, three are grave. \
         Sorted by severity, then rule, then value.",
    ),
];

fn cells(row: Rect) -> [Rangef; 6] {
    let fixed: f32 = COLUMNS.iter().map(|column| column.1).sum();
    let left = row.left() + SHAPE;
    let free = (row.right() - SEEN - left - fixed).max(0.0);
    let mut x = left;
    COLUMNS.map(|(_, width, ..)| {
        let from = x.min(row.right());
        x += if width == 0.0 { free } else { width };
        Rangef::new(from, (x - space::NEAR).clamp(from, row.right()))
    })
}

pub(super) fn table_ui(
    shared: &mut Shared,
    state: &mut LogState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
    rows: &[usize],
) {
    painter.block(rect, scene.theme.panel);
    let inside = rect.shrink2(vec2(space::NEAR, 1.0));
    if inside.width() < 120.0 || inside.height() < HEADS + ROW {
        return;
    }
    let heads = inside.with_max_y(inside.top() + HEADS);
    heads_ui(&mut state.filter, ui, painter, heads);
    let mut body = inside.with_min_y(heads.bottom());
    let log = &*scene.view.log;
    if let Some(text) = crate::words::dropped(log.dropped) {
        let line = body.with_max_y((body.top() + space::LINE).min(body.bottom()));
        let galley = painter.fitted_in(&text, size::AXIS, (line.width() - SHAPE).max(0.0), scene.theme.muted);
        painter.put(pos2(line.left() + SHAPE, line.center().y), Align2::LEFT_CENTER, galley);
        named_area(ui, line, "dropped", || text.clone());
        body.min.y = line.bottom();
    }
    let at = rows.iter().position(|index| Some(log.findings[*index].id) == state.selected);
    let seek = at.filter(|_| std::mem::take(&mut state.seek));
    Rows { salt: "findings", height: ROW, count: rows.len(), seek }.ui(ui, body, |ui, at, row| {
        row_ui(shared, state, ui, scene, &log.findings[rows[at]], at, row);
    });
}

fn heads_ui(filter: &mut Filter, ui: &Ui, painter: &Painter, rect: Rect) {
    let theme = painter.theme;
    for ((name, _, order, tip), x) in COLUMNS.into_iter().zip(cells(rect)) {
        let cell = Rect::from_x_y_ranges(x, rect.y_range());
        let sorted = order == Some(filter.order);
        let ink = if sorted { theme.text } else { theme.muted };
        let text = painter.fitted_in(name, size::AXIS, cell.width(), ink);
        let text = painter.put(cell.left_center(), Align2::LEFT_CENTER, text);
        if sorted {
            let y = cell.center().y + if filter.turned { -3.0 } else { 3.0 };
            painter.triangle(pos2(text.right() + 6.0, y), 5.0, filter.turned, theme.text);
        }
        let Some(order) = order else {
            table::head(ui, cell, name, tip);
            continue;
        };
        let tip = format!("{tip} Click to sort by it, again to reverse the order (O).");
        if table::order_head(painter, ui, cell, name, &tip) {
            filter.order_by(order);
        }
    }
    let seen = rect.with_min_x((rect.right() - SEEN).max(rect.left()));
    painter.text(seen.center(), Align2::CENTER_CENTER, "Done", size::AXIS, theme.muted);
    let tip = "Tick what you have dealt with (V). Ticked findings can be hidden.";
    named_area(ui, seen, "Done", || "Column Done".to_owned()).on_hover_text(tip);
}

/// The length of a finding, or that it is ongoing.
pub(super) fn lasts(finding: &Finding) -> String {
    let length = words::length(finding.secs());
    if finding.open { format!("{length}, ongoing") } else { length }
}

fn row_ui(
    shared: &mut Shared,
    state: &mut LogState,
    ui: &mut Ui,
    scene: &Scene<'_>,
    finding: &Finding,
    at: usize,
    rect: Rect,
) {
    let theme = scene.theme;
    let painter = Painter::of(ui, theme);
    let selected = state.selected == Some(finding.id);
    let texts = [
        time_label::tenth(scene.view, &shared.settings, finding.grid, finding.start),
        lasts(finding),
        words::kind(finding.kind).to_owned(),
        words::span(finding.span),
        words::concerns(finding),
        words::worst(finding),
    ];
    let advice = words::advice(finding);
    let id = ("finding", at, finding.id);
    let response = table::selectable(&painter, ui, rect, id, selected, || aloud(finding, &texts, &advice));
    if response.clicked() {
        state.selected = Some(finding.id);
        shared.intents.push(rewind(finding));
    }
    let (upper, lower) = (rect.top() + 11.0, rect.top() + 27.0);
    severity_shape(&painter, pos2(rect.left() + 12.0, upper), 10.0, finding.grade, finding.seen);
    for (column, (text, x)) in texts.iter().zip(cells(rect)).enumerate() {
        let ink = match (finding.seen, finding.grade) {
            (true, _) => theme.muted,
            (false, Grade::Grave) if column == 2 => theme.fault_text,
            (false, _) => theme.text,
        };
        painter.put(
            pos2(x.min, upper),
            Align2::LEFT_CENTER,
            painter.fitted_in(text, size::SMALL, x.span(), ink),
        );
    }
    let left = rect.left() + SHAPE;
    let room = (rect.right() - SEEN - left).max(0.0);
    let galley = painter.fitted_in(&advice, size::SMALL, room, theme.muted);
    painter.put(pos2(left, lower), Align2::LEFT_CENTER, galley);
    painter.hairline(pos2(left, rect.bottom()), rect.right_bottom(), theme.grid);
    response.on_hover_ui(|ui| {
        ui.label(format!("{}  ·  {}", texts[2], words::grade(finding.grade)));
        if !texts[4].is_empty() {
            ui.label(&texts[4]);
        }
        ui.label(&advice);
        ui.weak("Click or press Enter to see its worst moment.");
    });
    seen_ui(shared, ui, finding, &texts, rect);
}

fn seen_ui(shared: &mut Shared, ui: &mut Ui, finding: &Finding, texts: &[String; 6], row: Rect) {
    let mut seen = finding.seen;
    let side = space::BUTTON;
    let rect = Rect::from_center_size(pos2(row.right() - SEEN / 2.0, row.top() + 14.0), vec2(side, side));
    if !row.contains_rect(rect) {
        return;
    }
    // In a child `Ui` of its own: a widget in the list would move the rows after it.
    let mut place = ui.new_child(UiBuilder::new().id_salt(("seen", finding.id)).max_rect(rect));
    let response = place.add(egui::Checkbox::without_text(&mut seen)).on_hover_text("Done (V)");
    if response.accessible_name(format!("Done: {} at {}", texts[2], texts[0])).changed() {
        shared.intents.push(Intent::Command(Command::SetDone(finding.id, seen)));
    }
}

/// Accessible text of a row.
fn aloud(finding: &Finding, [time, lasts, kind, span, whose, worst]: &[String; 6], advice: &str) -> String {
    let grade = words::grade(finding.grade).to_lowercase();
    let seen = if finding.seen { ", done" } else { "" };
    let whose = if whose.is_empty() { String::new() } else { format!(", {whose}") };
    format!("{kind}, {grade}{seen}: {time}, {lasts}, frequency {span}{whose}, worst {worst}. {advice}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_stand_side_by_side_in_any_row() {
        let mut ran = 0;
        for width in (0_u16..2_000).step_by(31) {
            let row = Rect::from_min_size(pos2(7.0, 3.0), vec2(f32::from(width), ROW));
            let cells = cells(row);
            for pair in cells.windows(2) {
                assert!(pair[0].max <= pair[1].min, "{width}: {pair:?}");
            }
            assert!(cells.iter().all(|cell| cell.span() >= 0.0 && cell.max <= row.right()), "{width}");
            ran += 1;
        }
        assert_eq!(ran, 65);
    }
}
