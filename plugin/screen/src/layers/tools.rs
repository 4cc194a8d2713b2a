//! The row over the table: stretch, order, mark, session letter, and what the numbers do not say.

use super::{Order, Part};
use crate::company;
use crate::controls::choice;
use crate::painter::{Painter, name_only};
use crate::screen::{Intent, Scene, Screen};
use crate::tokens::{size, space};
use crate::words::{self, State, Told};
use egui::{Align, Align2, Layout, Rect, RichText, Ui, UiBuilder, pos2};
use plumbline_programme::Stretch;

pub(super) fn tools_ui(screen: &mut Screen, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    if rect.height() < space::BUTTON - 1.0 {
        return;
    }
    let builder =
        UiBuilder::new().id_salt("layer tools").max_rect(rect).layout(Layout::left_to_right(Align::Center));
    let mut row = ui.new_child(builder);
    row.spacing_mut().item_spacing.x = 1.0;
    if scene.plan.compact {
        row.spacing_mut().button_padding.x = 5.0;
    }
    let many = company::has_layers(&scene.view.session);
    if many {
        if !scene.plan.compact {
            caption(&mut row, "Share of");
        }
        stretches_ui(screen, &mut row, scene);
        row.add_space(space::GAP);
        let tip = "A new passage begins at the present position: shares of the passage count from here (M)";
        if row.button("Mark passage").on_hover_text(tip).clicked() {
            screen.intents.push(Intent::Mark);
        }
        row.add_space(space::GAP);
        caption(&mut row, "Sort");
        for order in Order::ALL {
            let name = format!("Sort by {}", order.label().to_lowercase());
            let chosen = screen.layers.order == order;
            if choice(&mut row, chosen, order.label(), &name, "Order of the table (O goes round)").clicked() {
                screen.layers.order = order;
            }
        }
        row.add_space(space::GAP);
    }
    if let Some(letter) = session_combo(&mut row, scene.info.session) {
        screen.intents.push(Intent::SetSession(letter));
    }
    let left = row.min_rect().right() + space::GAP * 2.0;
    notes(ui, painter, scene, rect.with_min_x(left.min(rect.right())));
}

pub(crate) fn stretches_ui(screen: &mut Screen, ui: &mut Ui, scene: &Scene<'_>) {
    for stretch in Stretch::ALL {
        let secs = plumbline_report::figures::duration(scene.view.session.secs[stretch.place()]);
        let tip = match stretch {
            Stretch::Now => "The newest 3 s".to_owned(),
            Stretch::Passage => format!("Since the last mark, {secs} heard; all of it without marks"),
            Stretch::Programme => {
                format!("Everything since reset, {secs} heard, gated as integrated loudness")
            }
        };
        let name = format!("Shares of {}", stretch.name().to_lowercase());
        if choice(ui, screen.settings.stretch == stretch, stretch.name(), &name, &tip).clicked() {
            screen.settings.stretch = stretch;
        }
    }
}

/// Letters A to H; returns a new one.
pub(crate) fn session_combo(ui: &mut Ui, letter: char) -> Option<char> {
    let mut chosen = None;
    let shown = if letter.is_control() { '–' } else { letter };
    let combo = egui::ComboBox::from_id_salt("session letter")
        .selected_text(format!("Session {shown}"))
        .width(76.0)
        .show_ui(ui, |ui| {
            for other in 'A'..='H' {
                if ui.selectable_label(other == letter, format!("Session {other}")).clicked() {
                    chosen = Some(other);
                }
            }
        });
    let tip = "Layers with the same letter hear each other, in all hosts of this user on this computer. Give two \
               projects that are open at once two letters.";
    combo.response.on_hover_text(tip).accessible_name("Session letter");
    chosen
}

fn caption(ui: &mut Ui, text: &str) {
    ui.label(RichText::new(text).size(size::SMALL).color(ui.visuals().weak_text_color()));
    ui.add_space(space::NEAR);
}

/// Notes on the session, and what of the mix is unaccounted for; as many as there is room for.
fn notes(ui: &Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let session = &*scene.view.session;
    let mut all: Vec<(State, String)> = session.notes.iter().map(words::note).collect();
    if company::has_layers(session)
        && let Some(said) = words::unaccounted(session.unaccounted[0], Told::Now)
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
    let galley = crate::header::fitted(painter, first, size::SMALL, room);
    painter.state(pos2(rect.left() + 4.0, rect.center().y), 9.0, *state);
    painter.put(pos2(rect.left() + 14.0, rect.center().y), Align2::LEFT_CENTER, galley);
    let aloud: Vec<&str> = all.iter().map(|(_, text)| text.as_str()).collect();
    name_only(ui, rect, "session notes", || format!("Session: {}", aloud.join(" "))).on_hover_ui(|ui| {
        for text in &aloud {
            ui.label(*text);
        }
    });
}

/// Buttons for what shares one place; returns what is left under them.
pub(super) fn parts_ui(screen: &mut Screen, ui: &mut Ui, rect: Rect) -> Rect {
    let bar = rect.with_max_y((rect.top() + space::BUTTON).min(rect.bottom()));
    let builder =
        UiBuilder::new().id_salt("layer parts").max_rect(bar).layout(Layout::left_to_right(Align::Center));
    let mut row = ui.new_child(builder);
    row.spacing_mut().item_spacing.x = 1.0;
    for (part, label, tip) in [
        (Part::Aims, "Aims", "The share that each role is meant to have"),
        (Part::Match, "Match", "What to change on one layer to give it the tone of another"),
        (Part::Loss, "Mono loss", "Which layers the mix loses in mono"),
    ] {
        if choice(&mut row, screen.layers.part == part, label, &format!("Show {label}"), tip).clicked() {
            screen.layers.part = part;
        }
    }
    rect.with_min_y((bar.bottom() + space::NEAR).min(rect.bottom()))
}
