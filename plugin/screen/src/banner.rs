//! The banner over a page, shown while the signal is altered or a past moment is in view.

use crate::painter::{Painter, named_area};
use crate::tokens::{Ink, size, space, stroke};
use crate::widgets;
use egui::{Align2, Rect, StrokeKind, Ui, pos2, vec2};
use plumbline_report::words::State;

/// Height in points.
pub(crate) const HEIGHT: f32 = 26.0;

/// A banner: fill, frame and ink; a state; its text, full and short; a button.
pub(crate) struct Banner<'a> {
    pub(crate) id: &'static str,
    pub(crate) inks: [Ink; 3],
    pub(crate) state: State,
    pub(crate) words: [&'a str; 2],
    /// Label, accessible name and tooltip.
    pub(crate) button: [&'static str; 3],
}

impl Banner<'_> {
    /// Paints it; returns whether its button was clicked.
    pub(crate) fn ui(&self, ui: &mut Ui, painter: &Painter, rect: Rect) -> bool {
        let [fill, frame, ink] = self.inks;
        painter.block(rect, fill);
        painter.outline(rect, space::ROUND, stroke::MARK, frame, StrokeKind::Inside);
        let mut row = widgets::row_from_right(ui, self.id, rect.shrink2(vec2(space::INSET, 2.0)));
        // Clear of the frame.
        row.spacing_mut().interact_size.y = rect.height() - 6.0;
        row.spacing_mut().button_padding.y = 0.0;
        let [label, name, tip] = self.button;
        let button = row.button(label).on_hover_text(tip).accessible_name(name);
        let right = button.rect.left() - space::GAP;
        painter.state(pos2(rect.left() + 14.0, rect.center().y), 13.0, self.state);
        let left = rect.left() + 28.0;
        let room = (right - left).max(0.0);
        let [long, short] = self.words;
        let mut galley = painter.line(long, size::BODY, ink);
        if galley.size().x > room {
            galley = painter.fitted_in(short, size::BODY, room, ink);
        }
        painter.put(pos2(left, rect.center().y), Align2::LEFT_CENTER, galley);
        let named = rect.with_max_x(right.max(rect.left()));
        named_area(ui, named, self.id, || long.to_owned()).on_hover_text(long);
        button.clicked()
    }
}
