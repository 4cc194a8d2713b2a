//! The list of keys.

use crate::keys;
use egui::{Grid, RichText, Ui};

pub(super) fn help_ui(ui: &mut Ui) {
    Grid::new("keys").num_columns(2).spacing([16.0, 0.0]).show(ui, |ui| {
        for (key, does) in keys::LIST {
            ui.label(RichText::new(key).strong());
            ui.label(does);
            ui.end_row();
        }
    });
    ui.add_space(6.0);
    ui.label(RichText::new("Keys rest while you type in a field.").weak());
}
