//! The Layers page: shares, the leader of each third, what to change, and which layers cause a mono loss.

mod aims;
mod controls;
mod layout;
mod loss;
mod matching;
mod spectrum;
mod state;
mod table;
mod title;

pub(crate) use state::LayersState;

use crate::frame_data::Scene;
use crate::identity;
use crate::page_state::Shared;
use crate::painter::{Painter, named_area};
use crate::session_view;
use crate::table::empty_state;
use crate::tokens::space;
use crate::widgets;
use crate::words;
use egui::{Rect, Ui, pos2, vec2};
use layout::LayersLayout;
use state::LayerBlock;

/// Paints the page.
pub(crate) fn layers_ui(
    shared: &mut Shared,
    state: &mut LayersState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
) {
    let session = &*scene.view.session;
    let layout = LayersLayout::new(&scene.layout, ui.max_rect(), session.layers.len());
    controls::controls_ui(shared, state, ui, painter, scene, layout.tools);
    if !session_view::has_layers(session) {
        no_layers_ui(shared, ui, painter, scene, layout.rest());
        return;
    }
    state.hovered = table::table_ui(shared, state, ui, painter, scene, layout.table);
    spectrum::spectrum_ui(shared, state, ui, painter, scene, layout.spectrum);
    if let Some(rect) = layout.matching {
        matching::match_ui(shared, ui, painter, scene, rect);
    }
    if let Some([aims, loss]) = layout.side {
        aims::aims_ui(shared, ui, painter, scene, aims);
        loss::loss_ui(ui, painter, scene, loss);
    }
    if let Some(rect) = layout.one {
        let blocks = [
            (LayerBlock::Aims, "Aims", "The share you want each role to have"),
            (LayerBlock::Match, "Match", "What to change on one layer to give it the tone of another"),
            (LayerBlock::Loss, "Mono loss", "Which layers cause the mono loss"),
        ];
        let rect = widgets::block_choice(ui, "layer parts", rect, &mut state.block, blocks);
        match state.block {
            LayerBlock::Aims => aims::aims_ui(shared, ui, painter, scene, rect),
            LayerBlock::Match => matching::match_ui(shared, ui, painter, scene, rect),
            LayerBlock::Loss => loss::loss_ui(ui, painter, scene, rect),
        }
    }
}

/// What to do so that layers find each other; if only roles are missing, this layer's role can be set here.
fn no_layers_ui(shared: &mut Shared, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let session = &*scene.view.session;
    let [head, body] = words::no_layers(scene.info.role, scene.info.session, session);
    let extra = if session_view::only_mixes(session) { space::GAP + space::BUTTON } else { 0.0 };
    let Some(text) = empty_state(painter, rect, [&head, &body], extra) else { return };
    named_area(ui, text, "nobody", || format!("{head}. {body}"));
    if extra > 0.0 {
        let row =
            Rect::from_min_size(pos2(text.left(), text.bottom() + space::GAP), vec2(560.0, space::BUTTON));
        let mut row = widgets::row(ui, "role here", row);
        identity::role_combo(shared, &mut row, "role where nobody has one", scene.info.role, 100.0);
    }
}
