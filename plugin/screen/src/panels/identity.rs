//! The panel for name, role and session letter of this layer.

use crate::identity;
use crate::scene::Scene;
use crate::shared::Shared;
use crate::tokens::space;
use egui::{RichText, Ui};

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
