//! The row over the list: mark, remove, order, and how many there are.

use super::{Order, Row};
use crate::controls::choice;
use crate::painter::{Painter, name_only};
use crate::screen::{Intent, Scene, Screen};
use crate::tokens::{size, space};
use egui::{Align, Align2, Button, Layout, Rect, RichText, Ui, UiBuilder, pos2};
use plumbline_report::figures;

pub(super) fn tools_ui(
    screen: &mut Screen,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rows: &[Row<'_>],
    rect: Rect,
) {
    if rect.height() < space::BUTTON - 1.0 {
        return;
    }
    let builder =
        UiBuilder::new().id_salt("join tools").max_rect(rect).layout(Layout::left_to_right(Align::Center));
    let mut row = ui.new_child(builder);
    row.spacing_mut().item_spacing.x = space::NEAR;
    let tip = "A new passage begins at the present position (M); hosts can automate it. What is before is compared with what \
               is after.";
    if row.button("Mark here").on_hover_text(tip).clicked() {
        screen.intents.push(Intent::Mark);
    }
    let mark = screen.joins.shown(rows).and_then(Row::mark);
    let tip = "Takes the mark of the selected row away (Delete); can be undone for 10 s. Passages on both sides become one.";
    let remove = row.add_enabled(mark.is_some(), Button::new("Remove mark")).on_hover_text(tip);
    if remove.on_disabled_hover_text("No mark stands at the selected row").clicked()
        && let Some(mark) = mark
    {
        screen.unmark(mark);
    }
    row.add_space(space::GAP);
    row.label(RichText::new("Sort").size(size::SMALL).color(scene.theme.muted));
    row.spacing_mut().item_spacing.x = 1.0;
    for (order, label) in [(Order::Size, "Size"), (Order::Time, "Time")] {
        let name = format!("Sort by {}", label.to_lowercase());
        let tip = "Order of the list (O goes round)";
        if choice(&mut row, screen.joins.order == order, label, &name, tip).clicked() {
            screen.joins.order = order;
        }
    }
    let left = row.min_rect().right() + space::GAP * 2.0;
    let log = &*scene.view.log;
    let joins = figures::count(log.joins.len() as f64, "join", "joins");
    let marks = figures::count(log.marks.len() as f64, "mark", "marks");
    let mut text = format!("{joins}, {marks}");
    if let Some(dropped) = crate::log::dropped(log.dropped) {
        text = format!("{text}. {dropped}");
    }
    let place = rect.with_min_x(left.min(rect.right()));
    let galley = crate::header::fitted_in(painter, &text, size::SMALL, place.width(), scene.theme.muted);
    painter.put(pos2(place.left(), place.center().y), Align2::LEFT_CENTER, galley);
    name_only(ui, place, "how many", || text.clone()).on_hover_text(&text);
}
