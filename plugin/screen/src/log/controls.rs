//! The row above the table: the kinds to show, and whether to show findings that are done.

use super::order::{self, Filter};
use super::state::{LogBlock, LogState};
use crate::frame_data::Scene;
use crate::tokens::space;
use crate::widgets::{self, choice};
use egui::{Align, Button, Layout, Rect, RichText, Ui};
use plumbline_programme::findings::{KINDS, Kind};
use plumbline_report::words;

pub(super) fn controls_ui(state: &mut LogState, ui: &mut Ui, scene: &Scene<'_>, rect: Rect, shared: bool) {
    if rect.height() < space::BUTTON - 1.0 {
        return;
    }
    let layout = Layout::top_down(Align::Min);
    let mut place = widgets::laid_out(ui, "log tools", rect, layout);
    place.set_clip_rect(rect.intersect(ui.clip_rect()));
    place.spacing_mut().item_spacing = egui::vec2(1.0, 2.0);
    place.spacing_mut().button_padding.x = 5.0;
    place.horizontal_wrapped(|row| {
        if shared {
            blocks_ui(state, row);
            row.add_space(space::GAP);
        }
        kinds_ui(&mut state.filter, scene, row);
    });
}

fn kinds_ui(filter: &mut Filter, scene: &Scene<'_>, row: &mut Ui) {
    let counts = order::counts(&scene.view.log.findings, filter);
    let all: usize = counts.iter().sum();
    let none = filter.only == [false; KINDS];
    let tip = "Shows all kinds. Click kinds to see only those.";
    if choice(row, none, &format!("All {all}"), "Show all kinds", tip).clicked() {
        filter.only = [false; KINDS];
    }
    for kind in Kind::ALL {
        kind_ui(filter, row, kind, &counts);
    }
    row.add_space(space::GAP);
    let tip = "Hides findings ticked as done. They stay in the log and in exports.";
    let hide = filter.hide_seen;
    if choice(row, hide, "Hide done", "Hide done findings", tip).clicked() {
        filter.hide_seen = !hide;
    }
}

fn kind_ui(filter: &mut Filter, row: &mut Ui, kind: Kind, counts: &[usize; KINDS]) {
    let (at, name) = (kind.place(), words::kind(kind));
    let chosen = filter.only[at];
    let count = counts[at];
    let label = if count > 0 { format!("{name} {count}") } else { name.to_owned() };
    if !order::usable(kind, counts, filter) {
        let text = RichText::new(label).color(row.visuals().weak_text_color());
        let dim = row.add_enabled(false, Button::new(text).frame_when_inactive(true));
        dim.on_disabled_hover_text(format!("{name}: none found"))
            .accessible_name(format!("Show {}: none", name.to_lowercase()));
        return;
    }
    let spoken = format!("Show {}: {count}", name.to_lowercase());
    let tip = format!("Shows only findings of this kind ({count}). You can choose several kinds.");
    if choice(row, chosen, &label, &spoken, &tip).clicked() {
        filter.only[at] = !chosen;
    }
}

/// The choice between table and rules, for when they share one place.
fn blocks_ui(state: &mut LogState, row: &mut Ui) {
    for (block, label, tip) in [
        (LogBlock::Findings, "Findings", "What was found, with timecode"),
        (LogBlock::Rules, "Rules", "The limits that make a finding"),
    ] {
        widgets::choose(row, &mut state.block, block, label, &format!("Show {label}"), tip);
    }
}
