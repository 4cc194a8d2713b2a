//! The header: layer, position, pages, and the buttons needed while listening.

mod position;

use crate::frame_data::Scene;
use crate::intent::Intent;
use crate::navigation::{Page, Panel};
use crate::page_state::Shared;
use crate::painter::Painter;
use crate::session_view;
use crate::tokens::{size, space, stroke};
use crate::widgets::{self, choice};
use crate::words;
use egui::{Align2, Rect, Sense, StrokeKind, Ui, WidgetInfo, accesskit, pos2, vec2};
use plumbline_programme::Command;

/// Paints the header.
pub(crate) fn header_ui(shared: &mut Shared, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>) {
    let rect = scene.layout.header;
    let mut left_of_buttons = rect;
    let buttons = buttons_ui(shared, ui, scene);
    left_of_buttons.max.x = buttons.left() - space::GAP;
    let clock = position::position_ui(ui, painter, scene, &shared.settings, left_of_buttons);
    identity_ui(shared, ui, painter, scene, rect.with_max_x(clock.left() - space::GAP * 2.0));
}

/// Buttons at the right; returns the area they take.
fn buttons_ui(shared: &mut Shared, ui: &mut Ui, scene: &Scene<'_>) -> Rect {
    let rect = scene.layout.header;
    let mut row = widgets::row_from_right(ui, "header", rect);
    row.spacing_mut().item_spacing.x = space::NEAR;
    let tip = "List of keys (?)";
    if row.button("Keys").on_hover_text(tip).clicked() {
        shared.toggle(Panel::Help);
    }
    if row.button("Settings").on_hover_text("All settings (,)").clicked() {
        shared.toggle(Panel::Settings);
    }
    row.add_space(space::GAP);
    let tip = "Restarts averages, peak hold, maxima and integrated loudness from here (R). The history of the song \
               stays.";
    if row.button("Reset").on_hover_text(tip).clicked() {
        shared.intents.push(Intent::Command(Command::Reset));
    }
    let tip = "Freezes the picture; measuring continues (H)";
    let held = scene.info.held;
    if row.add(egui::Button::selectable(held, "Hold").frame_when_inactive(true)).on_hover_text(tip).clicked()
    {
        shared.intents.push(Intent::Hold(!held));
    }
    tabs_ui(shared, &mut row);
    row.min_rect()
}

fn tabs_ui(shared: &mut Shared, row: &mut Ui) {
    row.add_space(space::GAP);
    row.spacing_mut().item_spacing.x = 1.0;
    for (index, page) in Page::ALL.into_iter().enumerate().rev() {
        let tip = match page {
            Page::Bus => "Width, mono, phase, balance and delivery of this layer",
            Page::Mics => "Pairs of microphones: delay, polarity, drift, and what to move",
            Page::Joins => "Transitions and what jumps there; statistics by passage",
            Page::Log => "Findings with timecode, their rules, and export",
            Page::Layers => "All layers of the session: shares, who covers whom, match, mono loss",
        };
        let (chosen, name) = (shared.page == page, format!("Page {}", page.name()));
        if choice(row, chosen, page.name(), &name, &format!("{tip} ({})", index + 1)).clicked() {
            shared.show(page);
        }
    }
}

fn identity_ui(shared: &mut Shared, ui: &Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let (info, theme) = (scene.info, scene.theme);
    let colour = scene.layer_ink(info.colour, info.role);
    let chip = Rect::from_min_size(pos2(rect.left(), rect.center().y - 11.0), vec2(7.0, 22.0));
    painter.block(chip, colour);
    painter.outline(chip, space::ROUND, stroke::HAIR, theme.grid_strong, StrokeKind::Inside);

    let name = session_view::own_name(info.name, &scene.view.session);
    let heard = &*scene.view.session;
    let session = words::session(info.session, heard);
    let head = if scene.layout.compact { size::HEAD_COMPACT } else { size::HEAD };
    let left = chip.right() + space::INSET;
    let room = (rect.right() - left).max(0.0);
    let name_galley = painter.fitted(name, head, room);
    let after = name_galley.size().x + space::GAP * 1.5;
    let name_rect = painter.put(pos2(left, rect.center().y), Align2::LEFT_CENTER, name_galley);
    let role = info.role.name();
    let short = words::session_in_short(info.session, heard);
    let roles = words::without_roles(heard).map(|todo| format!("{role}  ·  {todo}"));
    let wordings = [format!("{role}  ·  {session}"), format!("{role}  ·  {short}"), role.to_owned()];
    for wording in roles.clone().into_iter().chain(wordings) {
        let at = pos2(name_rect.right() + space::GAP * 1.5, rect.center().y + 1.0);
        if painter.text_if_fits(at, Align2::LEFT_CENTER, wording, size::SMALL, theme.muted, room - after) {
            break;
        }
    }
    let response = ui.interact(rect, ui.scope_id().with("layer"), Sense::click());
    response.widget_info(|| {
        let name = format!("Layer {name}, {}, {session}", info.role.name());
        WidgetInfo::labeled(accesskit::Role::Button, true, name)
    });
    if response.has_focus() || response.hovered() {
        let ring = rect.expand2(vec2(3.0, -2.0));
        painter.outline(ring, space::ROUND, stroke::HAIR, theme.grid_strong, StrokeKind::Inside);
    }
    if response.clicked() {
        shared.toggle(Panel::Identity);
    }
    // Everything in full: beside the position, a long name is cut, and role and session may not fit.
    response.on_hover_ui(|ui| {
        ui.label(format!("{name}  ·  {role}  ·  {session}"));
        if let Some(roles) = roles {
            ui.label(roles);
        }
        ui.label("The name, role and session letter of this layer. Click to change them (N).");
    });
}
