//! The list of keys.

use crate::keys;
use crate::tokens::size;
use egui::{Grid, RichText, Ui};

/// The least width at which the list has two columns.
const TWO_FROM: f32 = 640.0;
/// Height of a row: with it, all keys fit the smallest window in two columns.
const ROW: f32 = 19.0;

pub(super) fn help_ui(ui: &mut Ui) {
    let columns = if ui.available_width() >= TWO_FROM { 2 } else { 1 };
    let rows = keys::LIST.len().div_ceil(columns);
    let grid = Grid::new("keys").num_columns(2 * columns).spacing([12.0, 0.0]).min_row_height(ROW);
    grid.show(ui, |ui| {
        for row in 0..rows {
            for (key, does) in keys::LIST.iter().skip(row).step_by(rows) {
                ui.label(RichText::new(*key).size(size::SMALL).strong());
                ui.label(RichText::new(*does).size(size::SMALL));
            }
            ui.end_row();
        }
    });
    ui.add_space(6.0);
    ui.label(RichText::new("Keys are off while you type.").weak());
}
