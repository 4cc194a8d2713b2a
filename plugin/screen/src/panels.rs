//! Panels over the page: settings and help.

mod forms;
mod help;
pub(crate) mod identity;
mod settings;

pub(crate) use forms::Forms;

use crate::screen::{Scene, Screen};
use crate::tokens::space;
use egui::{Align2, Context, ScrollArea, Ui, Window, vec2};

/// A panel over the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(crate) enum Panel {
    Settings,
    Help,
    /// Name, role and session of this layer.
    Identity,
}

/// Shows the open panel, if any, under the header at the right.
pub(crate) fn show_ui(screen: &mut Screen, ui: &mut Ui, scene: &Scene<'_>) {
    let Some(panel) = screen.panel else { return };
    let (title, width): (_, f32) = match panel {
        Panel::Settings => ("Settings", 400.0),
        Panel::Help => ("Keys", 690.0),
        Panel::Identity => ("This layer", 300.0),
    };
    let ctx: Context = ui.ctx().clone();
    let mut open = true;
    let page = ui.max_rect();
    let top = scene.plan.header.bottom() + space::NEAR;
    let height = (page.bottom() - top - 54.0).max(60.0);
    Window::new(title)
        .open(&mut open)
        .anchor(Align2::RIGHT_TOP, vec2(-space::GAP, top - ctx.content_rect().top()))
        .resizable(false)
        .collapsible(false)
        .fixed_size(vec2(width.min(page.width() - 40.0), height))
        .show(&ctx, |ui| {
            ScrollArea::vertical().max_height(height).show(ui, |ui| match panel {
                Panel::Settings => settings::settings_ui(screen, ui, scene),
                Panel::Help => help::help_ui(ui),
                Panel::Identity => identity::identity_ui(screen, ui, scene),
            });
        });
    if !open {
        screen.panel = None;
    }
}
