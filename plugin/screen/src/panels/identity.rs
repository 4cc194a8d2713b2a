//! The panel for name, role and session letter of this layer.

use crate::fields;
use crate::frame_data::Scene;
use crate::identity;
use crate::page_state::Shared;
use crate::tokens::space;
use egui::{ComboBox, RichText, Ui};
use plumbline_programme::recording::{LEAST_SPACING_M, MOST_SPACING_M, Technique};

pub(super) fn identity_ui(shared: &mut Shared, ui: &mut Ui, scene: &Scene<'_>) {
    ui.set_width(ui.available_width());
    ui.horizontal(|ui| {
        ui.label("Name");
        let width = ui.available_width() - space::GAP;
        identity::name_field(shared, ui, scene, "Name", width);
    });
    ui.horizontal(|ui| {
        ui.label("Role  ");
        identity::role_combo(shared, ui, "role in panel", scene.info.role, 100.0);
    });
    recording_ui(shared, ui);
    ui.add_space(space::NEAR);
    ui.label("Session");
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 1.0;
        identity::session_buttons(shared, ui, scene.info.session);
    });
    let words = "Layers with the same letter hear each other, in all hosts of this user on this computer. Give two \
                 projects open at once different letters. Name other layers in their own windows.";
    ui.label(RichText::new(words).small().weak());
}

/// How the layer was recorded: the technique, and the spacing of a spaced pair.
fn recording_ui(shared: &mut Shared, ui: &mut Ui) {
    let recording = shared.settings.recording;
    ui.horizontal(|ui| {
        ui.label("Recorded as").on_hover_text(RECORDING_TIP);
        let name = recording.technique.name();
        let combo = ComboBox::from_id_salt("technique").selected_text(name).width(130.0).show_ui(ui, |ui| {
            for other in Technique::ALL {
                let row = ui.selectable_label(other == recording.technique, other.name());
                if row.on_hover_text(technique_tip(other)).clicked() {
                    shared.settings.recording.technique = other;
                }
            }
        });
        combo.response.on_hover_text(RECORDING_TIP).accessible_name("Recorded as");
    });
    if recording.technique == Technique::Spaced {
        ui.horizontal(|ui| {
            ui.label("Spacing");
            let mut centimetres = recording.spacing_m * 100.0;
            let drag = egui::DragValue::new(&mut centimetres)
                .range(LEAST_SPACING_M * 100.0..=MOST_SPACING_M * 100.0)
                .speed(0.5)
                .fixed_decimals(0)
                .suffix(" cm");
            let tip = "Distance of the two capsules. Left and right may arrive as far apart as sound takes for it, and \
                       15 % more. Drag, or click and type.";
            fields::number(ui, drag, "Spacing of the capsules", tip);
            shared.settings.recording.spacing_m = centimetres / 100.0;
        });
    }
}

const RECORDING_TIP: &str = "How the sound of this layer was recorded. The verdicts then judge it by that, and say what in \
                             the sound contradicts it.";

fn technique_tip(technique: Technique) -> &'static str {
    match technique {
        Technique::Unstated => {
            "Nothing is checked; arrival times up to 2.5 ms pass as those of a spaced pair"
        }
        Technique::OneSound => "The same sound in both channels, whatever its pan",
        Technique::Coincident => "Two capsules in one place: levels differ, times do not",
        Technique::MidSide => "Mid and side, decoded to left and right",
        Technique::Spaced => "Two capsules apart, near-coincident pairs included",
        Technique::Binaural => "Two ears: up to 1 ms apart",
    }
}
