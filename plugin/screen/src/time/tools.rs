//! How much time is shown, the way back to now, and what is read under the pointer.

use super::axis::TimeAxis;
use super::wish::{Length, Wish};
use crate::controls::choice;
use crate::painter::Painter;
use crate::screen::{Scene, Screen};
use crate::settings::{MinMax, Settings};
use crate::tokens::{size, space};
use egui::{Align, Align2, Layout, Rect, Ui, UiBuilder, pos2};
use plumbline_programme::{Column, Lanes, Role, View};
use plumbline_report::figures;

const HINT: &str = "Click brings a moment back. Wheel zooms, Shift and wheel moves.";

/// The row of choices; the rest of it tells what lies under the pointer.
pub(super) fn tools_ui(
    screen: &mut Screen,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
    pointed: Option<i64>,
) {
    let builder =
        UiBuilder::new().id_salt("time tools").max_rect(rect).layout(Layout::left_to_right(Align::Center));
    let mut row = ui.new_child(builder);
    row.spacing_mut().item_spacing.x = 1.0;
    row.spacing_mut().button_padding.y = 0.0;
    for reach in MinMax::ALL {
        let chosen = screen.time.wish.length == Length::Chosen && screen.settings.reach == reach;
        let name = format!("Time lanes {}", reach.name());
        if choice(&mut row, chosen, reach.name(), &name, tip(reach)).clicked() {
            choose(screen, reach, scene.view);
        }
    }
    row.add_space(space::GAP);
    now_ui(screen, &mut row, scene.view);
    let left = row.min_rect().right() + space::GAP * 1.5;
    let room = rect.right() - left;
    let at = pos2(rect.right(), rect.center().y);
    let theme = scene.theme;
    match pointed {
        Some(tenth) => {
            let texts = reading(scene.view, screen.settings(), tenth);
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

/// The choices as one button that goes round, for the gutter of the short form; beside it the way back to now.
pub(super) fn small_tools_ui(screen: &mut Screen, ui: &mut Ui, scene: &Scene<'_>, rect: Rect) {
    if rect.height() < 14.0 {
        return;
    }
    let builder =
        UiBuilder::new().id_salt("time tools").max_rect(rect).layout(Layout::left_to_right(Align::Center));
    let mut row = ui.new_child(builder);
    row.spacing_mut().item_spacing.x = 1.0;
    row.spacing_mut().button_padding = egui::vec2(3.0, 0.0);
    row.spacing_mut().interact_size.y = rect.height().min(18.0);
    let reach = screen.settings.reach;
    let label = match screen.time.wish.length {
        Length::Chosen => reach.name(),
        Length::Tenths(_) => "zoomed",
        Length::Whole => MinMax::Whole.name(),
    };
    let tip = "How much time is shown: 30 s, 2 min, 10 min, all that was heard. Goes round.";
    if choice(&mut row, false, label, &format!("Time lanes, length {label}"), tip).clicked() {
        let next =
            MinMax::ALL.iter().position(|other| *other == reach).map_or(0, |at| (at + 1) % MinMax::ALL.len());
        let next = if screen.time.wish.length == Length::Chosen { MinMax::ALL[next] } else { reach };
        choose(screen, next, scene.view);
    }
    now_ui(screen, &mut row, scene.view);
}

fn choose(screen: &mut Screen, reach: MinMax, view: &View) {
    screen.settings.reach = reach;
    // A moment that is looked at stays in view; else the newest.
    screen.time.wish = Wish { length: Length::Chosen, ..screen.time.wish };
    screen.time.wish.pan(0.0, reach.tenths(), &view.lanes);
}

fn now_ui(screen: &mut Screen, row: &mut Ui, view: &View) {
    let follows = screen.time.wish.follows(screen.settings.reach.tenths(), &view.lanes);
    let now = view.past.is_none() && follows;
    let tip = "Follows the newest moment, and shows what is now (End)";
    if choice(row, now, "Now", "Now", tip).clicked() {
        screen.return_to_now(view);
    }
}

fn tip(reach: MinMax) -> &'static str {
    match reach {
        MinMax::HalfMinute => "Shows 30 seconds. Z and X, or the wheel, show less or more.",
        MinMax::TwoMinutes => "Shows 2 minutes. Z and X, or the wheel, show less or more.",
        MinMax::TenMinutes => "Shows 10 minutes. Z and X, or the wheel, show less or more.",
        MinMax::Whole => "Shows all that was heard on this clock, gaps included",
    }
}

/// The column that holds a tenth.
pub(super) fn column_at(lanes: &Lanes, tenth: i64) -> Option<&Column> {
    let after = i128::from(tenth) - i128::from(lanes.first);
    let at = after.div_euclid(i128::from(lanes.per_column.max(1)));
    lanes.columns.get(usize::try_from(at).ok()?)
}

/// Lowest to highest, or one value where they round to the same.
fn reach(reach: plumbline_programme::MinMax, places: usize, factor: f64) -> String {
    let [low, high] = [reach.low, reach.high].map(|v| figures::plain(v.get().map(|v| v * factor), places));
    if low == high { low } else { format!("{low} to {high}") }
}

/// What lies at a tenth in words, the longest first.
pub(super) fn reading(view: &View, settings: &Settings, tenth: i64) -> [String; 3] {
    let lanes = &view.lanes;
    let at = super::place(view, settings, lanes.grid, tenth);
    let Some(column) = column_at(lanes, tenth).filter(|column| column.tenths > 0) else {
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

/// The tenth to rewind to when a place is pointed at: itself where it was heard, else the last heard before it.
pub(super) fn heard(lanes: &Lanes, axis: TimeAxis, tenth: i64) -> Option<i64> {
    let [first, end] = lanes.extent;
    let per = i64::from(lanes.per_column.max(1));
    let tenth = tenth.clamp(axis.left, axis.right.saturating_sub(1).max(axis.left));
    let tenth = tenth.min(end.saturating_sub(1));
    if tenth < first {
        return None;
    }
    let at = (i128::from(tenth) - i128::from(lanes.first)).div_euclid(i128::from(per));
    let at = usize::try_from(at).ok()?;
    let before = (0..=at.min(lanes.columns.len().checked_sub(1)?)).rev();
    let found = before.into_iter().find(|&i| lanes.columns[i].tenths > 0)?;
    if found == at {
        return Some(tenth);
    }
    let end = lanes.first.saturating_add(per.saturating_mul(i64::try_from(found).ok()?.saturating_add(1)));
    Some(end.saturating_sub(1).max(first))
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::Rangef;

    #[test]
    fn a_place_that_was_not_heard_means_the_last_that_was() {
        let heard_column = Column { tenths: 5, ..Column::default() };
        let columns = vec![heard_column, heard_column, Column::default(), Column::default(), heard_column];
        let lanes = Lanes {
            first: 100,
            per_column: 5,
            left: 100,
            right: 125,
            columns,
            extent: [100, 125],
            ..Lanes::default()
        };
        let axis = TimeAxis::of(&lanes, Rangef::new(0.0, 250.0));
        for (pointed, found) in
            [(100, 100), (103, 103), (109, 109), (110, 109), (117, 109), (120, 120), (900, 124)]
        {
            assert_eq!(heard(&lanes, axis, pointed), Some(found), "pointed at {pointed}");
        }
        assert_eq!(heard(&Lanes { extent: [111, 125], ..lanes.clone() }, axis, 105), None);
        assert_eq!(heard(&Lanes::default(), axis, 105), None);
    }
}
