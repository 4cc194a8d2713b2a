//! Roles as shapes and stacked bars: colour never stands alone, each role has a mark and a place in the order.

use crate::painter::Painter;
use crate::tokens::{Ink, size, space, stroke};
use egui::{Align2, Pos2, Rangef, Rect, pos2, vec2};
use plumbline_programme::session::Aim;
use plumbline_programme::{BalanceTarget, Role, Session, Stretch};
use plumbline_report::figures;

/// The mark of a role within a square of side `size`: hexagon, square, diamond, cross, hourglass; a mix has an upright.
pub(crate) fn mark(painter: &Painter, centre: Pos2, size: f32, role: Role, ink: Ink) {
    let h = size / 2.0;
    let polygon = |corners: &[(f32, f32)]| {
        let points = corners.iter().map(|(x, y)| centre + vec2(x * h, y * h)).collect();
        painter.polygon(points, ink);
    };
    match role {
        Role::Natural => {
            polygon(&[(-1.0, 0.0), (-0.5, -0.87), (0.5, -0.87), (1.0, 0.0), (0.5, 0.87), (-0.5, 0.87)]);
        }
        Role::Foley => polygon(&[(-0.85, -0.85), (0.85, -0.85), (0.85, 0.85), (-0.85, 0.85)]),
        Role::Design => polygon(&[(0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)]),
        Role::Voice => {
            polygon(&[(-1.0, -0.33), (1.0, -0.33), (1.0, 0.33), (-1.0, 0.33)]);
            polygon(&[(-0.33, -1.0), (0.33, -1.0), (0.33, 1.0), (-0.33, 1.0)]);
        }
        Role::Music => {
            polygon(&[(-0.9, -0.9), (0.9, -0.9), (0.0, 0.1)]);
            polygon(&[(-0.9, 0.9), (0.0, -0.1), (0.9, 0.9)]);
        }
        Role::Mix => polygon(&[(-0.4, -1.0), (0.4, -1.0), (0.4, 1.0), (-0.4, 1.0)]),
    }
}

/// A stretch of a bar for 0…1, left to right.
pub(crate) fn across(bar: Rect, share: f64) -> f32 {
    let share = if share.is_nan() { 0.0 } else { share.clamp(0.0, 1.0) };
    bar.left() + crate::mapping::single(share) * bar.width()
}

/// Shares of the roles over one stretch as one bar, in the order of roles; a dash where nothing sounds. Numbers stand
/// in the segments that have room.
pub(crate) fn stacked(painter: &Painter, bar: Rect, session: &Session, stretch: Stretch) {
    let theme = painter.theme;
    painter.fill(bar, theme.plot);
    let shares =
        session.roles_present().map(|(at, role)| (role, session.roles[at].parts[stretch.place()].share));
    if !segments(painter, bar, shares) {
        painter.text(bar.center(), Align2::CENTER_CENTER, figures::DASH, size::AXIS, theme.muted);
    }
}

/// Shares one after the other in a bar, with their numbers where there is room; whether there was any.
pub(crate) fn segments(
    painter: &Painter,
    bar: Rect,
    shares: impl Iterator<Item = (Role, Option<f64>)>,
) -> bool {
    let theme = painter.theme;
    let mut from = 0.0;
    let mut any = false;
    for (role, share) in shares {
        let Some(share) = sane(share) else { continue };
        any = true;
        let x = Rangef::new(across(bar, from), across(bar, from + share));
        from += share;
        if x.span() < 0.5 {
            continue;
        }
        let gap = if x.span() > 3.0 { 1.0 } else { 0.0 };
        let segment = Rect::from_x_y_ranges(x.min..=x.max - gap, bar.y_range());
        painter.fill(segment, theme.role(role));
        if bar.height() < space::LINE - 3.0 {
            continue;
        }
        let number = figures::plain(Some(share * 100.0), 0);
        let ink = theme.on_role(role);
        let galley = painter.line(number, size::AXIS, ink);
        let wide = galley.size().x + 4.0;
        let mark_size = 7.0;
        if segment.width() >= wide + mark_size + 6.0 {
            mark(painter, pos2(segment.left() + 3.0 + mark_size / 2.0, bar.center().y), mark_size, role, ink);
            painter.put(pos2(segment.left() + mark_size + 6.0, bar.center().y), Align2::LEFT_CENTER, galley);
        } else if segment.width() >= wide {
            painter.put(segment.center(), Align2::CENTER_CENTER, galley);
        }
    }
    any
}

/// Where an aim lies on the stacked bar: its range, and the aim itself.
pub(crate) fn aim_places(
    bar: Rect,
    session: &Session,
    stretch: Stretch,
    place: usize,
    aim: &Aim,
) -> [f32; 3] {
    let before: f64 = session
        .roles_present()
        .take_while(|(at, _)| *at < place)
        .filter_map(|(at, _)| sane(session.roles[at].parts[stretch.place()].share))
        .sum();
    let [low, high] = aim.range().map(|share| share.clamp(0.0, 1.0));
    [low, aim.share, high].map(|share| across(bar, before + share))
}

/// The target ranges under a stacked bar: a bracket from least to most, a bob at the aim.
pub(crate) fn aims(
    painter: &Painter,
    bar: Rect,
    session: &Session,
    stretch: Stretch,
    target: &BalanceTarget,
) {
    let theme = painter.theme;
    for (place, _) in session.roles_present() {
        let Some(aim) = target.aims[place] else { continue };
        let [low, at, high] = aim_places(bar, session, stretch, place, &aim);
        let y = bar.bottom() + 3.5;
        painter.path(
            vec![pos2(low, y - 3.0), pos2(low, y), pos2(high, y), pos2(high, y - 3.0)],
            stroke::THIN,
            theme.text,
        );
        painter.bob(pos2(at, bar.bottom() + 1.0), 6.0, true, theme.text);
    }
}

/// A share that can be drawn.
pub(crate) fn sane(share: Option<f64>) -> Option<f64> {
    share.filter(|share| share.is_finite()).map(|share| share.clamp(0.0, 1.0))
}

/// "Natural 64 %, Foley 21 %", for those who hear the screen and for tooltips.
pub(crate) fn aloud(session: &Session, stretch: Stretch) -> String {
    let shares: Vec<String> = session
        .roles_present()
        .map(|(at, role)| {
            let share = session.roles[at].parts[stretch.place()].share;
            format!("{} {}", role.name(), figures::percent(share))
        })
        .collect();
    shares.join(", ")
}
