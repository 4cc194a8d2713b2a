//! The settings panel: all that can be chosen, in the order in which it is needed.

use super::forms::{self, TARGET_FIELDS};
use crate::controls;
use crate::fields::{self, Field, Look};
use crate::screen::{Scene, Screen};
use crate::settings::{SCALES, Settings};
use crate::tokens::{ThemeName, space};
use egui::{Align, Button, ComboBox, Layout, RichText, Ui};
use plumbline_measure::{BandEdges, FrameRate};
use plumbline_programme::delivery::PRESETS;
use plumbline_programme::pair::{LEAST_CELSIUS, MOST_CELSIUS, speed_of_sound};

pub(super) fn settings_ui(screen: &mut Screen, ui: &mut Ui, scene: &Scene<'_>) {
    ui.set_width(ui.available_width());
    section(ui, "Spectrum and lanes");
    ui.horizontal_wrapped(|ui| controls::averaging_ui(screen, ui));
    ui.horizontal_wrapped(|ui| {
        controls::tilt_ui(screen, ui, true);
        ui.add_space(space::GAP);
        controls::range_ui(screen, ui);
    });
    ui.horizontal_wrapped(|ui| {
        controls::peak_hold_ui(screen, ui);
        controls::reference_ui(screen, ui, scene);
    });
    section(ui, "Delivery target");
    target_ui(screen, ui);
    section(ui, "Timecode");
    timecode_ui(screen, ui);
    section(ui, "Air");
    air_ui(screen, ui);
    section(ui, "Named bands");
    edges_ui(screen, ui);
    section(ui, "Look");
    look_ui(screen, ui);
    ui.add_space(space::GAP);
    let tip = "Everything on this panel as it was delivered, and no reference; can be undone for 10 s";
    if ui.button("Restore all settings").on_hover_text(tip).clicked() {
        screen.undoable("Settings restored.");
        screen.settings = Settings::default();
        screen.forms = forms::Forms::default();
    }
}

fn section(ui: &mut Ui, title: &str) {
    ui.add_space(space::GAP);
    ui.label(RichText::new(title).strong());
}

fn target_ui(screen: &mut Screen, ui: &mut Ui) {
    let target = screen.settings.target;
    let preset = PRESETS.iter().find(|preset| preset.target == target);
    let name = preset.map_or("Values of your own", |preset| preset.name);
    let combo = ComboBox::from_id_salt("target").selected_text(name).width(260.0).show_ui(ui, |ui| {
        for preset in PRESETS {
            let row = ui.selectable_label(preset.target == target, preset.name).on_hover_text(preset.source);
            if row.clicked() {
                screen.settings.target = preset.target;
                screen.forms.target = Default::default();
            }
        }
    });
    combo.response.accessible_name("Delivery target");
    let source =
        preset.map_or("A broadcaster's or platform's own specification stands above these.", |p| p.source);
    ui.label(RichText::new(source).small().weak());
    for (index, (name, unit)) in TARGET_FIELDS.into_iter().enumerate() {
        ui.horizontal(|ui| {
            let room = egui::vec2(150.0, space::BUTTON);
            ui.allocate_ui_with_layout(room, Layout::left_to_right(Align::Center), |ui| {
                ui.set_min_width(room.x);
                ui.label(name);
            });
            let current = forms::target_text(&screen.settings.target, index);
            let field = &mut screen.forms.target[index];
            if let Some(text) = field_ui(ui, field, &current, name, 70.0, unit) {
                match forms::target(screen.settings.target, index, &text) {
                    Ok(changed) => {
                        screen.settings.target = changed;
                        *field = Field::default();
                    }
                    Err(error) => field.error = Some(error),
                }
            }
            ui.label(RichText::new(unit).weak());
        });
        error_ui(ui, &screen.forms.target[index]);
    }
}

fn timecode_ui(screen: &mut Screen, ui: &mut Ui) {
    let start = screen.settings.start;
    ui.horizontal(|ui| {
        let rate = start.rate();
        let tip = "Frames per second, as of SMPTE ST 12-1 and ST 12-3 for 50 and more";
        let combo = ComboBox::from_id_salt("frame rate").selected_text(rate.name()).show_ui(ui, |ui| {
            for other in FrameRate::ALL {
                if ui.selectable_label(other == rate, other.name()).clicked() {
                    screen.settings.start = forms::at_rate(start, other);
                    screen.forms.start = Field::default();
                }
            }
        });
        combo.response.on_hover_text(tip).accessible_name("Frame rate");
        ui.label("fps, song starts at");
        let current = screen.settings.start.to_string();
        let field = &mut screen.forms.start;
        let tip = "Label of the song's first sample: HH:MM:SS:FF";
        if let Some(text) = field_ui(ui, field, &current, "Start timecode", 100.0, tip) {
            match forms::start(screen.settings.start.rate(), &text) {
                Ok(label) => {
                    screen.settings.start = label;
                    *field = Field::default();
                }
                Err(error) => field.error = Some(error),
            }
        }
    });
    error_ui(ui, &screen.forms.start);
}

fn air_ui(screen: &mut Screen, ui: &mut Ui) {
    ui.horizontal(|ui| {
        ui.label("Temperature");
        let tip = "For delays in metres on the Mics page: the speed of sound is 343.2·√(T/293.15 K) m/s, as of ISO 9613-1. \
                   20 °C is 343.2 m/s; 10 degrees more or less are 1.7 %. Drag, or click and type.";
        let drag = egui::DragValue::new(&mut screen.settings.celsius)
            .range(LEAST_CELSIUS..=MOST_CELSIUS)
            .speed(0.1)
            .fixed_decimals(1)
            .suffix(" °C");
        fields::number(ui, drag, "Temperature of the air", tip);
        let speed = speed_of_sound(screen.settings.celsius);
        ui.label(RichText::new(format!("sound travels {speed:.1} m/s")).weak());
    });
}

fn edges_ui(screen: &mut Screen, ui: &mut Ui) {
    ui.label(RichText::new("Edges in Hz of Sub, Low, Low mid, Mid, Presence, Air").small().weak());
    ui.horizontal(|ui| {
        let current = forms::edges_text(&screen.settings.band_edges);
        let tip =
            "Seven frequencies from 10 Hz to 22 kHz, each at least a twelfth of an octave over the last";
        let field = &mut screen.forms.edges;
        if let Some(text) = field_ui(ui, field, &current, "Band edges in Hz", 270.0, tip) {
            match forms::edges(&text) {
                Ok(edges) => {
                    screen.settings.band_edges = edges;
                    *field = Field::default();
                }
                Err(error) => field.error = Some(error),
            }
        }
        let standing = screen.settings.band_edges == BandEdges::default();
        let reset = ui.add_enabled(!standing, Button::new("Default"));
        if reset
            .on_hover_text("20, 60, 200, 800, 2500, 8000, 20000 Hz")
            .accessible_name("Default band edges")
            .clicked()
        {
            screen.undoable("Band edges put back.");
            screen.settings.band_edges = BandEdges::default();
            screen.forms.edges = Field::default();
        }
    });
    error_ui(ui, &screen.forms.edges);
}

fn look_ui(screen: &mut Screen, ui: &mut Ui) {
    ui.horizontal_wrapped(|ui| {
        for theme in ThemeName::ALL {
            let chosen = screen.settings.theme == theme;
            if controls::choice(
                ui,
                chosen,
                theme.name(),
                &format!("Theme {}", theme.name()),
                "Dark or light (T)",
            )
            .clicked()
            {
                screen.settings.theme = theme;
            }
        }
    });
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 1.0;
        ui.spacing_mut().button_padding.x = 5.0;
        for scale in SCALES {
            let chosen = screen.settings.scale_percent == scale;
            let label = format!("{scale}%");
            if controls::choice(
                ui,
                chosen,
                &label,
                &format!("Scale {scale} per cent"),
                "Size of the screen (+ and −)",
            )
            .clicked()
            {
                screen.settings.scale_percent = scale;
            }
        }
    });
    ui.checkbox(&mut screen.settings.track_colour, "Wear the host's track colour")
        .on_hover_text("Marks the layer in the colour that the host gives its track, where it gives one");
}

/// A text field of the panel. Returns what was typed, once it is to be taken.
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
        ui.label(RichText::new(format!("Not taken. {error}")).color(ui.visuals().error_fg_color));
    }
}
