//! The row above the table: stretch, order, mark, session letter, notes.

use super::state::{LayerOrder, LayersState};
use crate::frame_data::Scene;
use crate::identity;
use crate::intent::Intent;
use crate::page_state::Shared;
use crate::painter::{Painter, named_area};
use crate::session_view;
use crate::tokens::{size, space};
use crate::widgets;
use crate::words::{self, Context, State};
use egui::{Align2, Rect, Ui, pos2};
use plumbline_programme::{Command, Stretch};
use plumbline_report::figures;

pub(super) fn controls_ui(
    shared: &mut Shared,
    state: &mut LayersState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
) {
    if rect.height() < space::BUTTON - 1.0 {
        return;
    }
    let mut row = widgets::row(ui, "layer tools", rect);
    row.spacing_mut().item_spacing.x = 1.0;
    if scene.layout.compact {
        row.spacing_mut().button_padding.x = 5.0;
    }
    if session_view::has_layers(&scene.view.session) {
        if !scene.layout.compact {
            widgets::caption(&mut row, "Share of");
        }
        stretches_ui(shared, &mut row, scene);
        row.add_space(space::GAP);
        let tip = "Starts a new passage at the present position: passage shares count from here (M)";
        if row.button("Mark passage").on_hover_text(tip).clicked() {
            shared.intents.push(Intent::Command(Command::Mark));
        }
        row.add_space(space::GAP);
        widgets::caption(&mut row, "Sort");
        for order in LayerOrder::ALL {
            let name = format!("Sort by {}", order.label().to_lowercase());
            let tip = "Order of the table; press O for the next";
            widgets::choose(&mut row, &mut state.order, order, order.label(), &name, tip);
        }
        row.add_space(space::GAP);
    }
    identity::session_combo(shared, &mut row, scene.info.session);
    let left = row.min_rect().right() + space::GAP * 2.0;
    notes(ui, painter, scene, rect.with_min_x(left.min(rect.right())));
}

fn stretches_ui(shared: &mut Shared, ui: &mut Ui, scene: &Scene<'_>) {
    for stretch in Stretch::ALL {
        let secs = figures::duration(scene.view.session.secs[stretch.place()]);
        let tip = match stretch {
            Stretch::Now => "The last 3 s".to_owned(),
            Stretch::Passage => format!("Since the last mark, {secs} heard; without marks, everything"),
            Stretch::Programme => {
                format!("Everything since reset, {secs} heard, gated like integrated loudness")
            }
        };
        let name = format!("Shares of {}", stretch.name().to_lowercase());
        widgets::choose(ui, &mut shared.settings.stretch, stretch, stretch.name(), &name, &tip);
    }
}

/// The first note on the session or on the unaccounted part of the mix, and the number of the others.
fn notes(ui: &Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let session = &*scene.view.session;
    let mut all: Vec<(State, String)> = session.notes.iter().map(words::note).collect();
    if session_view::has_layers(session)
        && let Some(said) = words::unaccounted(session.unaccounted[0], Context::Live)
    {
        all.push((said.state, said.sentence));
    }
    if all.is_empty() || rect.width() < 40.0 {
        return;
    }
    let theme = scene.theme;
    let (state, first) = &all[0];
    let more = if all.len() > 1 { format!("  +{}", all.len() - 1) } else { String::new() };
    let more = painter.text(rect.right_center(), Align2::RIGHT_CENTER, more, size::SMALL, theme.muted);
    let room = (more.left() - rect.left() - 14.0).max(0.0);
    let galley = painter.fitted(first, size::SMALL, room);
    painter.state(pos2(rect.left() + 4.0, rect.center().y), 9.0, *state);
    painter.put(pos2(rect.left() + 14.0, rect.center().y), Align2::LEFT_CENTER, galley);
    let aloud: Vec<&str> = all.iter().map(|(_, text)| text.as_str()).collect();
    named_area(ui, rect, "session notes", || format!("Session: {}", aloud.join(" "))).on_hover_ui(|ui| {
        for text in &aloud {
            ui.label(*text);
        }
    });
}
