//! The title of a block.

use crate::painter::Painter;
use crate::tokens::{size, space};
use egui::{Align2, Rect, pos2, vec2};

/// Paints a title in the upper left corner; returns the area below it.
pub(super) fn title(painter: &Painter, rect: Rect, text: &str) -> Rect {
    let left = rect.left() + space::INSET;
    let galley = painter.fitted(text, size::SMALL, (rect.width() - 2.0 * space::INSET).max(0.0));
    painter.put(pos2(left, rect.top() + space::NEAR + space::LINE / 2.0), Align2::LEFT_CENTER, galley);
    let under = pos2(left, rect.top() + space::NEAR + space::LINE + 2.0);
    Rect::from_min_max(under, rect.max - vec2(space::INSET, space::NEAR))
}
