//! The table of layers: a row each, with what is worth knowing of it.

mod columns;

use super::plan::{HEADS, ROW};
use super::role_combo;
use crate::company;
use crate::painter::{Painter, name_only};
use crate::panels::identity::name_field;
use crate::parts;
use crate::screen::{Intent, Scene, Screen};
use crate::tokens::{size, space, stroke};
use crate::words::{self, Flag, State};
use columns::{Column, columns};
use egui::{
    Align, Align2, Layout, Rect, Response, Sense, Stroke, Ui, UiBuilder, WidgetInfo, accesskit, pos2, vec2,
};
use plumbline_programme::session::LayerLine;
use plumbline_programme::{LayerId, Role, Stretch};
use plumbline_report::figures;

/// Paints the table; returns the layer that is pointed at.
pub(super) fn table_ui(
    screen: &mut Screen,
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
    let columns = columns(inside, screen.settings.stretch, scene.plan.compact);
    heads_ui(screen, ui, painter, inside.with_max_y(inside.top() + HEADS), &columns);

    let session = &*scene.view.session;
    let rows: Vec<LayerLine> = screen.rows(session).into_iter().cloned().collect();
    let body = inside.with_min_y(inside.top() + HEADS);
    let mut child = ui.new_child(UiBuilder::new().id_salt("layers").max_rect(body));
    child.spacing_mut().item_spacing.y = 0.0;
    let mut scroll = egui::ScrollArea::vertical().id_salt("layers").auto_shrink([false, false]);
    if std::mem::take(&mut screen.layers.seek)
        && let Some(at) = rows.iter().position(|line| Some(line.id) == screen.layers.selected)
    {
        #[expect(clippy::cast_precision_loss, reason = "tens of rows")]
        let middle = (at as f32 + 0.5) * ROW - body.height() / 2.0;
        #[expect(clippy::cast_precision_loss, reason = "tens of rows")]
        let most = (rows.len() as f32 * ROW - body.height()).max(0.0);
        scroll = scroll.vertical_scroll_offset(middle.clamp(0.0, most));
    }
    let mut hovered = None;
    scroll.show_rows(&mut child, ROW, rows.len(), |ui, range| {
        for index in range {
            let Some(line) = rows.get(index) else { continue };
            let (row, _) = ui.allocate_exact_size(vec2(inside.width(), ROW), Sense::hover());
            if row_ui(screen, ui, scene, line, index, row, &columns).contains_pointer() {
                hovered = Some(line.id);
            }
        }
    });
    hovered
}

fn heads_ui(screen: &mut Screen, ui: &Ui, painter: &Painter, rect: Rect, columns: &[Column]) {
    let theme = painter.theme;
    for column in columns {
        let cell = column.cell(rect);
        let order = column.kind.order();
        let sorted = order == Some(screen.layers.order)
            && column.kind.stretch().is_none_or(|stretch| stretch == screen.settings.stretch);
        let ink = if sorted { theme.text } else { theme.muted };
        let name = column.head();
        let right = column.kind.right() && !column.kind.with_bar();
        let indent = if column.kind.with_bar() { NUMBER - 22.0 } else { 0.0 };
        let at = pos2(if right { cell.right() } else { cell.left() + indent }, cell.center().y);
        let anchor = if right { Align2::RIGHT_CENTER } else { Align2::LEFT_CENTER };
        let text = painter.text(at, anchor, name, size::AXIS, ink);
        if sorted {
            let x = if right { text.left() - 6.0 } else { text.right() + 6.0 };
            painter.bob(pos2(x, cell.center().y + 3.0), 5.0, false, theme.text);
        }
        let tip = column.kind.tip();
        let Some(order) = order else {
            name_only(ui, cell, name, || format!("Column {name}")).on_hover_text(tip);
            continue;
        };
        let response = ui.interact(cell, ui.scope_id().with(("head", name)), Sense::click());
        response
            .widget_info(|| WidgetInfo::labeled(accesskit::Role::Button, true, format!("Order by {name}")));
        focus_ring(painter, cell, &response);
        if response.clicked() {
            screen.layers.order = order;
            if let Some(stretch) = column.kind.stretch() {
                screen.settings.stretch = stretch;
            }
        }
        response.on_hover_text(format!("{tip} Click to order by it."));
    }
}

fn focus_ring(painter: &Painter, rect: Rect, response: &Response) {
    if response.has_focus() {
        let ring = Stroke::new(stroke::HAIR, painter.theme.plumb);
        painter.egui.rect_stroke(rect.shrink(0.5), 2.0, ring, egui::StrokeKind::Inside);
    }
}

fn row_ui(
    screen: &mut Screen,
    ui: &mut Ui,
    scene: &Scene<'_>,
    line: &LayerLine,
    index: usize,
    rect: Rect,
    columns: &[Column],
) -> Response {
    let theme = scene.theme;
    let painter = Painter::of(ui, theme);
    let session = &*scene.view.session;
    let flags = words::flags(line, session);
    let id = ui.scope_id().with(("layer", index, line.id));
    let response = ui.interact(rect, id, Sense::click());
    let selected = screen.layers.selected == Some(line.id);
    response
        .widget_info(|| WidgetInfo::selected(accesskit::Role::Button, true, selected, aloud(line, &flags)));
    if selected || response.hovered() {
        painter.fill(rect, if selected { theme.button } else { theme.plot });
    }
    if selected {
        painter.fill(rect.with_max_x(rect.left() + 2.0), theme.plumb);
    }
    focus_ring(&painter, rect, &response);
    if response.clicked() {
        screen.layers.selected = if selected { None } else { Some(line.id) };
    }
    let tip = tip(line, &flags);
    let response = response.on_hover_ui(|ui| {
        for text in &tip {
            ui.label(text);
        }
    });
    for column in columns {
        let cell = column.cell(rect);
        cell_ui(screen, ui, &painter, scene, line, column, cell, &flags);
    }
    response
}

#[expect(clippy::too_many_arguments, reason = "a cell needs its row, its column and its place")]
fn cell_ui(
    screen: &mut Screen,
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
            let ink = super::ink(screen, scene, line);
            parts::mark(painter, cell.center(), 11.0, line.identity.role, ink);
        }
        Kind::Name if line.own => {
            let mut field = field_place(ui, "own name", cell);
            let marked = cell.width() >= 150.0;
            let width = cell.width() - if marked { 64.0 } else { 10.0 };
            name_field(screen, &mut field, scene, "Name of this layer", width);
            if marked {
                painter.text(cell.right_center(), Align2::RIGHT_CENTER, "this one", size::AXIS, theme.muted);
            }
        }
        Kind::Name => {
            let galley = crate::header::fitted(painter, company::name(line), size::SMALL, cell.width() - 4.0);
            painter.put(cell.left_center(), Align2::LEFT_CENTER, galley);
        }
        Kind::Role if line.own => {
            let mut place = field_place(ui, "own role", cell);
            if let Some(role) =
                role_combo(&mut place, "role in table", line.identity.role, cell.width() - 6.0)
            {
                screen.intents.push(Intent::SetRole(role));
            }
        }
        Kind::Role => {
            let name = line.identity.role.name();
            painter.text(cell.left_center(), Align2::LEFT_CENTER, name, size::SMALL, theme.muted);
        }
        Kind::Loudness => number(figures::plain(now.loudness_lufs, 1)),
        Kind::Share(stretch, bar) => share_cell(screen, painter, scene, line, stretch, bar, cell),
        Kind::Lead => number(figures::percent(now.lead)),
        Kind::Width => number(figures::percent(line.side_share)),
        Kind::Mono => number(figures::loss(line.mono_loss_db)),
        Kind::Flags => flags_cell(painter, cell, flags),
    }
}

fn field_place(ui: &mut Ui, salt: &str, cell: Rect) -> Ui {
    let builder = UiBuilder::new()
        .id_salt(salt)
        .max_rect(cell.shrink2(vec2(0.0, 1.0)))
        .layout(Layout::left_to_right(Align::Center));
    let mut place = ui.new_child(builder);
    place.spacing_mut().interact_size.y = ROW - 3.0;
    place.spacing_mut().button_padding = vec2(space::NEAR, 0.0);
    place
}

/// Width of a share as a number, before its bar.
const NUMBER: f32 = 36.0;

fn share_cell(
    screen: &Screen,
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
    let ink = if screen.settings.stretch == stretch { theme.text } else { theme.muted };
    // The number stands before its bar, under its head.
    let right = if with_bar { (cell.left() + NUMBER).min(cell.right()) } else { cell.right() };
    let at = pos2(right, cell.center().y);
    painter.text(at, Align2::RIGHT_CENTER, figures::percent(share), size::SMALL, ink);
    if with_bar {
        let bar = Rect::from_x_y_ranges(
            (right + 6.0).min(cell.right())..=cell.right(),
            cell.center().y - 4.0..=cell.center().y + 4.0,
        );
        painter.fill(bar, theme.grid);
        if let Some(share) = parts::sane(share) {
            painter.fill(bar.with_max_x(parts::across(bar, share)), super::ink(screen, scene, line));
        }
    }
}

/// As many flags as fit, the gravest first; the rest as a count.
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
        let galley = crate::header::fitted_in(painter, &flag.short, size::AXIS, room, ink);
        x = painter.put(pos2(x + 12.0, cell.center().y), Align2::LEFT_CENTER, galley).right() + space::INSET;
    }
}

fn aloud(line: &LayerLine, flags: &[Flag]) -> String {
    let own = if line.own { ", this layer" } else { "" };
    let share = |stretch: Stretch| figures::percent(line.parts[stretch.place()].share);
    let mut text = format!(
        "{}, {}{own}: {} LUFS, share now {}, passage {}, programme {}, leads {}, width {}, mono loss {} dB",
        company::name(line),
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
    let mut tip = vec![company::name(line).chars().take(128).collect::<String>()];
    tip.extend(flags.iter().map(|flag| flag.sentence.clone()));
    tip.push(if line.own {
        "This layer: name and role are changed right here.".to_owned()
    } else {
        "Its name and role are changed in its own window. Click to keep its spectrum below.".to_owned()
    });
    tip
}
