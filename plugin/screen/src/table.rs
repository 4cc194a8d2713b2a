//! A table: heads with tooltips above rows of equal height that scroll and can be selected.

use crate::painter::{Painter, named_area};
use crate::tokens::{size, space, stroke};
use egui::{
    Align2, AsIdSalt, Rect, Response, ScrollArea, Sense, StrokeKind, Ui, UiBuilder, WidgetInfo, accesskit,
    vec2,
};

/// Height of the heads in points.
pub(crate) const HEADS: f32 = 18.0;

/// Scrolling rows.
pub(crate) struct Rows {
    pub(crate) salt: &'static str,
    /// Height of a row in points.
    pub(crate) height: f32,
    pub(crate) count: usize,
    /// The row to scroll to the middle, as far as the ends of the table allow.
    pub(crate) seek: Option<usize>,
}

impl Rows {
    /// Paints the visible rows with `row_ui`, which gets the index and place of each.
    pub(crate) fn ui(&self, ui: &mut Ui, body: Rect, mut row_ui: impl FnMut(&mut Ui, usize, Rect)) {
        let mut child = ui.new_child(UiBuilder::new().id_salt(self.salt).max_rect(body));
        child.spacing_mut().item_spacing.y = 0.0;
        let mut scroll = ScrollArea::vertical().id_salt(self.salt).auto_shrink([false, false]);
        if let Some(at) = self.seek {
            scroll = scroll.vertical_scroll_offset(self.offset(at, body.height()));
        }
        scroll.show_rows(&mut child, self.height, self.count, |ui, range| {
            for at in range {
                let (row, _) = ui.allocate_exact_size(vec2(body.width(), self.height), Sense::hover());
                row_ui(ui, at, row);
            }
        });
    }

    fn offset(&self, at: usize, room: f32) -> f32 {
        let (at, count) = (at as f32, self.count as f32);
        ((at + 0.5) * self.height - room / 2.0).clamp(0.0, (count * self.height - room).max(0.0))
    }
}

/// The row after a step up or down from the selected one. With none selected, it is the first, or the second if the
/// first `is_shown` already.
pub(crate) fn step(selected: Option<usize>, by: isize, count: usize, is_shown: bool) -> usize {
    let next = match selected {
        Some(at) => at.saturating_add_signed(by),
        None => usize::from(is_shown && by > 0),
    };
    next.min(count.saturating_sub(1))
}

/// A row that can be selected, with its background; `name` is its accessible name.
pub(crate) fn selectable(
    painter: &Painter,
    ui: &Ui,
    rect: Rect,
    id: impl AsIdSalt,
    selected: bool,
    name: impl Fn() -> String,
) -> Response {
    let theme = painter.theme;
    let response = ui.interact(rect, ui.scope_id().with(id), Sense::click());
    response.widget_info(|| WidgetInfo::selected(accesskit::Role::Button, true, selected, name()));
    if selected || response.hovered() {
        painter.fill(rect, if selected { theme.button } else { theme.plot });
    }
    if selected {
        painter.fill(rect.with_max_x(rect.left() + 2.0), theme.plumb);
    }
    focus_ring(painter, rect, &response);
    response
}

fn focus_ring(painter: &Painter, rect: Rect, response: &Response) {
    if response.has_focus() {
        painter.outline(rect.shrink(0.5), 2.0, stroke::HAIR, painter.theme.plumb, StrokeKind::Inside);
    }
}

/// The accessible name and tooltip of a column that cannot order the table.
pub(crate) fn head(ui: &Ui, cell: Rect, name: &str, tip: &str) {
    named_area(ui, cell, name, || format!("Column {name}")).on_hover_text(tip);
}

/// The head of a column, which orders the table by that column when clicked.
pub(crate) fn order_head(painter: &Painter, ui: &Ui, cell: Rect, name: &str, tip: &str) -> bool {
    let response = ui.interact(cell, ui.scope_id().with(("head", name)), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(accesskit::Role::Button, true, format!("Order by {name}")));
    focus_ring(painter, cell, &response);
    let clicked = response.clicked();
    response.on_hover_text(tip);
    clicked
}

/// A heading and a sentence in the middle of an empty table, with `extra` points for controls below. Returns the area
/// of the text, if it fits.
pub(crate) fn empty_state(
    painter: &Painter,
    rect: Rect,
    [head, body]: [&str; 2],
    extra: f32,
) -> Option<Rect> {
    if rect.width() < 120.0 || rect.height() < 60.0 {
        return None;
    }
    painter.block(rect, painter.theme.panel);
    let width = (rect.width() - 4.0 * space::GAP).clamp(1.0, 560.0);
    let head = painter.wrapped(head, size::HEAD, painter.theme.text, width);
    let body = painter.wrapped(body, size::BODY, painter.theme.text, width);
    let height = head.size().y + body.size().y + space::GAP + extra;
    if height > rect.height() {
        return None;
    }
    let top_left = egui::pos2(rect.center().x - width / 2.0, rect.center().y - height / 2.0);
    let under = top_left + vec2(0.0, head.size().y + space::GAP);
    painter.put(top_left, Align2::LEFT_TOP, head);
    let body = painter.put(under, Align2::LEFT_TOP, body);
    Some(Rect::from_min_max(top_left, body.max))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_row_sought_is_brought_to_the_middle_but_not_beyond_the_ends() {
        let offset = |at, count| Rows { salt: "", height: 38.0, count, seek: None }.offset(at, 380.0);
        assert_eq!(offset(0, 100), 0.0);
        assert_eq!(offset(99, 100), 100.0 * 38.0 - 380.0);
        assert_eq!(offset(50, 100), 50.5 * 38.0 - 190.0);
        assert_eq!(offset(3, 4), 0.0, "all of it is in sight");
    }

    #[test]
    fn a_step_stays_in_the_table_and_starts_at_what_is_shown() {
        assert_eq!(
            [step(Some(3), 1, 9, true), step(Some(8), 1, 9, true), step(Some(0), -1, 9, true)],
            [4, 8, 0]
        );
        assert_eq!([step(None, 1, 9, true), step(None, -1, 9, true), step(None, 1, 9, false)], [1, 0, 0]);
        assert_eq!(step(Some(4), 1, 0, true), 0);
    }
}
