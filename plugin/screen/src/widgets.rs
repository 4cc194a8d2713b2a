//! Rows of controls, and choices in them.

use crate::tokens::{size, space};
use egui::{Align, AsIdSalt, Button, Layout, Rect, Response, RichText, Ui, UiBuilder};

/// A row of controls in an area, from the left.
pub(crate) fn row(ui: &mut Ui, salt: impl AsIdSalt, rect: Rect) -> Ui {
    laid_out(ui, salt, rect, Layout::left_to_right(Align::Center))
}

/// A row of controls in an area, from the right.
pub(crate) fn row_from_right(ui: &mut Ui, salt: impl AsIdSalt, rect: Rect) -> Ui {
    laid_out(ui, salt, rect, Layout::right_to_left(Align::Center))
}

pub(crate) fn laid_out(ui: &mut Ui, salt: impl AsIdSalt, rect: Rect, layout: Layout) -> Ui {
    ui.new_child(UiBuilder::new().id_salt(salt).max_rect(rect).layout(layout))
}

/// A button that shows whether it is chosen.
pub(crate) fn choice(ui: &mut Ui, chosen: bool, label: &str, name: &str, tip: &str) -> Response {
    let ink = if chosen { ui.visuals().selection.stroke.color } else { ui.visuals().text_color() };
    let text = RichText::new(label).color(ink);
    ui.add(Button::selectable(chosen, text).frame_when_inactive(true))
        .on_hover_text(tip)
        .accessible_name(name)
}

/// A button that sets `value` to `own`; `name` is its accessible name.
pub(crate) fn choose<T: PartialEq>(ui: &mut Ui, value: &mut T, own: T, label: &str, name: &str, tip: &str) {
    if choice(ui, *value == own, label, name, tip).clicked() {
        *value = own;
    }
}

/// Buttons to choose between blocks that share one place; returns the area below them.
pub(crate) fn block_choice<T: Copy + PartialEq>(
    ui: &mut Ui,
    salt: &str,
    rect: Rect,
    shown: &mut T,
    blocks: [(T, &str, &str); 3],
) -> Rect {
    let bar = rect.with_max_y((rect.top() + space::BUTTON).min(rect.bottom()));
    let mut row = row(ui, salt, bar);
    row.spacing_mut().item_spacing.x = 1.0;
    for (block, label, tip) in blocks {
        choose(&mut row, shown, block, label, &format!("Show {label}"), tip);
    }
    rect.with_min_y((bar.bottom() + space::NEAR).min(rect.bottom()))
}

/// A caption before controls.
pub(crate) fn caption(ui: &mut Ui, text: &str) {
    ui.label(RichText::new(text).size(size::SMALL).color(ui.visuals().weak_text_color()));
    ui.add_space(space::NEAR);
}
