//! The row of choices above the lanes. If space is tight, groups are left out from the right; the settings panel has
//! all of them.

use crate::fields;
use crate::frame_data::Scene;
use crate::page_state::Shared;
use crate::settings::{SPANS_DB, Settings, TOPS_DB, Tilt, averaging_name};
use crate::tokens::space;
use crate::widgets::{self, caption, choice, choose};
use egui::{Button, DragValue, Ui};
use plumbline_measure::Averaging;

/// The least width in points at which each group of the row is shown.
const REFERENCE_FROM: f32 = 500.0;
const RANGE_FROM: f32 = 780.0;

pub(crate) fn controls_ui(shared: &mut Shared, ui: &mut Ui, scene: &Scene<'_>) {
    let rect = scene.layout.controls;
    if rect.height() < space::BUTTON - 1.0 {
        return;
    }
    let mut row = widgets::row(ui, "controls", rect);
    row.spacing_mut().item_spacing.x = 1.0;
    let tight = rect.width() < 640.0;
    if tight {
        row.spacing_mut().button_padding.x = 4.0;
    }
    averaging_ui(&mut shared.settings, &mut row);
    row.add_space(space::GAP);
    tilt_ui(&mut shared.settings, &mut row, !tight);
    row.add_space(space::GAP);
    peak_hold_ui(&mut shared.settings, &mut row);
    if rect.width() >= REFERENCE_FROM {
        row.add_space(space::GAP);
        reference_ui(shared, &mut row, scene);
    }
    if rect.width() >= RANGE_FROM {
        row.add_space(space::GAP);
        range_ui(&mut shared.settings, &mut row);
    }
}

pub(crate) fn averaging_ui(settings: &mut Settings, ui: &mut Ui) {
    for averaging in Averaging::ALL {
        let label = averaging_name(averaging);
        let tip = match averaging {
            Averaging::Fast => "Exponential average, 125 ms (IEC 61672-1 F). Press A for the next.",
            Averaging::Slow => "Exponential average, 1 s (IEC 61672-1 S). Press A for the next.",
            Averaging::SinceReset => "Average of everything since the last reset. Press A for the next.",
        };
        choose(ui, &mut settings.averaging, averaging, label, &format!("Averaging {label}"), tip);
    }
}

pub(crate) fn tilt_ui(settings: &mut Settings, ui: &mut Ui, captioned: bool) {
    if captioned {
        caption(ui, "Tilt");
    }
    for tilt in Tilt::ALL {
        let tip = match tilt {
            Tilt::Pink => "Spectrum as measured, in cells of 1/24 octave: pink noise is flat",
            Tilt::Mix => {
                "Tilts the spectrum up by 1.5 dB per octave around 1 kHz: a usual full mix is about flat"
            }
            Tilt::Brown => "Tilts the spectrum up by 3 dB per octave around 1 kHz: brown noise is flat",
        };
        let name = format!("Tilt {} dB per octave", tilt.name());
        choose(ui, &mut settings.tilt, tilt, tilt.name(), &name, tip);
    }
    if captioned {
        ui.add_space(2.0);
        caption(ui, "dB/oct");
    }
}

pub(crate) fn peak_hold_ui(settings: &mut Settings, ui: &mut Ui) {
    let tip = "Shows the highest fast average (125 ms) of each spectral line since reset, in dBFS (P). Reset clears it.";
    if choice(ui, settings.peak_hold, "Peak hold", "Peak hold", tip).clicked() {
        settings.peak_hold = !settings.peak_hold;
    }
}

pub(crate) fn reference_ui(shared: &mut Shared, ui: &mut Ui, scene: &Scene<'_>) {
    let tip = "Keeps the present spectrum as a dashed line for comparison; saved with the project (S)";
    let can = !scene.view.spectral(shared.settings.averaging).lines_dbfs.is_empty();
    let label = if ui.available_width() < 150.0 { "Store ref." } else { "Store reference" };
    let store = ui.add_enabled(can, Button::new(label)).on_hover_text(tip);
    if store.accessible_name("Store reference").on_disabled_hover_text("No spectrum to store yet").clicked() {
        shared.store_reference(scene.view);
    }
    if shared.settings.reference.is_some() {
        let clear = ui.button("Clear").on_hover_text("Removes the reference; you can undo this for 10 s");
        if clear.accessible_name("Clear reference").clicked() {
            shared.undoable("Reference cleared.");
            shared.settings.reference = None;
        }
    }
}

pub(crate) fn range_ui(settings: &mut Settings, ui: &mut Ui) {
    caption(ui, "Top");
    let top = DragValue::new(&mut settings.top_db).range(TOPS_DB).speed(0.5).suffix(" dB");
    let tip = "Upper end of the level axis in dBFS: drag, or click and type";
    fields::number(ui, top.fixed_decimals(0), "Top of the level axis, dBFS", tip);
    ui.add_space(space::NEAR);
    caption(ui, "Span");
    let span = DragValue::new(&mut settings.span_db).range(SPANS_DB).speed(0.5).suffix(" dB");
    let tip = "Length of the level axis in dB: drag, or click and type";
    fields::number(ui, span.fixed_decimals(0), "Span of the level axis, dB", tip);
}
