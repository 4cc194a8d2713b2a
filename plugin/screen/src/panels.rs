//! Panels over the page: settings, help, identity.

mod forms;
mod help;
mod identity;
mod settings;

pub(crate) use forms::Forms;

use crate::frame_data::Scene;
use crate::navigation::Panel;
use crate::page_state::Shared;
use crate::tokens::space;
use egui::{Align2, Context, ScrollArea, Ui, Window, vec2};

/// Shows the panel that was open when the frame began, if any; a panel opened since then waits for the next frame.
pub(crate) fn show_ui(
    shared: &mut Shared,
    forms: &mut Forms,
    ui: &mut Ui,
    scene: &Scene<'_>,
    panel: Option<Panel>,
) {
    let other = shared.panel != panel;
    if let Some(panel) = panel {
        panel_ui(shared, forms, ui, scene, panel, !other);
    }
    if shared.panel != panel {
        *forms = Forms::default();
        ui.ctx().request_repaint();
    }
}

/// Shows a panel. The button in its corner closes it, provided that it `stays` open after this frame.
fn panel_ui(
    shared: &mut Shared,
    forms: &mut Forms,
    ui: &mut Ui,
    scene: &Scene<'_>,
    panel: Panel,
    stays: bool,
) {
    let (title, width): (_, f32) = match panel {
        Panel::Settings => ("Settings", 400.0),
        Panel::Help => ("Keys", 690.0),
        Panel::Identity => ("This layer", 300.0),
    };
    let ctx: Context = ui.ctx().clone();
    let mut open = true;
    let page = ui.max_rect();
    let top = scene.layout.header.bottom() + space::NEAR;
    let height = (page.bottom() - top - 54.0).max(60.0);
    Window::new(title)
        .open(&mut open)
        .anchor(Align2::RIGHT_TOP, vec2(-space::GAP, top - ctx.content_rect().top()))
        .resizable(false)
        .collapsible(false)
        .fixed_size(vec2(width.min(page.width() - 40.0), height))
        .show(&ctx, |ui| {
            ScrollArea::vertical().max_height(height).show(ui, |ui| match panel {
                Panel::Settings => settings::settings_ui(shared, forms, ui, scene),
                Panel::Help => help::help_ui(ui),
                Panel::Identity => identity::identity_ui(shared, ui, scene),
            });
        });
    if stays && !open {
        shared.panel = None;
    }
}
