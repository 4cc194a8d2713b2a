//! The row of choices over the lanes. What does not fit is left out from the right; all of it is in the settings
//! too.

use crate::fields;
use crate::lanes::averaging_name;
use crate::screen::{Scene, Screen};
use crate::settings::Tilt;
use crate::tokens::{size, space};
use egui::{Align, Button, Layout, Response, RichText, Ui, UiBuilder};
use plumbline_measure::Averaging;

/// Least width in points with which each group of the row is shown.
const REFERENCE_FROM: f32 = 500.0;
const RANGE_FROM: f32 = 780.0;

pub(crate) fn controls_ui(screen: &mut Screen, ui: &mut Ui, scene: &Scene<'_>) {
    let rect = scene.plan.controls;
    if rect.height() < space::BUTTON - 1.0 {
        return;
    }
    let builder =
        UiBuilder::new().id_salt("controls").max_rect(rect).layout(Layout::left_to_right(Align::Center));
    let mut row = ui.new_child(builder);
    row.spacing_mut().item_spacing.x = 1.0;
    let tight = rect.width() < 640.0;
    if tight {
        row.spacing_mut().button_padding.x = 4.0;
    }
    averaging_ui(screen, &mut row);
    row.add_space(space::GAP);
    tilt_ui(screen, &mut row, !tight);
    row.add_space(space::GAP);
    peak_hold_ui(screen, &mut row);
    if rect.width() >= REFERENCE_FROM {
        row.add_space(space::GAP);
        reference_ui(screen, &mut row, scene);
    }
    if rect.width() >= RANGE_FROM {
        row.add_space(space::GAP);
        range_ui(screen, &mut row);
    }
}

/// One choice of several, side by side.
pub(crate) fn choice(ui: &mut Ui, chosen: bool, label: &str, name: &str, tip: &str) -> Response {
    let ink = if chosen { ui.visuals().selection.stroke.color } else { ui.visuals().text_color() };
    let text = RichText::new(label).color(ink);
    ui.add(Button::selectable(chosen, text).frame_when_inactive(true))
        .on_hover_text(tip)
        .accessible_name(name)
}

fn caption(ui: &mut Ui, text: &str) {
    ui.label(RichText::new(text).size(size::SMALL).color(ui.visuals().weak_text_color()));
    ui.add_space(space::NEAR);
}

pub(crate) fn averaging_ui(screen: &mut Screen, ui: &mut Ui) {
    for averaging in Averaging::ALL {
        let label = averaging_name(averaging);
        let tip = match averaging {
            Averaging::Fast => "Averages 125 ms, exponentially (IEC 61672-1 F). A goes round.",
            Averaging::Slow => "Averages 1 s, exponentially (IEC 61672-1 S). A goes round.",
            Averaging::SinceReset => "Averages everything since the last reset. A goes round.",
        };
        let chosen = screen.settings.averaging == averaging;
        if choice(ui, chosen, label, &format!("Averaging {label}"), tip).clicked() {
            screen.settings.averaging = averaging;
        }
    }
}

pub(crate) fn tilt_ui(screen: &mut Screen, ui: &mut Ui, captioned: bool) {
    if captioned {
        caption(ui, "Tilt");
    }
    for tilt in Tilt::ALL {
        let tip = match tilt {
            Tilt::Pink => "Spectrum as measured, in cells of 1/24 octave: pink noise is level",
            Tilt::Mix => "Raises the spectrum 1.5 dB per octave about 1 kHz, near the slope of full mixes",
            Tilt::Brown => "Raises the spectrum 3 dB per octave about 1 kHz: brown noise is level",
        };
        let name = format!("Tilt {} dB per octave", tilt.name());
        if choice(ui, screen.settings.tilt == tilt, tilt.name(), &name, tip).clicked() {
            screen.settings.tilt = tilt;
        }
    }
    if captioned {
        ui.add_space(2.0);
        caption(ui, "dB/oct");
    }
}

pub(crate) fn peak_hold_ui(screen: &mut Screen, ui: &mut Ui) {
    let tip = "Shows the highest fast average (125 ms) of each spectral line since reset, in dBFS (P). Reset clears it.";
    if choice(ui, screen.settings.peak_hold, "Peak hold", "Peak hold", tip).clicked() {
        screen.settings.peak_hold = !screen.settings.peak_hold;
    }
}

pub(crate) fn reference_ui(screen: &mut Screen, ui: &mut Ui, scene: &Scene<'_>) {
    let tip = "Keeps the spectrum shown now as a dashed line to compare against; saved with the song (S)";
    let can = !scene.view.spectral(screen.settings.averaging).lines_dbfs.is_empty();
    let label = if ui.available_width() < 150.0 { "Store ref." } else { "Store reference" };
    let store = ui.add_enabled(can, Button::new(label)).on_hover_text(tip);
    if store
        .accessible_name("Store reference")
        .on_disabled_hover_text("There is no spectrum to store yet")
        .clicked()
    {
        screen.store_reference(scene.view);
    }
    if screen.settings.reference.is_some() {
        let clear = ui.button("Clear").on_hover_text("Takes the reference away; can be undone for 10 s");
        if clear.accessible_name("Clear reference").clicked() {
            screen.clear_reference();
        }
    }
}

pub(crate) fn range_ui(screen: &mut Screen, ui: &mut Ui) {
    caption(ui, "Top");
    let settings = &mut screen.settings;
    let top =
        egui::DragValue::new(&mut settings.top_db).range(crate::settings::TOPS_DB).speed(0.5).suffix(" dB");
    let tip = "Upper end of the level axis in dBFS: drag, or click and type";
    fields::number(ui, top.fixed_decimals(0), "Top of the level axis, dBFS", tip);
    ui.add_space(space::NEAR);
    caption(ui, "Span");
    let span =
        egui::DragValue::new(&mut settings.span_db).range(crate::settings::SPANS_DB).speed(0.5).suffix(" dB");
    let tip = "Length of the level axis in dB: drag, or click and type";
    fields::number(ui, span.fixed_decimals(0), "Span of the level axis, dB", tip);
}
