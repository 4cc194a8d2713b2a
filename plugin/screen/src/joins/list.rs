//! The list of joins: a picture, what jumps, and how long it takes, in rows of two lines.

use super::before_after;
use super::entries::Entry;
use super::state::JoinsState;
use crate::frame_data::Scene;
use crate::intent::Intent;
use crate::page_state::Shared;
use crate::painter::Painter;
use crate::settings::Settings;
use crate::table::{self, HEADS, Rows};
use crate::tokens::{size, space};
use crate::{role_marks, time_label};
use egui::{Align2, Rangef, Rect, Ui, pos2, vec2};
use plumbline_programme::{Command, Join, Role};
use plumbline_report::figures;
use plumbline_report::words;

const ROW: f32 = 42.0;
/// The heads after the picture, with widths and tooltips. Numbers are right-aligned.
const COLUMNS: [(&str, f32, &str); 6] = [
    ("Time", 86.0, "Where the new passage begins: SMPTE ST 12-1 timecode, exact to the frame in song time."),
    (
        "Size",
        42.0,
        "The largest of the changes, each in its own step: 6 LU, 3 dB per octave, or 30 points of width or of a \
         share (common practice, no source).",
    ),
    ("Δ LU", 50.0, "Change of K-weighted loudness (ITU-R BS.1770-5), LU: 2 s after minus 2 s before."),
    (
        "Δ dB/oct",
        58.0,
        "Change of tone, dB per octave: slope of a straight line through the levels of the thirds, after minus before.",
    ),
    ("Δ width", 56.0, "Change of the side share S/(M+S), percentage points: after minus before."),
    (
        "Takes",
        48.0,
        "How long the transition takes, seconds: from 10 % to 90 % of the change in level and tone.",
    ),
];

/// The areas of the picture and of the columns.
fn cells(row: Rect) -> (Rect, [Rangef; 6]) {
    let fixed: f32 = COLUMNS.iter().map(|column| column.1).sum();
    // Clear of the scroll bar.
    let room = row.width() - 5.0 * space::NEAR;
    let wide = (room - fixed).clamp(0.0, 150.0);
    let left = (row.left() + 2.0 * space::NEAR).min(row.right());
    let shot = Rect::from_min_max(
        pos2(left, row.top() + 3.0),
        pos2((left + wide).min(row.right()), (row.bottom() - 3.0).max(row.top() + 3.0)),
    );
    // Spare room goes between the columns.
    let spread = ((room - fixed - wide) / 6.0).max(0.0);
    let mut x = shot.right() + space::NEAR;
    let columns = COLUMNS.map(|(_, width, _)| {
        let from = x.min(row.right());
        x += width + spread;
        Rangef::new(from, x.clamp(from, row.right()))
    });
    (shot, columns)
}

pub(super) fn list_ui(
    shared: &mut Shared,
    state: &mut JoinsState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    entries: &[Entry<'_>],
    rect: Rect,
) {
    painter.block(rect, scene.theme.panel);
    let inside = rect.shrink2(vec2(space::NEAR, 1.0));
    if inside.width() < 120.0 || inside.height() < HEADS + ROW {
        return;
    }
    let heads = inside.with_max_y(inside.top() + HEADS);
    heads_ui(ui, painter, heads);
    let shown = state.shown(entries).map(Entry::id);
    let at = entries.iter().position(|entry| Some(entry.id()) == shown);
    let seek = at.filter(|_| std::mem::take(&mut state.seek));
    let rows = Rows { salt: "joins", height: ROW, count: entries.len(), seek };
    rows.ui(ui, inside.with_min_y(heads.bottom()), |ui, at, row| {
        let entry = &entries[at];
        if row_ui(&shared.settings, ui, scene, entry, (at, shown == Some(entry.id())), row) {
            state.selected = Some(entry.id());
            shared.intents.push(Intent::Command(Command::Rewind(Some(entry.moment()))));
        }
    });
}

fn heads_ui(ui: &Ui, painter: &Painter, rect: Rect) {
    let (_, columns) = cells(rect);
    for (at, ((name, _, tip), x)) in COLUMNS.into_iter().zip(columns).enumerate() {
        let cell = Rect::from_x_y_ranges(x, rect.y_range());
        let (from, anchor) = match at {
            0 => (cell.left_center(), Align2::LEFT_CENTER),
            _ => (cell.right_center(), Align2::RIGHT_CENTER),
        };
        painter.text_if_fits(from, anchor, name, size::AXIS, painter.theme.muted, cell.width());
        table::head(ui, cell, name, tip);
    }
}

/// The second line: marked or found, and the shares that changed.
fn under(row: &Entry<'_>) -> String {
    let join = match row {
        Entry::Mark(_) => return "marked; nothing to compare yet".to_owned(),
        Entry::Join(join, _) => join,
    };
    let what = match (join.marked, join.found) {
        (true, true) => "marked, found",
        (true, false) => "marked",
        (false, _) => "found",
    };
    let shares = share_changes(join);
    if shares.is_empty() { what.to_owned() } else { format!("{what}  ·  {}", shares.join("  ")) }
}

/// Changes of shares in percentage points: "Natural −48".
pub(super) fn share_changes(join: &Join) -> Vec<String> {
    join.roles()
        .filter_map(|(part, role)| {
            let change = join.share(part).filter(|change| change.is_finite())?;
            let change = figures::signed(Some(change * 100.0), 0);
            (change != "0").then(|| format!("{} {change}", role.name()))
        })
        .collect()
}

/// Paints a row; returns whether it was clicked.
fn row_ui(
    settings: &Settings,
    ui: &Ui,
    scene: &Scene<'_>,
    row: &Entry<'_>,
    (at, selected): (usize, bool),
    rect: Rect,
) -> bool {
    let theme = scene.theme;
    let painter = Painter::of(ui, theme);
    let texts = numbers(settings, scene, row);
    let under = under(row);
    let name = || aloud(row, &texts, &under);
    let response = table::selectable(&painter, ui, rect, ("join", at), selected, name);
    let (shot, columns) = cells(rect);
    if let Entry::Join(join, _) = row {
        before_after::small(&painter, shot, join);
    }
    let (upper, lower) = (rect.top() + 12.0, rect.top() + 29.0);
    for (at, (text, x)) in texts.iter().zip(columns).enumerate() {
        if at == 0 {
            painter.put(
                pos2(x.min, upper),
                Align2::LEFT_CENTER,
                painter.fitted_in(text, size::SMALL, x.span(), theme.text),
            );
        } else {
            let ink = if at == 1 { theme.text } else { theme.muted };
            painter.text_if_fits(pos2(x.max, upper), Align2::RIGHT_CENTER, text, size::SMALL, ink, x.span());
        }
    }
    // A triangle marks a mark.
    let mut left = columns[0].min;
    if row.mark().is_some() {
        painter.triangle(pos2(left + 4.0, lower + 4.0), 8.0, false, theme.text);
        left += 13.0;
    }
    let room = (rect.right() - left - space::NEAR).max(0.0);
    painter.put(
        pos2(left, lower),
        Align2::LEFT_CENTER,
        painter.fitted_in(&under, size::AXIS, room, theme.muted),
    );
    painter.hairline(pos2(rect.left() + space::NEAR, rect.bottom()), rect.right_bottom(), theme.grid);
    let clicked = response.clicked();
    response.on_hover_ui(|ui| {
        ui.label(said(row));
        ui.weak("Click or press Enter to see where the new passage begins.");
    });
    clicked
}

/// A row as a sentence.
pub(super) fn said(row: &Entry<'_>) -> String {
    match row {
        Entry::Join(join, _) => format!("{}.", words::capital(&words::join(join))),
        Entry::Mark(_) => {
            "A mark: a passage begins here. Both sides must be heard before they are compared.".to_owned()
        }
    }
}

fn numbers(settings: &Settings, scene: &Scene<'_>, row: &Entry<'_>) -> [String; 6] {
    match row {
        Entry::Mark(mark) => {
            let dash = || figures::DASH.to_owned();
            let at = time_label::tenth(scene.view, settings, mark.grid, mark.index);
            [at, dash(), dash(), dash(), dash(), dash()]
        }
        Entry::Join(join, _) => [
            time_label::join(scene.view, settings, join),
            figures::plain(Some(join.size()), 1),
            figures::signed(join.loudness_lu(), 1),
            figures::signed(join.tone(), 1),
            figures::signed(join.width().map(|change| change * 100.0), 0),
            figures::unit(figures::plain(join.takes_secs, 1), "s"),
        ],
    }
}

/// Accessible text of a row.
fn aloud(row: &Entry<'_>, [at, size, loudness, tone, width, takes]: &[String; 6], under: &str) -> String {
    match row {
        Entry::Mark(_) => format!("Mark at {at}: {}", said(row)),
        Entry::Join(..) => format!(
            "Join at {at}, size {size}: loudness {loudness} LU, tone {tone} dB per octave, width {width} points, takes \
             {takes}, {under}"
        ),
    }
}

/// The roles of a join with their marks, for the legend of its bars.
pub(super) fn legend(
    painter: &Painter,
    mut at: egui::Pos2,
    right: f32,
    roles: impl Iterator<Item = (usize, Role)>,
) {
    for (_, role) in roles {
        let name = painter.line(role.name(), size::AXIS, painter.theme.muted);
        if at.x + 12.0 + name.size().x > right {
            return;
        }
        role_marks::mark(painter, pos2(at.x + 4.0, at.y), 8.0, role, painter.theme.role(role));
        at.x = painter.put(pos2(at.x + 12.0, at.y), Align2::LEFT_CENTER, name).right() + space::INSET;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn picture_and_columns_stand_side_by_side_in_any_row() {
        let mut ran = 0;
        for width in (0_u16..1_500).step_by(29) {
            let row = Rect::from_min_size(pos2(7.0, 3.0), vec2(f32::from(width), ROW));
            let (shot, columns) = cells(row);
            assert!(row.contains_rect(shot), "{width}: {shot:?}");
            let mut from = shot.right();
            for x in columns {
                assert!(
                    x.min >= from && x.span() >= 0.0 && x.max <= row.right() + 0.01,
                    "{width}: {columns:?}"
                );
                from = x.max;
            }
            ran += 1;
        }
        assert_eq!(ran, 52);
    }

    #[test]
    fn shares_that_changed_are_named_and_absent_ones_are_not() {
        let mut join = Join { found: true, ..Join::default() };
        assert_eq!(under(&Entry::Join(&join, None)), "found");
        join.before.shares = [Some(0.7), Some(0.3), None, None, Some(f64::NAN)];
        join.after.shares = [Some(0.5), Some(0.3), Some(0.2), None, Some(0.1)];
        join.marked = true;
        assert_eq!(under(&Entry::Join(&join, None)), "marked, found  ·  Natural −20");
    }
}
