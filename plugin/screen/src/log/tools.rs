//! The row over the table: which kinds are shown, and whether what was seen is.

use super::{Part, rows};
use crate::controls::choice;
use crate::screen::{Scene, Screen};
use crate::tokens::space;
use egui::{Align, Button, Layout, Rect, RichText, Ui, UiBuilder};
use plumbline_programme::findings::{KINDS, Kind};
use plumbline_report::words;

pub(super) fn tools_ui(screen: &mut Screen, ui: &mut Ui, scene: &Scene<'_>, rect: Rect, shared: bool) {
    if rect.height() < space::BUTTON - 1.0 {
        return;
    }
    let layout = Layout::top_down(Align::Min);
    let mut place = ui.new_child(UiBuilder::new().id_salt("log tools").max_rect(rect).layout(layout));
    place.set_clip_rect(rect.intersect(ui.clip_rect()));
    place.spacing_mut().item_spacing = egui::vec2(1.0, 2.0);
    place.spacing_mut().button_padding.x = 5.0;
    place.horizontal_wrapped(|row| {
        if shared {
            parts_ui(screen, row);
            row.add_space(space::GAP);
        }
        kinds_ui(screen, scene, row);
    });
}

fn kinds_ui(screen: &mut Screen, scene: &Scene<'_>, row: &mut Ui) {
    let counts = rows::counts(&scene.view.log.findings, &screen.log);
    let all: usize = counts.iter().sum();
    let none = screen.log.only == [false; KINDS];
    let tip = "All kinds of findings. Click kinds to see those alone.";
    if choice(row, none, &format!("All {all}"), "Show all kinds", tip).clicked() {
        screen.log.only = [false; KINDS];
    }
    for kind in Kind::ALL {
        kind_ui(screen, row, kind, &counts);
    }
    row.add_space(space::GAP);
    let tip = "Leaves out what is ticked as seen. It stays in the log and in the export.";
    let hide = screen.log.hide_seen;
    if choice(row, hide, "Hide seen", "Hide what was seen", tip).clicked() {
        screen.log.hide_seen = !hide;
    }
}

fn kind_ui(screen: &mut Screen, row: &mut Ui, kind: Kind, counts: &[usize; KINDS]) {
    let (at, name) = (kind.place(), words::kind(kind));
    let chosen = screen.log.only[at];
    let count = counts[at];
    let label = if count > 0 { format!("{name} {count}") } else { name.to_owned() };
    if !rows::usable(kind, counts, &screen.log) {
        let text = RichText::new(label).color(row.visuals().weak_text_color());
        let dim = row.add_enabled(false, Button::new(text).frame_when_inactive(true));
        dim.on_disabled_hover_text(format!("{name}: none found"))
            .accessible_name(format!("Show {}: none", name.to_lowercase()));
        return;
    }
    let spoken = format!("Show {}: {count}", name.to_lowercase());
    let tip = format!("Findings of this kind alone, {count} of them; several kinds can be chosen.");
    if choice(row, chosen, &label, &spoken, &tip).clicked() {
        screen.log.only[at] = !chosen;
    }
}

/// Table or rules, where they share one place.
fn parts_ui(screen: &mut Screen, row: &mut Ui) {
    for (part, label, tip) in [
        (Part::Findings, "Findings", "What was found, with timecode"),
        (Part::Rules, "Rules", "From where on something is a finding"),
    ] {
        if choice(row, screen.log.part == part, label, &format!("Show {label}"), tip).clicked() {
            screen.log.part = part;
        }
    }
}
