//! The table of layers.

mod columns;

use super::layout::ROW;
use super::state::LayersState;
use crate::frame_data::Scene;
use crate::identity;
use crate::page_state::Shared;
use crate::painter::Painter;
use crate::role_marks;
use crate::session_view;
use crate::settings::Settings;
use crate::table::{self, HEADS, Rows};
use crate::tokens::{size, space};
use crate::widgets;
use crate::words::{self, Flag, State};
use columns::{Column, columns};
use egui::{Align2, Rect, Response, Ui, pos2, vec2};
use plumbline_programme::session::LayerLine;
use plumbline_programme::{LayerId, Role, Stretch};
use plumbline_report::figures;

/// Paints the table; returns the layer under the pointer.
pub(super) fn table_ui(
    shared: &mut Shared,
    state: &mut LayersState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
) -> Option<LayerId> {
    painter.block(rect, scene.theme.panel);
    let inside = rect.shrink2(vec2(space::NEAR, 1.0));
    if inside.width() < 60.0 || inside.height() < HEADS + ROW {
        return None;
    }
    let columns = columns(inside, shared.settings.stretch, scene.layout.compact);
    heads_ui(shared, state, ui, painter, inside.with_max_y(inside.top() + HEADS), &columns);

    let lines = state.rows(&scene.view.session, &shared.settings);
    let selected = || lines.iter().position(|line| Some(line.id) == state.selected);
    let seek = if std::mem::take(&mut state.seek) { selected() } else { None };
    let rows = Rows { salt: "layers", height: ROW, count: lines.len(), seek };
    let mut hovered = None;
    rows.ui(ui, inside.with_min_y(inside.top() + HEADS), |ui, at, row| {
        if row_ui(shared, state, ui, scene, lines[at], at, row, &columns).contains_pointer() {
            hovered = Some(lines[at].id);
        }
    });
    hovered
}

fn heads_ui(
    shared: &mut Shared,
    state: &mut LayersState,
    ui: &Ui,
    painter: &Painter,
    rect: Rect,
    columns: &[Column],
) {
    let theme = painter.theme;
    for column in columns {
        let cell = column.cell(rect);
        let order = column.kind.order();
        let sorted = order == Some(state.order)
            && column.kind.stretch().is_none_or(|stretch| stretch == shared.settings.stretch);
        let ink = if sorted { theme.text } else { theme.muted };
        let name = column.head();
        let right = column.kind.right() && !column.kind.with_bar();
        let indent = if column.kind.with_bar() { NUMBER - 22.0 } else { 0.0 };
        let at = pos2(if right { cell.right() } else { cell.left() + indent }, cell.center().y);
        let anchor = if right { Align2::RIGHT_CENTER } else { Align2::LEFT_CENTER };
        let text = painter.text(at, anchor, name, size::AXIS, ink);
        if sorted {
            let x = if right { text.left() - 6.0 } else { text.right() + 6.0 };
            painter.triangle(pos2(x, cell.center().y + 3.0), 5.0, false, theme.text);
        }
        let tip = column.kind.tip();
        let Some(order) = order else {
            table::head(ui, cell, name, tip);
            continue;
        };
        if table::order_head(painter, ui, cell, name, &format!("{tip} Click to sort by it.")) {
            state.order = order;
            shared.settings.stretch = column.kind.stretch().unwrap_or(shared.settings.stretch);
        }
    }
}

#[expect(clippy::too_many_arguments, reason = "a row needs its layer, its columns and its place")]
fn row_ui(
    shared: &mut Shared,
    state: &mut LayersState,
    ui: &mut Ui,
    scene: &Scene<'_>,
    line: &LayerLine,
    at: usize,
    rect: Rect,
    columns: &[Column],
) -> Response {
    let painter = Painter::of(ui, scene.theme);
    let flags = words::flags(line, &scene.view.session);
    let selected = state.selected == Some(line.id);
    let id = ("layer", at, line.id);
    let response = table::selectable(&painter, ui, rect, id, selected, || aloud(line, &flags));
    if response.clicked() {
        state.selected = if selected { None } else { Some(line.id) };
    }
    let tip = tip(line, &flags);
    let response = response.on_hover_ui(|ui| {
        for text in &tip {
            ui.label(text);
        }
    });
    for column in columns {
        let cell = column.cell(rect);
        cell_ui(shared, ui, &painter, scene, line, column, cell, &flags);
    }
    response
}

#[expect(clippy::too_many_arguments, reason = "a cell needs its row, its column and its place")]
fn cell_ui(
    shared: &mut Shared,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    line: &LayerLine,
    column: &Column,
    cell: Rect,
    flags: &[Flag],
) {
    use columns::Kind;
    let theme = scene.theme;
    let now = &line.parts[0];
    let number = |text: String| {
        painter.text(
            pos2(cell.right(), cell.center().y),
            Align2::RIGHT_CENTER,
            text,
            size::SMALL,
            theme.text,
        );
    };
    match column.kind {
        Kind::Chip => {
            let ink = scene.layer_ink(line.identity.colour, line.identity.role);
            role_marks::mark(painter, cell.center(), 11.0, line.identity.role, ink);
        }
        Kind::Name if line.own => {
            let mut field = field_place(ui, "own name", cell);
            let marked = cell.width() >= 150.0;
            let width = cell.width() - if marked { 64.0 } else { 10.0 };
            identity::name_field(shared, &mut field, scene, "Name of this layer", width);
            if marked {
                painter.text(cell.right_center(), Align2::RIGHT_CENTER, "this one", size::AXIS, theme.muted);
            }
        }
        Kind::Name => {
            let galley = painter.fitted(session_view::name(line), size::SMALL, cell.width() - 4.0);
            painter.put(cell.left_center(), Align2::LEFT_CENTER, galley);
        }
        Kind::Role if line.own => {
            let mut place = field_place(ui, "own role", cell);
            identity::role_combo(shared, &mut place, "role in table", line.identity.role, cell.width() - 6.0);
        }
        Kind::Role => {
            let name = line.identity.role.name();
            painter.text(cell.left_center(), Align2::LEFT_CENTER, name, size::SMALL, theme.muted);
        }
        Kind::Loudness => number(figures::plain(now.loudness_lufs, 1)),
        Kind::Share(stretch, bar) => share_cell(&shared.settings, painter, scene, line, stretch, bar, cell),
        Kind::Lead => number(figures::percent(now.lead)),
        Kind::Width => number(figures::percent(line.side_share)),
        Kind::Mono => number(figures::loss(line.mono_loss_db)),
        Kind::Flags => flags_cell(painter, cell, flags),
    }
}

fn field_place(ui: &mut Ui, salt: &str, cell: Rect) -> Ui {
    let mut place = widgets::row(ui, salt, cell.shrink2(vec2(0.0, 1.0)));
    place.spacing_mut().interact_size.y = ROW - 3.0;
    place.spacing_mut().button_padding = vec2(space::NEAR, 0.0);
    place
}

/// Width of a share as a number, before its bar.
const NUMBER: f32 = 36.0;

fn share_cell(
    settings: &Settings,
    painter: &Painter,
    scene: &Scene<'_>,
    line: &LayerLine,
    stretch: Stretch,
    with_bar: bool,
    cell: Rect,
) {
    let theme = scene.theme;
    let share = line.parts[stretch.place()].share;
    if line.identity.role == Role::Mix {
        return;
    }
    let ink = if settings.stretch == stretch { theme.text } else { theme.muted };
    // The number comes before its bar, under the head of the column.
    let right = if with_bar { (cell.left() + NUMBER).min(cell.right()) } else { cell.right() };
    let at = pos2(right, cell.center().y);
    painter.text(at, Align2::RIGHT_CENTER, figures::percent(share), size::SMALL, ink);
    if with_bar {
        let bar = Rect::from_x_y_ranges(
            (right + 6.0).min(cell.right())..=cell.right(),
            cell.center().y - 4.0..=cell.center().y + 4.0,
        );
        painter.fill(bar, theme.grid);
        if let Some(share) = role_marks::drawable(share) {
            painter.fill(
                bar.with_max_x(role_marks::share_x(bar, share)),
                scene.layer_ink(line.identity.colour, line.identity.role),
            );
        }
    }
}

/// As many flags as fit, the gravest first, and the number of the others.
fn flags_cell(painter: &Painter, cell: Rect, flags: &[Flag]) {
    let theme = painter.theme;
    let mut x = cell.left();
    for (at, flag) in flags.iter().enumerate() {
        let rest = flags.len() - at - 1;
        let after = if rest > 0 { 26.0 } else { 0.0 };
        let room = cell.right() - x - 13.0 - after;
        if room < 30.0 {
            painter.text(
                pos2(x, cell.center().y),
                Align2::LEFT_CENTER,
                format!("+{}", rest + 1),
                size::AXIS,
                theme.muted,
            );
            return;
        }
        painter.state(pos2(x + 4.0, cell.center().y), 8.0, flag.state);
        let ink = if flag.state == State::Fault { theme.fault_text } else { theme.text };
        let galley = painter.fitted_in(&flag.short, size::AXIS, room, ink);
        x = painter.put(pos2(x + 12.0, cell.center().y), Align2::LEFT_CENTER, galley).right() + space::INSET;
    }
}

fn aloud(line: &LayerLine, flags: &[Flag]) -> String {
    let own = if line.own { ", this layer" } else { "" };
    let share = |stretch: Stretch| figures::percent(line.parts[stretch.place()].share);
    let mut text = format!(
        "{}, {}{own}: {} LUFS, share now {}, passage {}, programme {}, leads {}, width {}, mono loss {} dB",
        session_view::name(line),
        line.identity.role.name(),
        figures::plain(line.parts[0].loudness_lufs, 1),
        share(Stretch::Now),
        share(Stretch::Passage),
        share(Stretch::Programme),
        figures::percent(line.parts[0].lead),
        figures::percent(line.side_share),
        figures::loss(line.mono_loss_db),
    );
    for flag in flags {
        text.push_str(". ");
        text.push_str(&flag.short);
    }
    text
}

fn tip(line: &LayerLine, flags: &[Flag]) -> Vec<String> {
    let mut tip = vec![session_view::name(line).chars().take(128).collect::<String>()];
    tip.extend(flags.iter().map(|flag| flag.sentence.clone()));
    tip.push(if line.own {
        "This layer: change its name and role here.".to_owned()
    } else {
        "Change its name and role in its own window. Click to keep its spectrum below.".to_owned()
    });
    tip
}
