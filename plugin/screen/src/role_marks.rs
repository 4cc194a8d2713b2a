//! Roles as shapes and stacked bars. Each role has a mark and a fixed place in the order, so that nothing depends on
//! colour alone.

use crate::painter::Painter;
use crate::tokens::{Ink, size, space, stroke};
use egui::{Align2, Pos2, Rangef, Rect, pos2, vec2};
use plumbline_programme::session::Aim;
use plumbline_programme::{BalanceTarget, Role, Session, Stretch};
use plumbline_report::figures;

/// The mark of a role, in a square of side `size`: hexagon, square, diamond, cross, hourglass; a mix has an upright.
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

/// Horizontal position on a bar of a share from 0 to 1.
pub(crate) fn share_x(bar: Rect, share: f64) -> f32 {
    let share = if share.is_nan() { 0.0 } else { share.clamp(0.0, 1.0) };
    bar.left() + crate::mapping::single(share) * bar.width()
}

/// Shares of the roles over one stretch as one bar, with numbers where they fit; a dash if nothing sounds.
pub(crate) fn stacked(painter: &Painter, bar: Rect, session: &Session, stretch: Stretch) {
    let theme = painter.theme;
    painter.fill(bar, theme.plot);
    let shares =
        session.roles_present().map(|(at, role)| (role, session.roles[at].parts[stretch.place()].share));
    if !segments(painter, bar, shares) {
        painter.text(bar.center(), Align2::CENTER_CENTER, figures::DASH, size::AXIS, theme.muted);
    }
}

/// Shares side by side in a bar, with numbers where they fit; returns whether there were any.
pub(crate) fn segments(
    painter: &Painter,
    bar: Rect,
    shares: impl Iterator<Item = (Role, Option<f64>)>,
) -> bool {
    let theme = painter.theme;
    let mut from = 0.0;
    let mut any = false;
    for (role, share) in shares {
        let Some(share) = drawable(share) else { continue };
        any = true;
        let x = Rangef::new(share_x(bar, from), share_x(bar, from + share));
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

/// Lowest, target and highest position of an aim on the stacked bar.
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
        .filter_map(|(at, _)| drawable(session.roles[at].parts[stretch.place()].share))
        .sum();
    let [low, high] = aim.range().map(|share| share.clamp(0.0, 1.0));
    [low, aim.share, high].map(|share| share_x(bar, before + share))
}

/// The aims below a stacked bar: a bracket from lowest to highest, a triangle at the aim.
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
        painter.triangle(pos2(at, bar.bottom() + 1.0), 6.0, true, theme.text);
    }
}

/// A finite share, clamped to 0…1.
pub(crate) fn drawable(share: Option<f64>) -> Option<f64> {
    share.filter(|share| share.is_finite()).map(|share| share.clamp(0.0, 1.0))
}

/// "Natural 64 %, Foley 21 %", for accessible names and tooltips.
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
