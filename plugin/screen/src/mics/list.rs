//! The list of pairs, those that cost most first.

use crate::painter::{Painter, name_only};
use crate::screen::{Scene, Screen};
use crate::tokens::{size, space, stroke};
use crate::words;
use egui::{Align2, Rect, Sense, Stroke, Ui, UiBuilder, WidgetInfo, accesskit, pos2, vec2};
use plumbline_programme::{Mic, PairLine};
use plumbline_report::figures::{self, DASH};

const ROW: f32 = 36.0;
const HEADS: f32 = 18.0;
/// Width of a column of numbers.
const NUMBER: f32 = 58.0;
const DELAY_TIP: &str = "How much later the second hears the same sound than the first, ms: generalised \
                         cross-correlation with phase transform (Knapp, Carter 1976) over windows of 2 s, voted over 10 s";
const COST_TIP: &str = "How much louder the sum of all that is compared would be with this pair repaired, dB. For left and \
                        right: their sum in mono";

pub(super) fn list_ui(screen: &mut Screen, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    painter.block(rect, scene.theme.panel);
    let inside = rect.shrink2(vec2(space::NEAR, 1.0));
    if inside.width() < 90.0 || inside.height() < HEADS + ROW {
        return;
    }
    let heads = inside.with_max_y(inside.top() + HEADS);
    let [delay, cost] = columns(heads);
    let muted = scene.theme.muted;
    painter.text(pos2(heads.left() + 18.0, heads.center().y), Align2::LEFT_CENTER, "Pair", size::AXIS, muted);
    for (cell, name, tip) in [(delay, "Delay ms", DELAY_TIP), (cost, "Costs dB", COST_TIP)] {
        painter.text(cell.right_center(), Align2::RIGHT_CENTER, name, size::AXIS, muted);
        name_only(ui, cell, name, || format!("Column {name}")).on_hover_text(tip);
    }
    let body = inside.with_min_y(heads.bottom());
    let mut child = ui.new_child(UiBuilder::new().id_salt("pairs").max_rect(body));
    child.spacing_mut().item_spacing.y = 0.0;
    let mics = &*scene.view.mics;
    let shown = screen.mics.shown(mics).map(|line| line.mics);
    let mut scroll = egui::ScrollArea::vertical().id_salt("pairs").auto_shrink([false, false]);
    if std::mem::take(&mut screen.mics.seek)
        && let Some(at) = mics.lines.iter().position(|line| Some(line.mics) == shown)
    {
        #[expect(clippy::cast_precision_loss, reason = "tens of rows")]
        let (at, rows) = (at as f32, mics.lines.len() as f32);
        let middle = (at + 0.5) * ROW - body.height() / 2.0;
        scroll = scroll.vertical_scroll_offset(middle.clamp(0.0, (rows * ROW - body.height()).max(0.0)));
    }
    scroll.show_rows(&mut child, ROW, mics.lines.len(), |ui, range| {
        for index in range {
            let Some(line) = mics.lines.get(index) else { continue };
            let (row, _) = ui.allocate_exact_size(vec2(inside.width(), ROW), Sense::hover());
            row_ui(screen, ui, scene, line, index, row, shown == Some(line.mics));
        }
    });
}

fn columns(row: Rect) -> [Rect; 2] {
    let cost = row.with_min_x((row.right() - NUMBER - 6.0).max(row.left())).with_max_x(row.right() - 6.0);
    let delay = row.with_min_x((cost.left() - NUMBER).max(row.left())).with_max_x(cost.left());
    [delay, cost]
}

fn row_ui(
    screen: &mut Screen,
    ui: &Ui,
    scene: &Scene<'_>,
    line: &PairLine,
    index: usize,
    rect: Rect,
    selected: bool,
) {
    let theme = scene.theme;
    let painter = Painter::of(ui, theme);
    let session = &*scene.view.session;
    let said = super::advice(line, scene, screen.settings());
    let [first, second] = super::names(line, scene);
    let altered = line
        .mics
        .iter()
        .any(|mic| matches!(mic, Mic::Layer(id) if session.layer(*id).is_some_and(|layer| layer.altered)));
    let note = note(line, &said, altered);
    let response = ui.interact(rect, ui.scope_id().with(("pair", index, line.mics)), Sense::click());
    response.widget_info(|| {
        let name = format!("Pair {first} and {second}: {}", said.aloud("Mics"));
        WidgetInfo::selected(accesskit::Role::Button, true, selected, name)
    });
    if selected || response.hovered() {
        painter.fill(rect, if selected { theme.button } else { theme.plot });
    }
    if selected {
        painter.fill(rect.with_max_x(rect.left() + 2.0), theme.plumb);
    }
    if response.has_focus() {
        let ring = Stroke::new(stroke::HAIR, theme.plumb);
        painter.egui.rect_stroke(rect.shrink(0.5), 2.0, ring, egui::StrokeKind::Inside);
    }
    if response.clicked() {
        screen.mics.selected = Some(line.mics);
    }
    let [delay, cost] = columns(rect);
    let (upper, lower) = (rect.top() + 11.0, rect.top() + 26.0);
    painter.state(pos2(rect.left() + 10.0, upper), 10.0, said.state);
    let left = rect.left() + 20.0;
    let room = (delay.left() - left - 4.0).max(0.0);
    names_in(&painter, pos2(left, upper), room, [&first, &second]);
    let ink = if said.state == words::State::Fault { theme.fault_text } else { theme.muted };
    let room = (rect.right() - 6.0 - left).max(0.0);
    let galley = crate::header::fitted_in(&painter, &note, size::AXIS, room, ink);
    painter.put(pos2(left, lower), Align2::LEFT_CENTER, galley);
    let agreed = line.reading.outcome.ok();
    for (cell, text) in [
        (delay, figures::signed(agreed.map(|a| a.delay_secs * 1e3), 2)),
        (cost, figures::plain(line.cost_db, 1)),
    ] {
        painter.text(pos2(cell.right(), upper), Align2::RIGHT_CENTER, text, size::SMALL, theme.text);
    }
    response.on_hover_text(said.sentence);
}

/// Both names in the room there is: each has half of it, and what the other leaves.
fn names_in(painter: &Painter, at: egui::Pos2, room: f32, names: [&str; 2]) {
    let theme = painter.theme;
    let dash = painter.line("  –  ", size::SMALL, theme.muted);
    let room = (room - dash.size().x).max(0.0);
    let whole = names.map(|name| crate::header::fitted(painter, name, size::SMALL, room).size().x);
    let first = (room - whole[1]).max(room / 2.0);
    let first = crate::header::fitted(painter, names[0], size::SMALL, first);
    let second = crate::header::fitted(painter, names[1], size::SMALL, room - first.size().x);
    let first = painter.put(at, Align2::LEFT_CENTER, first);
    let dash = painter.put(pos2(first.right(), at.y), Align2::LEFT_CENTER, dash);
    painter.put(pos2(dash.right(), at.y), Align2::LEFT_CENTER, second);
}

/// The verdict in a few words, and what stands beside it.
fn note(line: &PairLine, said: &words::Said, altered: bool) -> String {
    let mut note = said.head.clone();
    if said.head != DASH && said.state == words::State::Fault {
        note = said.short.clone();
    }
    if line.quiet_secs >= 1.0 && line.quiet_secs.is_finite() {
        note =
            format!("{note}  ·  as of {} ago", figures::unit(figures::plain(Some(line.quiet_secs), 0), "s"));
    }
    if altered {
        note = format!("{note}  ·  altered by a trial");
    }
    note
}
