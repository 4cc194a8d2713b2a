//! The table of pairs, the costliest first.

use super::state::{MicsState, advice};
use crate::frame_data::Scene;
use crate::painter::Painter;
use crate::settings::Settings;
use crate::table::{self, HEADS, Rows};
use crate::tokens::{size, space};
use crate::words;
use egui::{Align2, Rect, Ui, pos2, vec2};
use plumbline_programme::{Mic, PairLine};
use plumbline_report::figures::{self, DASH};

const ROW: f32 = 36.0;
/// Width of a column of numbers.
const NUMBER: f32 = 58.0;
const DELAY_TIP: &str = "How much later the second picks up the same sound, ms: generalised cross-correlation with \
                         phase transform (Knapp, Carter 1976) over windows of 2 s, voted over 10 s";
const COST_TIP: &str = "How much louder the sum of everything compared would be with this pair repaired, dB. For \
                        left and right: their mono sum";

pub(super) fn list_ui(
    settings: &Settings,
    state: &mut MicsState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
) {
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
        table::head(ui, cell, name, tip);
    }
    let lines = &scene.view.mics.lines;
    let shown = state.shown(&scene.view.mics).map(|line| line.mics);
    let at = lines.iter().position(|line| Some(line.mics) == shown);
    let seek = at.filter(|_| std::mem::take(&mut state.seek));
    let rows = Rows { salt: "pairs", height: ROW, count: lines.len(), seek };
    rows.ui(ui, inside.with_min_y(heads.bottom()), |ui, at, row| {
        let line = &lines[at];
        if row_ui(settings, ui, scene, line, at, row, shown == Some(line.mics)) {
            state.selected = Some(line.mics);
        }
    });
}

fn columns(row: Rect) -> [Rect; 2] {
    let cost = row.with_min_x((row.right() - NUMBER - 6.0).max(row.left())).with_max_x(row.right() - 6.0);
    let delay = row.with_min_x((cost.left() - NUMBER).max(row.left())).with_max_x(cost.left());
    [delay, cost]
}

/// Paints a row; returns whether it was clicked.
fn row_ui(
    settings: &Settings,
    ui: &Ui,
    scene: &Scene<'_>,
    line: &PairLine,
    at: usize,
    rect: Rect,
    selected: bool,
) -> bool {
    let theme = scene.theme;
    let painter = Painter::of(ui, theme);
    let session = &*scene.view.session;
    let said = advice(line, session, settings);
    let [first, second] = line.mics.map(|mic| words::mic_name(mic, session));
    let altered = line
        .mics
        .iter()
        .any(|mic| matches!(mic, Mic::Layer(id) if session.layer(*id).is_some_and(|layer| layer.altered)));
    let note = note(line, &said, altered);
    let name = || format!("Pair {first} and {second}: {}", said.aloud("Mics"));
    let response = table::selectable(&painter, ui, rect, ("pair", at, line.mics), selected, name);
    let [delay, cost] = columns(rect);
    let (upper, lower) = (rect.top() + 11.0, rect.top() + 26.0);
    painter.state(pos2(rect.left() + 10.0, upper), 10.0, said.state);
    let left = rect.left() + 20.0;
    let room = (delay.left() - left - 4.0).max(0.0);
    names_in(&painter, pos2(left, upper), room, [&first, &second]);
    let ink = if said.state == words::State::Fault { theme.fault_text } else { theme.muted };
    let room = (rect.right() - 6.0 - left).max(0.0);
    let galley = painter.fitted_in(&note, size::AXIS, room, ink);
    painter.put(pos2(left, lower), Align2::LEFT_CENTER, galley);
    let agreed = line.reading.outcome.ok();
    for (cell, text) in [
        (delay, figures::signed(agreed.map(|a| a.delay_secs * 1e3), 2)),
        (cost, figures::plain(line.cost_db, 1)),
    ] {
        painter.text(pos2(cell.right(), upper), Align2::RIGHT_CENTER, text, size::SMALL, theme.text);
    }
    let clicked = response.clicked();
    response.on_hover_text(said.sentence);
    clicked
}

/// Both names: each gets half the width, plus any part of its half that the other does not need.
fn names_in(painter: &Painter, at: egui::Pos2, room: f32, names: [&str; 2]) {
    let theme = painter.theme;
    let dash = painter.line("  –  ", size::SMALL, theme.muted);
    let room = (room - dash.size().x).max(0.0);
    let whole = names.map(|name| painter.fitted(name, size::SMALL, room).size().x);
    let first = (room - whole[1]).max(room / 2.0);
    let first = painter.fitted(names[0], size::SMALL, first);
    let second = painter.fitted(names[1], size::SMALL, room - first.size().x);
    let first = painter.put(at, Align2::LEFT_CENTER, first);
    let dash = painter.put(pos2(first.right(), at.y), Align2::LEFT_CENTER, dash);
    painter.put(pos2(dash.right(), at.y), Align2::LEFT_CENTER, second);
}

/// The verdict in a few words, with age and trial.
fn note(line: &PairLine, said: &words::VerdictText, altered: bool) -> String {
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
