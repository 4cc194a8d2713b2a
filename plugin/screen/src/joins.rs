//! The Joins page: transitions and what jumps there, the largest first; statistics per passage.

mod before_after;
mod controls;
mod entries;
mod layout;
mod list;
mod selected;
mod state;
mod statistics;

pub(crate) use state::JoinsState;

use crate::frame_data::Scene;
use crate::page_state::Shared;
use crate::painter::{Painter, named_area};
use crate::table::empty_state;
use egui::Ui;
use layout::JoinsLayout;
use plumbline_programme::Log;
use plumbline_report::words;

/// Paints the page.
pub(crate) fn joins_ui(
    shared: &mut Shared,
    state: &mut JoinsState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
) {
    let log = &*scene.view.log;
    let layout = JoinsLayout::new(&scene.layout, log.passages.len());
    let entries = entries::entries(log, state.order);
    controls::controls_ui(shared, state, ui, painter, scene, &entries, layout.tools);
    if entries.is_empty() {
        let (head, body) = nothing(log);
        let all = layout.list.union(layout.selected);
        empty_state(painter, all, [&head, body], 0.0);
        named_area(ui, all, "no joins", || format!("{head}. {body}"));
    } else {
        list::list_ui(shared, state, ui, painter, scene, &entries, layout.list);
        if let Some(entry) = state.shown(&entries) {
            selected::selected_ui(&shared.settings, ui, painter, scene, entry, layout.selected);
        }
    }
    statistics::statistics_ui(&shared.settings, state, ui, painter, scene, layout.statistics);
}

/// Why the list is empty: a heading and a sentence.
fn nothing(log: &Log) -> (String, &'static str) {
    let heard = log.passages.first().map_or(0.0, |all| all.secs);
    let head = if heard > 0.0 {
        format!("No join found in {}", words::length(heard))
    } else {
        "Nothing heard yet".to_owned()
    };
    let body = "Joins are found where loudness or tone changes abruptly, and at every mark: 2 s before are compared \
                with 2 s after. Press M where a passage begins.";
    (head, body)
}
