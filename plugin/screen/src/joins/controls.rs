//! The row over the list: mark, remove, order, count.

use super::entries::{Entry, JoinOrder};
use super::state::JoinsState;
use crate::frame_data::Scene;
use crate::intent::Intent;
use crate::page_state::Shared;
use crate::painter::{Painter, named_area};
use crate::tokens::{size, space};
use crate::widgets;
use crate::words;
use egui::{Align2, Button, Rect, RichText, Ui, pos2};
use plumbline_programme::Command;
use plumbline_report::figures;

pub(super) fn controls_ui(
    shared: &mut Shared,
    state: &mut JoinsState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    entries: &[Entry<'_>],
    rect: Rect,
) {
    if rect.height() < space::BUTTON - 1.0 {
        return;
    }
    let mut row = widgets::row(ui, "join tools", rect);
    row.spacing_mut().item_spacing.x = space::NEAR;
    let tip = "Starts a new passage at the present position (M); hosts can automate it. What is before is compared \
               with what is after.";
    if row.button("Mark here").on_hover_text(tip).clicked() {
        shared.intents.push(Intent::Command(Command::Mark));
    }
    let mark = state.shown(entries).and_then(Entry::mark);
    let tip = "Removes the mark of the selected row (Delete); you can undo this for 10 s. The passages on either \
               side become one.";
    let remove = row.add_enabled(mark.is_some(), Button::new("Remove mark")).on_hover_text(tip);
    if remove.on_disabled_hover_text("The selected row has no mark").clicked()
        && let Some(mark) = mark
    {
        shared.unmark(mark);
    }
    row.add_space(space::GAP);
    row.label(RichText::new("Sort").size(size::SMALL).color(scene.theme.muted));
    row.spacing_mut().item_spacing.x = 1.0;
    for (order, label) in [(JoinOrder::Size, "Size"), (JoinOrder::Time, "Time")] {
        let name = format!("Sort by {}", label.to_lowercase());
        let tip = "Order of the list; press O for the next";
        widgets::choose(&mut row, &mut state.order, order, label, &name, tip);
    }
    let left = row.min_rect().right() + space::GAP * 2.0;
    let log = &*scene.view.log;
    let joins = figures::count(log.joins.len() as f64, "join", "joins");
    let marks = figures::count(log.marks.len() as f64, "mark", "marks");
    let mut text = format!("{joins}, {marks}");
    if let Some(dropped) = words::dropped(log.dropped) {
        text = format!("{text}. {dropped}");
    }
    let place = rect.with_min_x(left.min(rect.right()));
    let galley = painter.fitted_in(&text, size::SMALL, place.width(), scene.theme.muted);
    painter.put(pos2(place.left(), place.center().y), Align2::LEFT_CENTER, galley);
    named_area(ui, place, "how many", || text.clone()).on_hover_text(&text);
}
