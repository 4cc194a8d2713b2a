//! Says on every page that what is shown has passed.

use crate::painter::Painter;
use crate::screen::{Page, Scene, Screen};
use crate::settings::Settings;
use crate::tokens::{size, space, stroke};
use crate::words::State;
use egui::{Align, Align2, Layout, Rect, Ui, UiBuilder, pos2};
use plumbline_programme::{Past, View};
use plumbline_report::words;

/// What is shown, in words: as much as may be said, and the same in short.
fn said(past: &Past, view: &View, settings: &Settings, page: Page) -> [String; 2] {
    let at = super::place(view, settings, past.at.grid, past.at.index);
    let head = match ago(past, view) {
        Some(ago) => format!("The past: {at}, {ago}."),
        None => format!("The past: {at}."),
    };
    let mut long = head.clone();
    let mut short = head;
    if past.absent {
        long += " Nothing is kept of it: nothing was heard there, or more than an hour of sound ago.";
        short += " Nothing is kept of it.";
    } else if past.rebuilt {
        long += " Nobody looked then: made again from tenths, without spectrum lines, peak hold and scope.";
        short += " Rebuilt: no lines, no scope.";
    }
    if page == Page::Mics {
        long += " Pairs are of now.";
        short += " Pairs are of now.";
    }
    [long, short]
}

/// How far the moment lies from the newest tenth, where both count on one clock.
fn ago(past: &Past, view: &View) -> Option<String> {
    let newest = past.newest.get().or_else(|| {
        #[expect(clippy::cast_precision_loss, reason = "exact for months")]
        (view.lanes.grid == past.at.grid && !view.lanes.columns.is_empty())
            .then_some(view.lanes.newest as f64)
    });
    #[expect(clippy::cast_precision_loss, reason = "exact for months")]
    let tenths = newest? - past.at.index as f64;
    if !tenths.is_finite() {
        return None;
    }
    let length = words::length(tenths.abs() / 10.0);
    Some(if tenths < 0.0 { format!("{length} ahead of the newest") } else { format!("{length} ago") })
}

pub(crate) fn banner_ui(screen: &mut Screen, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let Some(past) = scene.view.past else { return };
    let theme = scene.theme;
    painter.block(rect, theme.panel);
    let edge = egui::Stroke::new(stroke::MARK, theme.plumb);
    painter.egui.rect_stroke(rect, space::ROUND, edge, egui::StrokeKind::Inside);
    let builder = UiBuilder::new()
        .id_salt("past")
        .max_rect(rect.shrink2(egui::vec2(space::INSET, 2.0)))
        .layout(Layout::right_to_left(Align::Center));
    let mut row = ui.new_child(builder);
    // Clear of the frame.
    row.spacing_mut().interact_size.y = rect.height() - 6.0;
    row.spacing_mut().button_padding.y = 0.0;
    let now =
        row.button("Now").on_hover_text("Shows what is now again; measuring went on meanwhile (Esc, End)");
    let right = now.rect.left() - space::GAP;
    if now.accessible_name("Return to now").clicked() {
        screen.return_to_now(scene.view);
    }
    painter.state(pos2(rect.left() + 14.0, rect.center().y), 13.0, State::Note);
    let left = rect.left() + 28.0;
    let [long, short] = said(&past, scene.view, screen.settings(), screen.page());
    let room = (right - left).max(0.0);
    let mut galley = painter.line(&long, size::BODY, theme.text);
    if galley.size().x > room {
        galley = crate::header::fitted_in(painter, &short, size::BODY, room, theme.text);
    }
    painter.put(pos2(left, rect.center().y), Align2::LEFT_CENTER, galley);
    crate::painter::name_only(ui, rect.with_max_x(right.max(rect.left())), "past words", || long.clone())
        .on_hover_text(&long);
}
