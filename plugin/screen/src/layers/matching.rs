//! The match: what to change on one layer to give it the tone of another.

use super::spectrum::{axis, column};
use crate::cursor::tag;
use crate::frame_data::Scene;
use crate::intent::Intent;
use crate::mapping::{LABELLED_HZ, ValueAxis};
use crate::page_state::Shared;
use crate::painter::{Painter, named_area};
use crate::session_view::layer_combo;
use crate::tokens::{size, space, stroke};
use crate::widgets;
use crate::words;
use egui::{Align2, Rect, Ui, pos2};
use plumbline_measure::bands::{THIRD_LABELS, THIRDS, third_at};
use plumbline_programme::session::Match;
use plumbline_programme::{Command, LayerId, Session};
use plumbline_report::figures;

/// Half the length of the axis, dB.
const SPAN_DB: f64 = 12.0;
const TIP: &str = "What to change on the first layer to give it the tone of the second: difference of their thirds \
                   (IEC 61260-1) in dB over the tenths in which both play, their difference in level removed. The \
                   pale area is the spread over time, one standard deviation either way: where it is wide, no single \
                   equaliser setting can be right all the time.";

pub(super) fn match_ui(shared: &mut Shared, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let session = &*scene.view.session;
    if rect.height() < 60.0 || rect.width() < 120.0 {
        return;
    }
    painter.block(rect, scene.theme.panel);
    let (theme, matched) = (scene.theme, session.matched.as_ref());
    let mut inside = rect.shrink2(egui::vec2(space::INSET, space::NEAR));
    pair_ui(shared, ui, session, inside.with_max_y(inside.top() + space::BUTTON));
    inside.min.y += space::BUTTON + 2.0;
    let Some(matched) = matched else {
        let text = "Choose two layers that play at the same time.";
        painter.text(inside.left_top(), Align2::LEFT_TOP, text, size::SMALL, theme.muted);
        return;
    };
    let said = words::matched(matched, session);
    let sentence = format!("{}: {}.", said.title, said.moves);
    let short = format!("{}.", words::capital(&said.moves));
    let room = egui::vec2(inside.width(), if inside.height() < 120.0 { 16.0 } else { 32.0 });
    let wordings = [sentence.as_str(), short.as_str()];
    let shown = painter
        .first_that_fits(&wordings, size::SMALL, theme.text, room)
        .unwrap_or_else(|| painter.fitted(&short, size::SMALL, inside.width()));
    let height = shown.size().y;
    painter.put(inside.left_top(), Align2::LEFT_TOP, shown);
    let heading = inside.with_max_y(inside.top() + height);
    inside.min.y += height + 3.0;
    let behind = painter.fitted_in(&said.behind, size::AXIS, inside.width(), theme.muted);
    if inside.height() >= 66.0 {
        painter.put(inside.left_bottom(), Align2::LEFT_BOTTOM, behind);
        inside.max.y -= space::LINE;
    }
    named_area(ui, heading, "match", || format!("Match. {sentence} {}", said.behind)).on_hover_text(TIP);
    curve_ui(shared, ui, painter, matched, inside);
}

/// The choice of the two layers: which one is to sound like the other.
fn pair_ui(shared: &mut Shared, ui: &mut Ui, session: &Session, rect: Rect) {
    let mut row = widgets::row(ui, "pair", rect);
    row.spacing_mut().item_spacing.x = space::NEAR;
    let pair = session.matched.as_ref().map(|m| (m.change, m.like));
    let width = ((rect.width() - 132.0) / 2.0).clamp(60.0, 190.0);
    row.label("Match");
    let change =
        layer_combo(&mut row, session, session.parts(), "Layer to change", ("–", pair.map(|p| p.0)), width);
    row.label("to");
    let like = layer_combo(
        &mut row,
        session,
        session.parts(),
        "Layer to sound like",
        ("–", pair.map(|p| p.1)),
        width,
    );
    if change.is_some() || like.is_some() {
        let first = |except: Option<LayerId>| session.parts().map(|l| l.id).find(|id| Some(*id) != except);
        let change = change.or(pair.map(|p| p.0)).or_else(|| first(like));
        let like = like.or(pair.map(|p| p.1)).or_else(|| first(change));
        if let (Some(change), Some(like)) = (change, like)
            && change != like
        {
            shared.intents.push(Intent::Command(Command::Match(Some((change, like)))));
        }
    }
    let tip = "The loudest Foley layer against the loudest natural one";
    if row.button("Default").on_hover_text(tip).accessible_name("Default pair").clicked() {
        shared.intents.push(Intent::Command(Command::Match(None)));
    }
}

fn curve_ui(shared: &mut Shared, ui: &Ui, painter: &Painter, matched: &Match, inside: Rect) {
    let theme = painter.theme;
    let axis = axis(inside);
    let labelled = inside.height() >= 70.0;
    let bottom = if labelled { inside.bottom() - space::LINE } else { inside.bottom() };
    let plot = Rect::from_x_y_ranges(axis.x, inside.top()..=bottom.max(inside.top()));
    if plot.height() < 20.0 {
        return;
    }
    let values = ValueAxis { bottom: -SPAN_DB, top: SPAN_DB, y: plot.y_range() };
    painter.fill(plot, theme.plot);
    for (hz, label) in LABELLED_HZ {
        painter.hairline(pos2(axis.x(hz), plot.top()), pos2(axis.x(hz), plot.bottom()), theme.grid);
        if labelled {
            let anchor = if hz >= 20_000.0 { Align2::RIGHT_CENTER } else { Align2::CENTER_CENTER };
            let x = if hz <= 20.0 { axis.x.min + 6.0 } else { axis.x(hz) };
            painter.text(pos2(x, plot.bottom() + space::LINE / 2.0), anchor, label, size::AXIS, theme.muted);
        }
    }
    for (db, label) in [(6.0, "+6"), (0.0, "0 dB"), (-6.0, "−6")] {
        let y = values.y(db);
        painter.hairline(
            pos2(plot.left(), y),
            pos2(plot.right(), y),
            if db == 0.0 { theme.grid_strong } else { theme.grid },
        );
        painter.text(pos2(plot.right() + 4.0, y), Align2::LEFT_CENTER, label, size::AXIS, theme.muted);
    }
    let inside = painter.within(plot);
    let mut points = Vec::new();
    for third in 0..THIRDS {
        let place = column(axis, plot.y_range(), third);
        let Some(db) = matched.change_db[third].get().filter(|db| db.is_finite()) else {
            inside.path(std::mem::take(&mut points), stroke::TRACE, theme.trace);
            continue;
        };
        let spread = matched.spread_db[third].get().filter(|s| s.is_finite()).unwrap_or(0.0).abs();
        inside.fill(
            Rect::from_x_y_ranges(place.x_range(), values.y(db + spread)..=values.y(db - spread)),
            theme.tolerance,
        );
        let y = values.y(db);
        points.push(pos2(place.center().x, y));
        let ends = vec![pos2(place.left(), y), pos2(place.right(), y)];
        inside.path(ends, stroke::MARK, theme.trace);
    }
    inside.path(points, stroke::HAIR, theme.trace);
    let Some(hz) = shared.cursor.follow(ui, "match cursor", plot, axis) else { return };
    let Some(third) = third_at(hz) else { return };
    let x = axis.x(hz).clamp(axis.x.min, axis.x.max);
    painter.hairline(pos2(x, plot.top()), pos2(x, plot.bottom()), theme.plumb);
    let change = figures::unit(figures::signed(matched.change_db[third].get(), 1), "dB");
    let spread = figures::unit(figures::plain(matched.spread_db[third].get(), 1), "dB");
    tag(painter, plot, x, &[format!("third {}  ·  {change} ± {spread}", THIRD_LABELS[third])]);
}
