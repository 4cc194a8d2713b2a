//! The settings panel.

use super::forms::{self as read, Forms, TARGET_FIELDS};
use crate::fields::{self, Field, Look};
use crate::frame_data::Scene;
use crate::lane_controls;
use crate::page_state::Shared;
use crate::settings::{SCALES, Settings};
use crate::tokens::{ThemeName, space};
use crate::widgets;
use egui::{Align, Button, ComboBox, Layout, RichText, Ui};
use plumbline_measure::{BandEdges, FrameRate};
use plumbline_programme::delivery::PRESETS;
use plumbline_programme::pair::{LEAST_CELSIUS, MOST_CELSIUS, speed_of_sound};

pub(super) fn settings_ui(shared: &mut Shared, forms: &mut Forms, ui: &mut Ui, scene: &Scene<'_>) {
    ui.set_width(ui.available_width());
    section(ui, "Spectrum and lanes");
    ui.horizontal_wrapped(|ui| lane_controls::averaging_ui(&mut shared.settings, ui));
    ui.horizontal_wrapped(|ui| {
        lane_controls::tilt_ui(&mut shared.settings, ui, true);
        ui.add_space(space::GAP);
        lane_controls::range_ui(&mut shared.settings, ui);
    });
    ui.horizontal_wrapped(|ui| {
        lane_controls::peak_hold_ui(&mut shared.settings, ui);
        lane_controls::reference_ui(shared, ui, scene);
    });
    section(ui, "Delivery target");
    target_ui(&mut shared.settings, forms, ui);
    section(ui, "Timecode");
    timecode_ui(&mut shared.settings, forms, ui);
    section(ui, "Air");
    air_ui(&mut shared.settings, ui);
    section(ui, "Named bands");
    edges_ui(shared, forms, ui);
    section(ui, "Look");
    look_ui(&mut shared.settings, ui);
    ui.add_space(space::GAP);
    let tip = "Resets everything on this panel and clears the reference; you can undo this for 10 s";
    if ui.button("Restore all settings").on_hover_text(tip).clicked() {
        shared.undoable("Settings restored.");
        shared.settings = Settings::default();
        *forms = Forms::default();
    }
}

fn section(ui: &mut Ui, title: &str) {
    ui.add_space(space::GAP);
    ui.label(RichText::new(title).strong());
}

fn target_ui(settings: &mut Settings, forms: &mut Forms, ui: &mut Ui) {
    let target = settings.target;
    let preset = PRESETS.iter().find(|preset| preset.target == target);
    let name = preset.map_or("Custom values", |preset| preset.name);
    let combo = ComboBox::from_id_salt("target").selected_text(name).width(260.0).show_ui(ui, |ui| {
        for preset in PRESETS {
            let row = ui.selectable_label(preset.target == target, preset.name).on_hover_text(preset.source);
            if row.clicked() {
                settings.target = preset.target;
                forms.target = Default::default();
            }
        }
    });
    combo.response.accessible_name("Delivery target");
    let source = preset.map_or("A broadcaster's or platform's own specification comes first.", |p| p.source);
    ui.label(RichText::new(source).small().weak());
    for (index, (name, unit)) in TARGET_FIELDS.into_iter().enumerate() {
        ui.horizontal(|ui| {
            let room = egui::vec2(150.0, space::BUTTON);
            ui.allocate_ui_with_layout(room, Layout::left_to_right(Align::Center), |ui| {
                ui.set_min_width(room.x);
                ui.label(name);
            });
            let current = read::target_text(&settings.target, index);
            let field = &mut forms.target[index];
            if let Some(text) = field_ui(ui, field, &current, name, 70.0, unit) {
                match read::target(settings.target, index, &text) {
                    Ok(changed) => {
                        settings.target = changed;
                        *field = Field::default();
                    }
                    Err(error) => field.error = Some(error),
                }
            }
            ui.label(RichText::new(unit).weak());
        });
        error_ui(ui, &forms.target[index]);
    }
}

fn timecode_ui(settings: &mut Settings, forms: &mut Forms, ui: &mut Ui) {
    let start = settings.start;
    ui.horizontal(|ui| {
        let rate = start.rate();
        let tip = "Frames per second: SMPTE ST 12-1, and ST 12-3 for 50 and above";
        let combo = ComboBox::from_id_salt("frame rate").selected_text(rate.name()).show_ui(ui, |ui| {
            for other in FrameRate::ALL {
                if ui.selectable_label(other == rate, other.name()).clicked() {
                    settings.start = read::at_rate(start, other);
                    forms.start = Field::default();
                }
            }
        });
        combo.response.on_hover_text(tip).accessible_name("Frame rate");
        ui.label("fps, song starts at");
        let current = settings.start.to_string();
        let field = &mut forms.start;
        let tip = "Timecode of the song's first sample: HH:MM:SS:FF";
        if let Some(text) = field_ui(ui, field, &current, "Start timecode", 100.0, tip) {
            match read::start(settings.start.rate(), &text) {
                Ok(label) => {
                    settings.start = label;
                    *field = Field::default();
                }
                Err(error) => field.error = Some(error),
            }
        }
    });
    error_ui(ui, &forms.start);
}

fn air_ui(settings: &mut Settings, ui: &mut Ui) {
    ui.horizontal(|ui| {
        ui.label("Temperature");
        let tip = "For delays in metres on the Mics page: the speed of sound is 343.2·√(T/293.15 K) m/s (ISO \
                   9613-1). 20 °C gives 343.2 m/s; 10 degrees change it by 1.7 %. Drag, or click and type.";
        let drag = egui::DragValue::new(&mut settings.celsius)
            .range(LEAST_CELSIUS..=MOST_CELSIUS)
            .speed(0.1)
            .fixed_decimals(1)
            .suffix(" °C");
        fields::number(ui, drag, "Temperature of the air", tip);
        let speed = speed_of_sound(settings.celsius);
        ui.label(RichText::new(format!("speed of sound {speed:.1} m/s")).weak());
    });
}

fn edges_ui(shared: &mut Shared, forms: &mut Forms, ui: &mut Ui) {
    ui.label(RichText::new("Edges in Hz of Sub, Low, Low mid, Mid, Presence, Air").small().weak());
    ui.horizontal(|ui| {
        let current = read::edges_text(&shared.settings.band_edges);
        let tip =
            "Seven frequencies from 10 Hz to 22 kHz, each at least a twelfth of an octave above the previous";
        let field = &mut forms.edges;
        if let Some(text) = field_ui(ui, field, &current, "Band edges in Hz", 270.0, tip) {
            match read::edges(&text) {
                Ok(edges) => {
                    shared.settings.band_edges = edges;
                    *field = Field::default();
                }
                Err(error) => field.error = Some(error),
            }
        }
        let standing = shared.settings.band_edges == BandEdges::default();
        let reset = ui.add_enabled(!standing, Button::new("Default"));
        if reset
            .on_hover_text("20, 60, 200, 800, 2500, 8000, 20000 Hz")
            .accessible_name("Default band edges")
            .clicked()
        {
            shared.undoable("Band edges reset.");
            shared.settings.band_edges = BandEdges::default();
            forms.edges = Field::default();
        }
    });
    error_ui(ui, &forms.edges);
}

fn look_ui(settings: &mut Settings, ui: &mut Ui) {
    ui.horizontal_wrapped(|ui| {
        for theme in ThemeName::ALL {
            let name = format!("Theme {}", theme.name());
            widgets::choose(ui, &mut settings.theme, theme, theme.name(), &name, "Dark or light (T)");
        }
    });
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 1.0;
        ui.spacing_mut().button_padding.x = 5.0;
        for scale in SCALES {
            let (label, name) = (format!("{scale}%"), format!("Scale {scale} per cent"));
            let tip = "Size of the screen (+ and −)";
            widgets::choose(ui, &mut settings.scale_percent, scale, &label, &name, tip);
        }
    });
    ui.checkbox(&mut settings.track_colour, "Use the host's track colour")
        .on_hover_text("Marks the layer in the colour of its track, if the host gives one");
}

/// A text field of the panel. Returns the text once it is complete.
fn field_ui(
    ui: &mut Ui,
    field: &mut Field,
    current: &str,
    name: &str,
    width: f32,
    tip: &str,
) -> Option<String> {
    field.ui(ui, current, Look { name, tip, hint: "", width, most: 200 })
}

fn error_ui(ui: &mut Ui, field: &Field) {
    if let Some(error) = &field.error {
        ui.label(RichText::new(format!("Not set. {error}")).color(ui.visuals().error_fg_color));
    }
}
