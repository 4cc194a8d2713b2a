//! The advice on the selected pair, and its buttons.

use super::state::{MicsState, advice};
use super::trial;
use crate::frame_data::Scene;
use crate::page_state::Shared;
use crate::painter::{Painter, named_area};
use crate::tokens::{size, space};
use crate::widgets;
use crate::words::{State, mic_name};
use egui::{Align2, Rect, Ui, pos2, vec2};
use plumbline_programme::PairLine;
use plumbline_report::figures;
use std::time::Duration;

const TIP: &str = "Delay by generalised cross-correlation with phase transform (Knapp, Carter 1976), windows of 2 s, \
                   voted over 10 s. Metres use the speed of sound at the air temperature in the settings (ISO \
                   9613-1). The gain of the blend is measured per third (IEC 61260-1). ± is one standard deviation. \
                   Check a move by ear, at a moderate level.";
/// How long the button says "Copied", in seconds.
const COPIED_SECS: f64 = 2.0;

pub(super) fn advice_ui(
    shared: &mut Shared,
    state: &mut MicsState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    line: &PairLine,
    rect: Rect,
) {
    let theme = scene.theme;
    let said = advice(line, &scene.view.session, &shared.settings);
    let fault = said.state == State::Fault;
    painter.block(rect, if fault { theme.panel_fault } else { theme.panel });
    let mut inside = rect.shrink2(vec2(space::INSET + 2.0, space::NEAR + 1.0));
    if inside.width() < 120.0 || inside.height() < 60.0 {
        return;
    }
    let trial_h = if scene.view.trial.is_some() { space::BUTTON + space::NEAR } else { 0.0 };
    let buttons =
        inside.with_min_y(inside.bottom() - space::BUTTON - trial_h).with_max_y(inside.bottom() - trial_h);
    let values = inside.with_min_y(buttons.bottom() + space::NEAR);
    inside.max.y = buttons.top() - space::NEAR;

    let [first, second] = line.mics.map(|mic| mic_name(mic, &scene.view.session));
    let mark = 12.0;
    let y = inside.top() + 9.0;
    painter.state(pos2(inside.left() + mark / 2.0, y), mark, said.state);
    let figure = painter.text(
        pos2(inside.right(), y),
        Align2::RIGHT_CENTER,
        said.figure.clone(),
        size::BODY,
        if fault { theme.fault_text } else { theme.text },
    );
    let left = inside.left() + mark + space::INSET;
    let head = format!("{}:  {first}  –  {second}", said.head);
    let galley = painter.fitted(&head, size::BODY, (figure.left() - left - space::GAP).max(0.0));
    painter.put(pos2(left, y), Align2::LEFT_CENTER, galley);
    inside.min.y += 21.0;

    let details = details(line, state.kept.as_ref());
    let low = inside.with_min_y((inside.bottom() - space::LINE).max(inside.top()));
    let galley = painter.fitted_in(&details, size::SMALL, inside.width(), theme.muted);
    painter.put(low.left_center(), Align2::LEFT_CENTER, galley);
    inside.max.y = low.top() - 1.0;

    let room = vec2(inside.width(), inside.height());
    let wordings = [said.sentence.as_str(), said.short.as_str()];
    let sentence = painter
        .first_that_fits(&wordings[..1], size::BODY, theme.text, room)
        .or_else(|| painter.first_that_fits(&wordings[..1], size::SMALL, theme.text, room))
        .or_else(|| painter.first_that_fits(&wordings, size::AXIS, theme.text, room));
    if let Some(galley) = sentence {
        painter.put(inside.left_top(), Align2::LEFT_TOP, galley);
    }
    let place = rect.with_max_y(buttons.top());
    named_area(ui, place, "advice", || format!("{} {details}", said.aloud("Advice"))).on_hover_ui(|ui| {
        ui.label(&said.sentence);
        ui.label(egui::RichText::new(TIP).weak());
    });
    buttons_ui(shared, state, ui, scene, line, buttons);
    if scene.view.trial.is_some() && values.height() >= space::BUTTON - 1.0 {
        trial::values_ui(shared, ui, scene, values);
    }
}

/// Confidence, level and coherence; or the kept reading beside the present one.
fn details(line: &PairLine, kept: Option<&PairLine>) -> String {
    let ms = |line: &PairLine| {
        figures::unit(figures::signed(line.reading.outcome.ok().map(|a| a.delay_secs * 1e3), 2), "ms")
    };
    let won = |line: &PairLine| figures::db(line.cost_db);
    if let Some(kept) = kept.filter(|kept| kept.is_of(line.mics)) {
        return format!("Kept: {}, cost {}.  Now: {}, cost {}.", ms(kept), won(kept), ms(line), won(line));
    }
    let level = level(line.reading.level_db);
    let coherence = figures::plain(line.reading.coherence, 2);
    match line.reading.outcome {
        Ok(agreed) => format!(
            "confidence {}  ·  {} of {} windows  ·  coherence {coherence}  ·  {level}",
            figures::percent(Some(agreed.confidence)),
            agreed.windows[0],
            agreed.windows[1],
        ),
        Err(_) => format!("coherence {coherence}  ·  {level}"),
    }
}

/// Level of the second relative to the first, in words: "second 2.9 dB below first".
fn level(db: Option<f64>) -> String {
    let size = figures::plain(db.map(f64::abs), 1);
    match db.filter(|db| db.is_finite()) {
        None => "level unknown".to_owned(),
        Some(_) if size == "0.0" => "levels equal".to_owned(),
        Some(db) => {
            let way = if db < 0.0 { "below" } else { "above" };
            format!("second {} {way} first", figures::unit(size, "dB"))
        }
    }
}

fn buttons_ui(
    shared: &mut Shared,
    state: &mut MicsState,
    ui: &mut Ui,
    scene: &Scene<'_>,
    line: &PairLine,
    rect: Rect,
) {
    let mut row = widgets::row(ui, "advice buttons", rect);
    row.spacing_mut().item_spacing.x = space::NEAR;
    let now = row.input(|input| input.time);
    let copied = state.copied.is_some_and(|at| (0.0..COPIED_SECS).contains(&(now - at)));
    if copied {
        row.ctx().request_repaint_after(Duration::from_secs_f64(COPIED_SECS));
    }
    let label = if copied { "Copied" } else { "Copy" };
    let copy =
        row.button(label).on_hover_text("Copies the advice as text (C)").accessible_name("Copy the advice");
    if copy.clicked() {
        state.copy_advice(ui, scene.view, &shared.settings);
    }
    let kept = state.kept.as_ref().is_some_and(|kept| kept.is_of(line.mics));
    let (label, tip) = if kept {
        ("Clear kept", "Clears the kept reading (K)")
    } else {
        ("Keep", "Keeps this reading to compare after a move (K)")
    };
    if row.button(label).on_hover_text(tip).clicked() {
        state.keep_reading(&scene.view.mics);
    }
    row.add_space(space::GAP);
    trial::switch_ui(shared, &mut row, scene, line);
}
