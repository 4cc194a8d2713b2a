//! The balance of layers: one stacked bar per stretch, the aims below the first, and the unaccounted part.

use crate::frame_data::Scene;
use crate::painter::{Painter, named_area};
use crate::role_marks;
use crate::settings::Settings;
use crate::tokens::{size, space};
use crate::words::{self, Context, State};
use egui::{Align2, Rect, Sense, StrokeKind, Ui, WidgetInfo, accesskit, pos2};
use plumbline_programme::{Session, Stretch};
use plumbline_report::figures;

const TIP: &str = "Layer share: K-weighted energy (ITU-R BS.1770-5) of each role over that of all layers except the \
                   mix, in per cent, over the same tenths of song time. The bracket is the aim with its tolerance. \
                   Click a line to show its shares per third.";

/// Number of roles in the first line of the legend.
const FIRST_LINE: usize = 3;

/// Height of the block in points, with or without the lines of passage and programme.
pub(super) fn height(session: &Session, full: bool) -> f32 {
    let legend = space::LINE * legend_lines(session);
    legend + if full { 106.0 } else { 51.0 }
}

/// Number of lines in the legend.
fn legend_lines(session: &Session) -> f32 {
    if session.roles_present().count() > FIRST_LINE { 2.0 } else { 1.0 }
}

pub(super) fn shares_ui(
    settings: &mut Settings,
    ui: &Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
    full: bool,
) {
    let (theme, session) = (scene.theme, &*scene.view.session);
    painter.block(rect, theme.panel);
    let inside = rect.shrink2(egui::vec2(space::INSET, space::NEAR));
    let label = if full { 66.0 } else { 36.0 };
    let mut y = inside.top();
    let lines = legend_lines(session);
    legend(painter, Rect::from_x_y_ranges(inside.x_range(), y..=y + lines * space::LINE), session);
    y += lines * space::LINE + 2.0;
    let row = |y: f32, height: f32| Rect::from_x_y_ranges(inside.x_range(), y..=y + height);
    stretch_ui(settings, ui, painter, scene, row(y, 16.0), label, Stretch::Now);
    let bar = row(y, 16.0).with_min_x(inside.left() + label);
    role_marks::aims(painter, bar, session, Stretch::Now, &settings.balance);
    y += 16.0 + 9.0;
    if full {
        for stretch in [Stretch::Passage, Stretch::Programme] {
            stretch_ui(settings, ui, painter, scene, row(y, 14.0), label, stretch);
            y += 17.0;
        }
    }
    let (state, text, said) = account(session, settings, full);
    let at = pos2(inside.left() + 4.0, y + space::LINE / 2.0);
    if let Some(state) = state {
        painter.state(at, 8.0, state);
    }
    let indent = if state.is_some() { 14.0 } else { 0.0 };
    let ink = if state == Some(State::Fault) { theme.fault_text } else { theme.muted };
    let room = egui::vec2(inside.width() - indent, inside.bottom() - y + 3.0);
    let wordings: Vec<&str> = text.iter().map(String::as_str).collect();
    if let Some(galley) = painter.first_that_fits(&wordings, size::AXIS, ink, room) {
        painter.put(pos2(inside.left() + indent, y), Align2::LEFT_TOP, galley);
    }
    let foot = Rect::from_x_y_ranges(inside.x_range(), y..=inside.bottom());
    let region = named_area(ui, foot, "balance of layers", || {
        format!("Balance of layers: now {}. {said}", role_marks::aloud(session, Stretch::Now))
    });
    region.on_hover_ui(|ui| {
        ui.label(&said);
        ui.add_space(space::NEAR);
        ui.label(egui::RichText::new(TIP).weak());
    });
}

/// The unaccounted part of the mix, else the aims: wordings by length, and the full text.
fn account(session: &Session, settings: &Settings, full: bool) -> (Option<State>, Vec<String>, String) {
    if let Some(said) = words::unaccounted(session.unaccounted[Stretch::Now.place()], Context::Live) {
        let wordings =
            vec![said.sentence.clone(), said.short.clone(), format!("{} {}", said.head, said.figure)];
        return (Some(said.state), wordings, said.sentence);
    }
    let aims: Vec<String> = session
        .roles_present()
        .filter_map(|(at, role)| Some((role, settings.balance.aims[at]?)))
        .map(|(role, aim)| format!("{} {}", role.name(), words::aim_words(&aim)))
        .collect();
    let aims =
        if aims.is_empty() { "No role has an aim.".to_owned() } else { format!("Aim {}.", aims.join(", ")) };
    let agrees = match session.unaccounted[Stretch::Now.place()].db {
        Some(_) => "Mix and layers agree within 1\u{a0}dB.",
        None if session.mix.is_none() => "There is no mix to compare with.",
        None => "",
    };
    let all = format!("{aims} {agrees}").trim().to_owned();
    let wordings = if full { vec![all.clone(), aims.clone()] } else { vec![aims.clone()] };
    (None, wordings, all)
}

/// Marks, names and present shares of the roles. If space is tight, without the shares, which the bar shows too.
fn legend(painter: &Painter, row: Rect, session: &Session) {
    let theme = painter.theme;
    let of = |numbered: bool| -> Vec<(plumbline_programme::Role, String)> {
        session
            .roles_present()
            .map(|(at, role)| {
                let share = figures::plain(session.roles[at].parts[0].share.map(|s| s * 100.0), 0);
                (role, if numbered { format!("{} {share}", role.name()) } else { role.name().to_owned() })
            })
            .collect()
    };
    let width = |entries: &[(plumbline_programme::Role, String)]| -> f32 {
        let line = entries.iter().take(FIRST_LINE);
        line.map(|(_, text)| painter.line(text, size::AXIS, theme.text).size().x + 20.0).sum()
    };
    let entries = [true, false].map(of);
    let entries = if width(&entries[0]) <= row.width() + 8.0 { &entries[0] } else { &entries[1] };
    let (mut x, mut y) = (row.left(), row.top() + space::LINE / 2.0);
    for (at, (role, text)) in entries.iter().enumerate() {
        if at == FIRST_LINE {
            (x, y) = (row.left(), y + space::LINE);
        }
        role_marks::mark(painter, pos2(x + 4.0, y), 9.0, *role, theme.role(*role));
        let put = painter.text(pos2(x + 12.0, y), Align2::LEFT_CENTER, text, size::AXIS, theme.text);
        x = put.right() + 8.0;
    }
    let at = pos2(row.right(), y);
    painter.text_if_fits(at, Align2::RIGHT_CENTER, "share %", size::AXIS, theme.muted, row.right() - x);
}

fn stretch_ui(
    settings: &mut Settings,
    ui: &Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    row: Rect,
    label: f32,
    stretch: Stretch,
) {
    let (theme, session) = (scene.theme, &*scene.view.session);
    let chosen = settings.stretch == stretch;
    let response = ui.interact(row, ui.scope_id().with(("stretch", stretch)), Sense::click());
    response.widget_info(|| {
        let name = format!("Share {}: {}", stretch.name(), role_marks::aloud(session, stretch));
        WidgetInfo::selected(accesskit::Role::Button, true, chosen, name)
    });
    if response.hovered() || response.has_focus() {
        painter.outline(row.expand(1.0), 2.0, 1.0, theme.plumb, StrokeKind::Outside);
    }
    let ink = if chosen { theme.text } else { theme.muted };
    painter.text(pos2(row.left(), row.center().y), Align2::LEFT_CENTER, stretch.name(), size::AXIS, ink);
    role_marks::stacked(painter, row.with_min_x(row.left() + label), session, stretch);
    if response.clicked() {
        settings.stretch = stretch;
    }
    let secs = figures::duration(session.secs[stretch.place()]);
    response.on_hover_ui(|ui| {
        ui.label(format!("{}, {secs}: {}", stretch.name(), role_marks::aloud(session, stretch)));
        ui.add_space(space::NEAR);
        ui.label(egui::RichText::new(TIP).weak());
    });
}
