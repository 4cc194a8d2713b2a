//! Who this layer is: name, role, session letter.

use crate::layers;
use crate::screen::{Intent, Scene, Screen};
use crate::tokens::space;
use egui::{RichText, TextEdit, Ui};

pub(super) fn identity_ui(screen: &mut Screen, ui: &mut Ui, scene: &Scene<'_>) {
    ui.set_width(ui.available_width());
    ui.horizontal(|ui| {
        ui.label("Name");
        let width = ui.available_width() - space::GAP;
        name_field(screen, ui, scene, "Name", width);
    });
    ui.horizontal(|ui| {
        ui.label("Role  ");
        if let Some(role) = layers::role_combo(ui, "role in panel", scene.info.role, 100.0) {
            screen.intents.push(Intent::SetRole(role));
        }
    });
    ui.add_space(space::NEAR);
    ui.label("Session");
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 1.0;
        for letter in 'A'..='H' {
            let chosen = letter == scene.info.session;
            let tip = "Layers with the same letter hear each other";
            let name = format!("Session {letter}");
            if crate::controls::choice(ui, chosen, &letter.to_string(), &name, tip).clicked() && !chosen {
                screen.intents.push(Intent::SetSession(letter));
            }
        }
    });
    let words = "Layers with the same letter hear each other, in all hosts of this user on this computer. Two projects \
                 that are open at once want two letters. Other layers are named in their own windows.";
    ui.label(RichText::new(words).small().weak());
}

/// The own name as a field: taken on Enter or on leaving, cut to the bytes that travel; Esc leaves it as it was.
pub(crate) fn name_field(screen: &mut Screen, ui: &mut Ui, scene: &Scene<'_>, name: &str, width: f32) {
    let mut text = screen.layers.typed.clone().unwrap_or_else(|| scene.info.name.chars().take(128).collect());
    let tip = format!(
        "Name of this layer, at most {} bytes of UTF-8; empty takes the host's track name",
        crate::LONGEST_NAME
    );
    let hint = match scene.info.name.trim() {
        "" => crate::company::own_name("", &scene.view.session),
        _ => "The host's track name",
    };
    let edit = TextEdit::singleline(&mut text).desired_width(width).hint_text(hint);
    let response = ui.add(edit).on_hover_text(tip).accessible_name(name);
    if response.changed() {
        screen.layers.typed = Some(layers::within_bounds(&text));
    }
    if !response.lost_focus() {
        crate::fields::note(ui.ctx(), response.id);
        return;
    }
    if ui.input(|input| input.key_pressed(egui::Key::Escape)) {
        screen.layers.typed = None;
    }
    screen.settle_name();
}
