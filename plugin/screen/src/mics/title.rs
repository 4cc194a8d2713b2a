//! The title of a picture.

use crate::painter::Painter;
use crate::tokens::{size, space};
use egui::{Align2, Rect, vec2};

/// Paints a block with a title; returns the area below it.
pub(super) fn titled(painter: &Painter, rect: Rect, title: &str) -> Rect {
    painter.block(rect, painter.theme.panel);
    let inside = rect.shrink2(vec2(space::INSET, space::NEAR));
    let galley = painter.fitted_in(title, size::SMALL, inside.width().max(0.0), painter.theme.muted);
    painter.put(inside.left_top(), Align2::LEFT_TOP, galley);
    inside.with_min_y((inside.top() + space::LINE + 2.0).min(inside.bottom()))
}
