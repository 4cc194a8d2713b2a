//! Marks of legends.

use crate::painter::Painter;
use crate::role_marks;
use crate::tokens::{Ink, stroke};
use egui::{Pos2, Shape, Stroke, pos2};
use plumbline_programme::Role;

/// Width of a legend's mark in points.
pub(super) const MARK_WIDTH: f32 = 14.0;

/// A legend's mark.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Mark {
    Line(f32, Ink),
    Dashes(f32, Ink),
    Dots(f32, Ink),
    Tick(Ink),
    Role(Role, Ink),
}

impl Mark {
    pub(super) fn paint(self, painter: &Painter, left: f32, y: f32) {
        let points = vec![pos2(left, y), pos2(left + MARK_WIDTH, y)];
        match self {
            Self::Role(role, ink) => {
                role_marks::mark(painter, pos2(left + MARK_WIDTH / 2.0, y), 9.0, role, ink);
            }
            Self::Line(width, ink) => painter.path(points, width, ink),
            Self::Dashes(width, ink) => dashed(painter, &points, width, ink, DASHES),
            Self::Dots(width, ink) => dashed(painter, &points, width, ink, DOTS),
            Self::Tick(ink) => {
                painter.path(vec![pos2(left + 1.0, y), pos2(left + 13.0, y)], stroke::MARK, ink)
            }
        }
    }
}

/// Dash and gap in points.
pub(super) const DASHES: (f32, f32) = (6.0, 4.0);
pub(super) const DOTS: (f32, f32) = (2.0, 2.5);

pub(super) fn dashed(painter: &Painter, points: &[Pos2], width: f32, ink: Ink, (dash, gap): (f32, f32)) {
    painter.egui.extend(Shape::dashed_line(points, Stroke::new(width, ink), dash, gap));
}
