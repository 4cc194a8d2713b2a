//! The name, role and session letter of this layer, as set.

use crate::fields;
use crate::frame_data::Scene;
use crate::intent::{Intent, LONGEST_NAME};
use crate::page_state::Shared;
use crate::session_view;
use crate::widgets::choice;
use egui::{ComboBox, Key, TextEdit, Ui};
use plumbline_programme::Role;

/// This layer's name as a field, at most [`LONGEST_NAME`] bytes: Enter or leaving the field accepts it, Esc leaves it
/// unchanged.
pub(crate) fn name_field(shared: &mut Shared, ui: &mut Ui, scene: &Scene<'_>, name: &str, width: f32) {
    let mut text = shared.typed_name.clone().unwrap_or_else(|| scene.info.name.chars().take(128).collect());
    let tip = format!(
        "Name of this layer, at most {LONGEST_NAME} bytes of UTF-8; left empty, the host's track name is used"
    );
    let hint = match scene.info.name.trim() {
        "" => session_view::own_name("", &scene.view.session),
        _ => "The host's track name",
    };
    let edit = TextEdit::singleline(&mut text).desired_width(width).hint_text(hint);
    let response = ui.add(edit).on_hover_text(tip).accessible_name(name);
    if response.changed() {
        shared.typed_name = Some(fields::within_bytes(&text, LONGEST_NAME));
    }
    if !response.lost_focus() {
        fields::register(ui.ctx(), response.id);
        return;
    }
    if ui.input(|input| input.key_pressed(Key::Escape)) {
        shared.typed_name = None;
    }
    shared.commit_name();
}

/// The choice of a role; each role has a tooltip.
pub(crate) fn role_combo(shared: &mut Shared, ui: &mut Ui, salt: &str, role: Role, width: f32) {
    let combo = ComboBox::from_id_salt(salt).selected_text(role.name()).width(width).show_ui(ui, |ui| {
        for other in Role::ALL {
            if ui.selectable_label(other == role, other.name()).on_hover_text(role_tip(other)).clicked() {
                shared.intents.push(Intent::SetRole(other));
            }
        }
    });
    combo.response.on_hover_text("What this layer contains").accessible_name("Role of this layer");
}

fn role_tip(role: Role) -> &'static str {
    match role {
        Role::Natural => "Sound recorded on location",
        Role::Foley => "Sound performed to picture",
        Role::Design => "Designed effects",
        Role::Voice => "Speech",
        Role::Music => "Music",
        Role::Mix => "The sum of layers: it has no share in itself",
    }
}

/// The session letters A to H as buttons.
pub(crate) fn session_buttons(shared: &mut Shared, ui: &mut Ui, letter: char) {
    let tip = "Layers with the same letter hear each other";
    for other in 'A'..='H' {
        let name = format!("Session {other}");
        if choice(ui, other == letter, &other.to_string(), &name, tip).clicked() && other != letter {
            shared.intents.push(Intent::SetSession(other));
        }
    }
}

/// The session letters A to H as a list.
pub(crate) fn session_combo(shared: &mut Shared, ui: &mut Ui, letter: char) {
    let shown = if letter.is_control() { '–' } else { letter };
    let combo =
        ComboBox::from_id_salt("session letter").selected_text(format!("Session {shown}")).width(76.0);
    let combo = combo.show_ui(ui, |ui| {
        for other in 'A'..='H' {
            if ui.selectable_label(other == letter, format!("Session {other}")).clicked() {
                shared.intents.push(Intent::SetSession(other));
            }
        }
    });
    let tip = "Layers with the same letter hear each other, in all hosts of this user on this computer. Give two \
               projects that are open at once different letters.";
    combo.response.on_hover_text(tip).accessible_name("Session letter");
}
