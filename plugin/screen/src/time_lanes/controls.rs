//! Length of the time lanes, return to now, and the readings under the pointer.

use super::state::TimeState;
use super::viewport::{Length, Viewport};
use crate::frame_data::Scene;
use crate::page_state::Shared;
use crate::painter::Painter;
use crate::settings::{LaneSpan, Settings};
use crate::time_label;
use crate::tokens::{size, space};
use crate::widgets;
use crate::widgets::choice;
use egui::{Align2, Rect, Ui, pos2};
use plumbline_programme::{Role, View};
use plumbline_report::figures;

const HINT: &str = "Click to view a moment. Wheel zooms, Shift+wheel moves.";

/// The row of choices, with the readings under the pointer at the right.
pub(super) fn controls_ui(
    shared: &mut Shared,
    state: &mut TimeState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
    pointed: Option<i64>,
) {
    let mut row = widgets::row(ui, "time tools", rect);
    row.spacing_mut().item_spacing.x = 1.0;
    row.spacing_mut().button_padding.y = 0.0;
    for reach in LaneSpan::ALL {
        let chosen = state.viewport.length == Length::Chosen && shared.settings.reach == reach;
        let name = format!("Time lanes {}", reach.name());
        if choice(&mut row, chosen, reach.name(), &name, tip(reach)).clicked() {
            choose(shared, state, reach, scene.view);
        }
    }
    row.add_space(space::GAP);
    now_ui(shared, state, &mut row, scene.view);
    let left = row.min_rect().right() + space::GAP * 1.5;
    let room = rect.right() - left;
    let at = pos2(rect.right(), rect.center().y);
    let theme = scene.theme;
    match pointed {
        Some(tenth) => {
            let texts = reading(scene.view, &shared.settings, tenth);
            for text in texts {
                if painter.text_if_fits(at, Align2::RIGHT_CENTER, text, size::SMALL, theme.text, room) {
                    break;
                }
            }
        }
        None => {
            painter.text_if_fits(at, Align2::RIGHT_CENTER, HINT, size::SMALL, theme.muted, room);
        }
    }
}

/// The gutter of the short form: the lengths as one button that steps through them, and the return to now.
pub(super) fn small_controls_ui(
    shared: &mut Shared,
    state: &mut TimeState,
    ui: &mut Ui,
    view: &View,
    rect: Rect,
) {
    if rect.height() < 14.0 {
        return;
    }
    let mut row = widgets::row(ui, "time tools", rect);
    row.spacing_mut().item_spacing.x = 1.0;
    row.spacing_mut().button_padding = egui::vec2(3.0, 0.0);
    row.spacing_mut().interact_size.y = rect.height().min(18.0);
    let reach = shared.settings.reach;
    let label = match state.viewport.length {
        Length::Chosen => reach.name(),
        Length::Tenths(_) => "zoomed",
        Length::Whole => LaneSpan::Whole.name(),
    };
    let tip = "Time shown: 30 s, 2 min, 10 min, or everything heard. Click for the next.";
    if choice(&mut row, false, label, &format!("Time lanes, length {label}"), tip).clicked() {
        let next = LaneSpan::ALL
            .iter()
            .position(|other| *other == reach)
            .map_or(0, |at| (at + 1) % LaneSpan::ALL.len());
        let next = if state.viewport.length == Length::Chosen { LaneSpan::ALL[next] } else { reach };
        choose(shared, state, next, view);
    }
    now_ui(shared, state, &mut row, view);
}

fn choose(shared: &mut Shared, state: &mut TimeState, reach: LaneSpan, view: &View) {
    shared.settings.reach = reach;
    // A past moment stays in view; otherwise the lanes follow the newest.
    state.viewport = Viewport { length: Length::Chosen, ..state.viewport };
    state.viewport.pan(0.0, reach.tenths(), &view.lanes);
}

fn now_ui(shared: &mut Shared, state: &mut TimeState, row: &mut Ui, view: &View) {
    let follows = state.viewport.follows(shared.settings.reach.tenths(), &view.lanes);
    let now = view.past.is_none() && follows;
    let tip = "Returns to the present and follows it (End)";
    if choice(row, now, "Now", "Now", tip).clicked() {
        state.return_to_now(view, &mut shared.intents);
    }
}

fn tip(reach: LaneSpan) -> &'static str {
    match reach {
        LaneSpan::HalfMinute => "Shows 30 seconds. Z and X, or the wheel, show less or more.",
        LaneSpan::TwoMinutes => "Shows 2 minutes. Z and X, or the wheel, show less or more.",
        LaneSpan::TenMinutes => "Shows 10 minutes. Z and X, or the wheel, show less or more.",
        LaneSpan::Whole => "Shows everything heard on this clock, gaps included",
    }
}

/// "Lowest to highest", or one value if both round to the same number.
fn reach(reach: plumbline_programme::MinMax, places: usize, factor: f64) -> String {
    let [low, high] = [reach.low, reach.high].map(|v| figures::plain(v.get().map(|v| v * factor), places));
    if low == high { low } else { format!("{low} to {high}") }
}

/// The readings at a tenth in words, the longest first.
pub(super) fn reading(view: &View, settings: &Settings, tenth: i64) -> [String; 3] {
    let lanes = &view.lanes;
    let at = time_label::tenth_at_usual_rate(view, settings, lanes.grid, tenth);
    let Some(column) = lanes.column_at(tenth).filter(|column| column.tenths > 0) else {
        let text = format!("{at}   not heard");
        return [text.clone(), text, at];
    };
    let loudness = figures::unit(reach(column.short_term, 1, 1.0), "LUFS");
    let width = figures::unit(reach(column.width, 0, 100.0), "%");
    let correlation = figures::signed(column.correlation.get(), 2);
    let short = format!("{at}   {loudness}   width {width}   corr. {correlation}");
    let mut long = short.clone();
    for (share, role) in column.shares.into_iter().zip(Role::PARTS) {
        if let Some(share) = share.get().filter(|share| *share >= 0.005) {
            long += &format!("   {} {}", role.name(), figures::percent(Some(share)));
        }
    }
    if column.broken > 0 {
        long += "   audio lost";
    }
    [long, short, format!("{at}   {loudness}")]
}
