//! Off-screen painting of the screen, without a window or a display: for the picture tests and the demo.

use egui::Vec2;
use egui_kittest::Harness;
use image::RgbaImage;
use plumbline_programme::{Command, TimeWindow, View};
use plumbline_screen::{Exported, Info, Intent, Role, Screen, Settings};

/// Sizes of the pictures in points: of a new window and of the smallest.
pub const SIZES: [Vec2; 2] = [plumbline_screen::layout::DEFAULT, plumbline_screen::layout::SMALLEST];

/// The data of a picture besides the view.
pub fn info(held: bool) -> Info<'static> {
    Info {
        name: "Bell tower",
        role: Role::Mix,
        colour: None,
        session: 'A',
        held,
        unfit_blocks: 0,
        exported: None,
    }
}

/// The same, for the layer of the view in its session.
fn info_of(view: &View, held: bool) -> Info<'_> {
    match view.session.layers.iter().find(|line| line.own) {
        Some(own) => Info { name: &own.identity.name, role: own.identity.role, ..info(held) },
        None => info(held),
    }
}

/// The state of a window between frames.
#[derive(Debug)]
pub struct Window {
    /// The screen.
    pub screen: Screen,
    /// The view shown.
    pub view: View,
    /// Whether it is held.
    pub held: bool,
    /// The outcome of the last export.
    pub exported: Option<Exported>,
    /// All intents since the window opened, except those for a stretch of time.
    pub intents: Vec<Intent>,
    /// The stretches of time requested; each window requests one with its first frame.
    pub looks: Vec<TimeWindow>,
}

/// A window off screen. Theme and scale come from the settings; one point is one pixel at 100 %.
pub fn window(view: &View, settings: &Settings, size: Vec2) -> Harness<'static, Window> {
    let state = Window {
        screen: Screen::new(settings.clone()),
        view: view.clone(),
        held: false,
        exported: None,
        intents: Vec::new(),
        looks: Vec::new(),
    };
    let scale = f32::from(settings.scale_percent) / 100.0;
    let mut harness = Harness::builder()
        .with_size(size)
        .with_pixels_per_point(scale)
        .with_max_steps(8)
        .with_context_setup(move |ctx| ctx.set_zoom_factor(scale))
        .wgpu()
        .build_ui_state(
            |ui, state: &mut Window| {
                let info = Info { exported: state.exported.as_ref(), ..info_of(&state.view, state.held) };
                let intents = state.screen.ui(ui, &state.view, &info);
                for intent in intents {
                    match intent {
                        Intent::Command(Command::ShowTime(lens)) => state.looks.push(lens),
                        Intent::Hold(held) => {
                            state.held = held;
                            state.intents.push(intent);
                        }
                        other => state.intents.push(other),
                    }
                }
            },
            state,
        );
    harness.run();
    harness
}

/// Paints one view.
///
/// # Errors
/// The graphics library's error if there is no device to paint with, not even in software.
pub fn render(view: &View, settings: &Settings, size: Vec2) -> Result<RgbaImage, String> {
    window(view, settings, size).render()
}

/// Lays out and tessellates one frame without painting it, and returns its triangles. For the hostile tests and the
/// bench.
pub fn frame(
    ctx: &egui::Context,
    screen: &mut Screen,
    view: &View,
    size: Vec2,
    events: Vec<egui::Event>,
) -> usize {
    let input = egui::RawInput {
        screen_rect: Some(egui::Rect::from_min_size(egui::Pos2::ZERO, size)),
        events,
        ..egui::RawInput::default()
    };
    let mut output = ctx.run_ui(input, |ui| {
        screen.ui(ui, view, &info(false));
    });
    let shapes = std::mem::take(&mut output.shapes);
    let pixels_per_point = output.pixels_per_point;
    output.drop_without_applying_deltas();
    let triangles = |primitive: &egui::epaint::Primitive| match primitive {
        egui::epaint::Primitive::Mesh(mesh) => mesh.indices.len() / 3,
        egui::epaint::Primitive::Callback(_) => 0,
    };
    ctx.tessellate(shapes, pixels_per_point).iter().map(|clipped| triangles(&clipped.primitive)).sum()
}

/// A size in points, as written in file names.
pub fn size_name(size: Vec2) -> String {
    format!("{:.0}x{:.0}", size.x, size.y)
}
