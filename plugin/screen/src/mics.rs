//! The Mics page: the microphones that fight, by how much, and what to move.

mod advice;
mod comb;
mod drift;
mod lag;
mod layout;
mod list;
mod state;
mod title;
mod trial;

pub(crate) use state::MicsState;
pub(crate) use trial::banner_ui;

use crate::frame_data::Scene;
use crate::intent::Intent;
use crate::page_state::Shared;
use crate::painter::{Painter, named_area};
use crate::session_view::layer_combo;
use crate::table::empty_state;
use crate::tokens::{size, space};
use crate::widgets;
use crate::words::{self, State};
use egui::{Align2, Button, Rect, Ui, pos2};
use layout::MicsLayout;
use plumbline_programme::{Command, Mic};
use plumbline_report::figures;
use state::MicsBlock;

/// Paints the page.
pub(crate) fn mics_ui(
    shared: &mut Shared,
    state: &mut MicsState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
) {
    let view = scene.view;
    let layout = MicsLayout::new(&scene.layout, view.trial.is_some());
    tools_ui(shared, state, ui, painter, scene, layout.tools);
    if view.mics.lines.is_empty() {
        let head = "No two microphones to compare yet";
        let body = "A stereo bus compares its left with its right. To compare tracks, insert Plumbline on each with \
                    the same session letter, or feed the second microphone to the side-chain. A reading takes 3 \
                    seconds of sound.";
        empty_state(painter, layout.all, [head, body], 0.0);
        return;
    }
    list::list_ui(&shared.settings, state, ui, painter, scene, layout.list);
    let Some(line) = state.shown(&view.mics) else { return };
    advice::advice_ui(shared, state, ui, painter, scene, line, layout.advice);
    let kept = state.kept.as_ref().filter(|kept| kept.is_of(line.mics));
    let names = line.mics.map(|mic| words::mic_name(mic, &view.session));
    if let [Some(lag), Some(comb), Some(drift)] = layout.pictures {
        lag::lag_ui(ui, painter, line, kept, names, &shared.settings, lag);
        comb::comb_ui(&mut shared.cursor, ui, painter, line, kept, comb);
        drift::drift_ui(ui, painter, line, drift);
    } else if let Some(rect) = layout.one {
        let blocks = [
            (MicsBlock::Delay, "Delay", "Correlation of the two against delay"),
            (MicsBlock::Comb, "Comb", "What the blend does to the spectrum, before and after"),
            (MicsBlock::Drift, "Drift", "The delay over the last minute"),
        ];
        let rect = widgets::block_choice(ui, "mic parts", rect, &mut state.block, blocks);
        match state.block {
            MicsBlock::Delay => lag::lag_ui(ui, painter, line, kept, names, &shared.settings, rect),
            MicsBlock::Comb => comb::comb_ui(&mut shared.cursor, ui, painter, line, kept, rect),
            MicsBlock::Drift => drift::drift_ui(ui, painter, line, rect),
        }
    }
}

/// The choice of two layers to compare, and a note on layers that are not compared.
fn tools_ui(
    shared: &mut Shared,
    state: &mut MicsState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
) {
    if rect.height() < space::BUTTON - 1.0 {
        return;
    }
    let session = &*scene.view.session;
    let mut row = widgets::row(ui, "mic tools", rect);
    row.spacing_mut().item_spacing.x = space::NEAR;
    if session.layers.len() > 1 {
        let width = if scene.layout.compact { 130.0 } else { 190.0 };
        let before = state.picked;
        for (at, (label, name)) in
            [("Compare", "First layer to compare"), ("with", "Second layer to compare")]
                .into_iter()
                .enumerate()
        {
            row.label(label);
            let chosen = ("any layer", state.picked[at]);
            let picked = layer_combo(&mut row, session, session.layers.iter(), name, chosen, width);
            state.picked[at] = picked.or(state.picked[at]);
        }
        if before != state.picked
            && let [Some(a), Some(b)] = state.picked
            && a != b
        {
            let two = [Mic::Layer(a), Mic::Layer(b)];
            shared.intents.push(Intent::Command(Command::CompareMics(Some(two))));
            state.selected = Some(two);
        }
        let tip = "Clears the choice. The loudest layers are compared with each other in any case.";
        let clear = row.add_enabled(state.picked != [None; 2], Button::new("Clear")).on_hover_text(tip);
        if clear.accessible_name("Clear the choice of layers").clicked() {
            state.picked = [None; 2];
            shared.intents.push(Intent::Command(Command::CompareMics(None)));
        }
    }
    let left = row.min_rect().right() + space::GAP * 2.0;
    let mics = &*scene.view.mics;
    let (mark, text) = match (&mics.trouble, mics.uncompared) {
        (Some(trouble), _) => (State::Fault, trouble.clone()),
        (None, 0) => return,
        (None, more) => {
            let more = figures::count(f64::from(more), "more layer is", "more layers are");
            (State::Note, format!("{more} playing but not compared: choose them here"))
        }
    };
    if rect.right() - left > 60.0 {
        let galley = painter.fitted(&text, size::SMALL, rect.right() - left - 14.0);
        painter.state(pos2(left + 4.0, rect.center().y), 9.0, mark);
        painter.put(pos2(left + 14.0, rect.center().y), Align2::LEFT_CENTER, galley);
        named_area(ui, rect.with_min_x(left), "mic notes", || text.clone()).on_hover_text(&text);
    }
}
