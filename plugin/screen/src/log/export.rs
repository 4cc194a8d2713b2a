//! The line for export: button, folder, and result.

use super::state::LogState;
use crate::fields::{Field, Look, within_bytes};
use crate::frame_data::Scene;
use crate::intent::Intent;
use crate::page_state::Shared;
use crate::painter::{Painter, named_area};
use crate::settings::LONGEST_FOLDER;
use crate::tokens::{size, space};
use crate::widgets;
use crate::words::State;
use egui::{Align2, Rect, Ui, pos2, vec2};

const TIP: &str = "Writes the log, joins and statistics as CSV, JSON and one HTML page into the folder named here \
                   (E). Existing files are not overwritten.";
const FOLDER_TIP: &str = "Folder for exports, as a full path; it must exist. Left empty, it is the folder Plumbline \
                          in your documents (on Linux, where the XDG user directories place them), created if \
                          missing. The result of an export appears here.";

pub(super) fn export_ui(
    shared: &mut Shared,
    state: &mut LogState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
) {
    if rect.height() < space::BUTTON || rect.width() < 240.0 {
        return;
    }
    let mut row = widgets::row(ui, "export", rect);
    if row.button("Export").on_hover_text(TIP).accessible_name("Export the log").clicked() {
        shared.intents.push(Intent::Export);
    }
    row.label(egui::RichText::new("into").size(size::SMALL).color(scene.theme.muted));
    let width = (rect.width() * 0.28).clamp(120.0, 320.0);
    let (name, hint) = ("Folder for exports", "Plumbline in your documents");
    let look = Look { name, tip: FOLDER_TIP, hint, width, most: LONGEST_FOLDER };
    if let Some(folder) = state.folder.ui(&mut row, &shared.settings.export_folder, look) {
        shared.settings.export_folder = within_bytes(&folder, LONGEST_FOLDER);
        state.folder = Field::default();
    }
    let left = row.min_rect().right() + space::GAP;
    let words = rect.with_min_x(left.min(rect.right()));
    exported_ui(ui, painter, scene, words);
}

/// The result of the last export: a shape and words.
fn exported_ui(ui: &Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let Some(exported) = scene.info.exported else { return };
    let room = vec2(rect.width() - 16.0, rect.height());
    if room.x < 40.0 {
        return;
    }
    let theme = scene.theme;
    let (state, ink, name) = if exported.failed {
        (State::Fault, theme.fault_text, "Export failed")
    } else {
        (State::Fine, theme.text, "Exported")
    };
    painter.state(pos2(rect.left() + 5.0, rect.center().y), 9.0, state);
    let words: String = exported.words.chars().take(1_024).collect();
    // In full on one or two lines, else cut; the tooltip has the full text.
    let galley = painter
        .first_that_fits(&[&words], size::SMALL, ink, room)
        .or_else(|| painter.first_that_fits(&[&words], size::AXIS, ink, room))
        .unwrap_or_else(|| painter.fitted_in(&words, size::SMALL, room.x, ink));
    painter.put(pos2(rect.left() + 16.0, rect.center().y), Align2::LEFT_CENTER, galley);
    named_area(ui, rect, "exported", || format!("{name}: {words}")).on_hover_text(&words);
}
