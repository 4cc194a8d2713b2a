//! The severity of a finding as a shape: one, two or three rising bars.

use crate::painter::Painter;
use crate::tokens::Ink;
use egui::{Pos2, Rect, pos2};
use plumbline_programme::findings::Grade;

/// Paints the bars of a grade in a square of side `size`; the remaining ones are faint.
pub(crate) fn severity_shape(painter: &Painter, centre: Pos2, size: f32, grade: Grade, muted: bool) {
    let (theme, level) = (painter.theme, grade as u8);
    let ink: Ink = match (muted, grade) {
        (true, _) => theme.muted,
        (false, Grade::Grave) => theme.fault,
        (false, _) => theme.text,
    };
    let width = size / 3.0 - 1.0;
    for bar in 0..3_u8 {
        let left = centre.x - size / 2.0 + f32::from(bar) * (width + 1.5);
        let height = size * (0.4 + 0.3 * f32::from(bar));
        let bottom = centre.y + size / 2.0;
        let rect = Rect::from_min_max(pos2(left, bottom - height), pos2(left + width, bottom));
        painter.fill(rect, if bar <= level { ink } else { theme.grid_strong });
    }
}
