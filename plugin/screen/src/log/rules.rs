//! The table of rules: the limit of each finding, and how long it must last.

use crate::fields;
use crate::frame_data::Scene;
use crate::page_state::Shared;
use crate::painter::Painter;
use crate::tokens::{size, space};
use crate::widgets;
use egui::{Align, Align2, Button, DragValue, Layout, Rect, Ui, vec2};
use plumbline_programme::Rules;
use plumbline_programme::findings::{KINDS, Kind, Rule};
use plumbline_report::words;

const ROW: f32 = 24.0;
const HEAD: f32 = 26.0;
/// Height of the block with all rows.
pub(super) const HEIGHT: f32 = HEAD + space::LINE + ROW * KINDS as f32 + 6.0;
/// Widths of limit, length, and the button that restores a rule's default.
const WIDTHS: [f32; 3] = [92.0, 58.0, 48.0];

/// The areas of a row: name, limit, length, button.
fn cells(row: Rect) -> [Rect; 4] {
    let mut right = row.right();
    let mut cut = |width: f32| {
        let left = (right - width).max(row.left());
        let cell = row.with_max_x(right).with_min_x(left);
        right = (left - space::NEAR).max(row.left());
        cell
    };
    let (reset, length, limit) = (cut(WIDTHS[2]), cut(WIDTHS[1]), cut(WIDTHS[0]));
    [row.with_max_x(right), limit, length, reset]
}

pub(super) fn rules_ui(shared: &mut Shared, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    painter.block(rect, scene.theme.panel);
    let inside = rect.shrink2(vec2(space::INSET, 2.0));
    if inside.width() < 260.0 || inside.height() < HEAD + ROW {
        return;
    }
    let head = inside.with_max_y(inside.top() + HEAD);
    head_ui(shared, ui, painter, head);
    let body = inside.with_min_y(head.bottom());
    let mut child = widgets::laid_out(ui, "rules", body, Layout::top_down(Align::Min));
    child.spacing_mut().item_spacing = vec2(0.0, 0.0);
    egui::ScrollArea::vertical().id_salt("rules").auto_shrink([false, false]).show(&mut child, |ui| {
        // No wider than the four columns need, even if the block replaces the table.
        let width = ui.available_width().min(460.0);
        let (captions, _) = ui.allocate_exact_size(vec2(width, space::LINE), egui::Sense::hover());
        let [name, limit, length, _] = cells(captions);
        for (cell, text) in [(name, "Finding"), (limit, "limit"), (length, "for at least")] {
            let at = if cell == name { cell.left_center() } else { cell.center() };
            let anchor = if cell == name { Align2::LEFT_CENTER } else { Align2::CENTER_CENTER };
            Painter::of(ui, scene.theme).text(at, anchor, text, size::AXIS, scene.theme.muted);
        }
        for kind in Kind::ALL {
            let (row, _) = ui.allocate_exact_size(vec2(width, ROW), egui::Sense::hover());
            row_ui(shared, ui, kind, row.shrink2(vec2(0.0, 1.0)));
        }
    });
}

fn head_ui(shared: &mut Shared, ui: &mut Ui, painter: &Painter, rect: Rect) {
    painter.text(rect.left_center(), Align2::LEFT_CENTER, "Rules", size::BODY, painter.theme.text);
    let mut row = widgets::row_from_right(ui, "rules head", rect);
    let usual = shared.settings.rules == Rules::default();
    let tip = "Resets all rules to their defaults; you can undo this for 10 s";
    let all = row.add_enabled(!usual, Button::new("Reset all")).on_hover_text(tip);
    if all
        .on_disabled_hover_text("All rules are at their defaults")
        .accessible_name("Reset all rules")
        .clicked()
    {
        shared.undoable("Rules reset.");
        shared.settings.rules = Rules::default();
    }
}

fn row_ui(shared: &mut Shared, ui: &mut Ui, kind: Kind, row: Rect) {
    let [name_cell, limit_cell, length_cell, reset_cell] = cells(row);
    let before = shared.settings.rules.get(kind);
    let mut rule = before;
    let (name, tip) = (words::kind(kind), tip(kind));
    let mut place = at_left(ui, name, name_cell);
    place
        .checkbox(&mut rule.on, name)
        .on_hover_text(tip)
        .accessible_name(format!("Look for {}", name.to_lowercase()));
    let limits = Rules::limits(kind);
    let (unit, places) = limit_unit(kind);
    let drag = DragValue::new(&mut rule.limit)
        .range(limits.clone())
        .speed((limits.end() - limits.start()).min(50.0) / 200.0)
        .fixed_decimals(places)
        .suffix(if unit.is_empty() { String::new() } else { format!(" {unit}") });
    if put(ui, limit_cell, rule.on, drag, tip, &format!("Limit of {}", name.to_lowercase())) {
        // Rounded to the digits shown, so that the value in force is the one on screen.
        let scale = 10_f64.powi(i32::try_from(places).unwrap_or(0));
        rule.limit = (rule.limit * scale).round() / scale;
    }
    let lengths = Rules::lengths(kind);
    if lengths.start() < lengths.end() {
        let drag = DragValue::new(&mut rule.secs).range(lengths).speed(0.1).fixed_decimals(1).suffix(" s");
        let tip = "Shortest length that makes a finding, in seconds. Drag, or click and type.";
        if put(ui, length_cell, rule.on, drag, tip, &format!("Minimum length of {}", name.to_lowercase())) {
            rule.secs = (rule.secs * 10.0).round() / 10.0;
        }
    }
    if rule != before {
        shared.settings.rules.set(kind, rule);
    }
    reset_ui(shared, ui, kind, reset_cell);
}

fn reset_ui(shared: &mut Shared, ui: &mut Ui, kind: Kind, cell: Rect) {
    let usual = Rules::usual(kind);
    let name = words::kind(kind);
    let mut place = at_left(ui, &format!("reset {name}"), cell);
    place.spacing_mut().button_padding.x = 5.0;
    let changed = shared.settings.rules.get(kind) != usual;
    let tip = format!("Default: {}; you can undo this for 10 s", said(kind, usual));
    let reset = place.add_enabled(changed, Button::new("Reset")).on_hover_text(tip);
    if reset
        .on_disabled_hover_text("At its default")
        .accessible_name(format!("Reset rule {}", name.to_lowercase()))
        .clicked()
    {
        shared.undoable("Rule reset.");
        shared.settings.rules.set(kind, usual);
    }
}

fn at_left(ui: &mut Ui, salt: &str, cell: Rect) -> Ui {
    let mut place = widgets::row(ui, salt, cell);
    place.set_clip_rect(cell.intersect(ui.clip_rect()));
    place
}

/// A number in its cell; returns whether it changed.
fn put(ui: &mut Ui, cell: Rect, enabled: bool, drag: DragValue<'_>, tip: &str, name: &str) -> bool {
    let mut place = at_left(ui, name, cell);
    place.spacing_mut().interact_size.x = cell.width();
    place.spacing_mut().button_padding.x = 3.0;
    place.add_enabled_ui(enabled, |ui| fields::number(ui, drag, name, tip)).inner.changed()
}

/// Unit and decimals of a limit.
fn limit_unit(kind: Kind) -> (&'static str, usize) {
    match kind {
        Kind::OutOfStep => ("", 2),
        Kind::Jump => ("×", 2),
        Kind::TruePeak => ("dB", 1),
        Kind::MonoLoss | Kind::OneSided | Kind::Wind | Kind::Covered => (kind.unit(), 1),
        Kind::Clipped | Kind::Gap | Kind::Dropout | Kind::Balance => (kind.unit(), 0),
    }
}

/// A rule in a few words: "0.60 for 1.0 s".
fn said(kind: Kind, rule: Rule) -> String {
    let (unit, places) = limit_unit(kind);
    let limit =
        plumbline_report::figures::unit(plumbline_report::figures::plain(Some(rule.limit), places), unit);
    let limit = limit.trim_end();
    if Rules::lengths(kind).end() > &0.0 {
        format!("{limit} for {}", words::length(rule.secs))
    } else {
        limit.to_owned()
    }
}

/// Tooltip of a rule: what it finds, unit and source.
fn tip(kind: Kind) -> &'static str {
    match kind {
        Kind::OutOfStep => {
            "Out of step, 0 to 1, in a third within 30 dB of the loudest: coherence minus the square of a positive \
             correlation, the share of common sound that does not add up in phase."
        }
        Kind::MonoLoss => {
            "Level that (L+R)/2 loses against left and right, dB. The limit is for the whole range; a named band may \
             lose 2.5 dB more, if it is heard. Unrelated channels lose 3.0 dB, which is not a fault."
        }
        Kind::OneSided => "Level of one channel below the other, dB, while there is sound.",
        Kind::TruePeak => {
            "True peak (ITU-R BS.1770-5 Annex 2) allowed above the ceiling of the delivery target, dB."
        }
        Kind::Clipped => {
            "Samples in flat tops allowed in a tenth of a second: three or more in a row at full scale."
        }
        Kind::Dropout => "Shortest digital silence inside sound that counts, ms.",
        Kind::Wind => {
            "Level of the lows above the rest, dB, while left and right are unrelated there (common practice, no \
             source)."
        }
        Kind::Balance => {
            "Percentage points allowed beyond the tolerance of a role's aim (Layers page), over 20 s, and over all so \
             far or a minute. Shares are of K-weighted energy (ITU-R BS.1770-5)."
        }
        Kind::Covered => {
            "How far the other layers are above one in every third where it has energy, dB; one of them is 6 dB above."
        }
        Kind::Jump => {
            "Largest change at a join, 2 s before against 2 s after: size 1 is 6 LU, 3 dB per octave, or 30 points \
             of width or of a share (common practice, no source)."
        }
        Kind::Gap => "Lost samples allowed: those that did not reach the measurement.",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::pos2;

    #[test]
    fn cells_of_a_rule_stand_apart_in_any_row() {
        let mut ran = 0;
        for width in (0_u16..900).step_by(23) {
            let row = Rect::from_min_size(pos2(3.0, 5.0), vec2(f32::from(width), ROW));
            crate::layout::assert_apart(row, &cells(row));
            ran += 1;
        }
        assert_eq!(ran, 40);
    }

    #[test]
    fn a_rule_is_said_with_its_unit_and_its_length_where_it_has_one() {
        assert_eq!(said(Kind::OutOfStep, Rules::usual(Kind::OutOfStep)), "0.60 for 1.0\u{a0}s");
        assert_eq!(said(Kind::MonoLoss, Rules::usual(Kind::MonoLoss)), "3.5\u{a0}dB for 1.0\u{a0}s");
        assert_eq!(said(Kind::Dropout, Rules::usual(Kind::Dropout)), "5\u{a0}ms");
        assert_eq!(said(Kind::TruePeak, Rules::usual(Kind::TruePeak)), "0.0\u{a0}dB");
    }
}
