//! The column cursor that all frequency axes share, and the tag beside it.

use crate::mapping::FrequencyAxis;
use crate::painter::Painter;
use crate::tokens::{size, space, stroke};
use egui::{Align2, Rect, Sense, StrokeKind, Ui, WidgetInfo, accesskit, pos2, vec2};
use plumbline_measure::bands::{THIRDS, third_at, third_centre_hz};
use plumbline_report::figures;
use plumbline_report::words::capital;

/// The column cursor.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Cursor {
    /// Frequency at which a click or the arrow keys pinned the cursor.
    pinned_hz: Option<f64>,
}

impl Cursor {
    /// Moves to the neighbouring third; to 1 kHz if there is no cursor.
    pub(crate) fn step(&mut self, by: isize) {
        let third = match self.pinned_hz.and_then(third_at) {
            Some(third) => third.saturating_add_signed(by).min(THIRDS - 1),
            None => 17,
        };
        self.pinned_hz = Some(third_centre_hz(third));
    }

    /// Removes the cursor; returns whether there was one.
    pub(crate) fn remove(&mut self) -> bool {
        self.pinned_hz.take().is_some()
    }

    /// Follows the pointer over a field of an axis; a click pins it. Returns its frequency in Hz.
    pub(crate) fn follow(&mut self, ui: &Ui, id: &str, field: Rect, axis: FrequencyAxis) -> Option<f64> {
        let response = ui.interact(field, ui.scope_id().with(id), Sense::click());
        response.widget_info(|| {
            let at = self.pinned_hz.map_or(String::new(), |hz| format!(" at {}", figures::hz(hz)));
            WidgetInfo::labeled(accesskit::Role::Button, true, capital(id) + &at)
        });
        let pointed = ui
            .input(|input| input.pointer.hover_pos())
            .filter(|at| field.contains(*at) && ui.ctx().layer_id_at(*at) == Some(ui.layer_id()))
            .map(|at| axis.hz(at.x));
        if response.clicked() {
            self.pinned_hz = pointed.or(self.pinned_hz);
        }
        pointed.or(self.pinned_hz)
    }
}

/// A tag beside the cursor, on the side with room, with as many lines as the plot's height allows.
pub(crate) fn tag(painter: &Painter, plot: Rect, x: f32, lines: &[String]) {
    let theme = painter.theme;
    let galleys: Vec<_> = lines.iter().map(|line| painter.line(line, size::SMALL, theme.text)).collect();
    #[expect(clippy::cast_possible_truncation, reason = "a few lines")]
    let fits = ((plot.height() - 2.0) / space::LINE).floor().max(1.0) as usize;
    let galleys = &galleys[..galleys.len().min(fits)];
    let width = galleys.iter().map(|galley| galley.size().x).fold(0.0, f32::max) + 2.0 * space::NEAR + 2.0;
    let height = (galleys.len() as f32 * space::LINE + 2.0).min(plot.height());
    let right = x + space::INSET;
    let left = if right + width <= plot.right() { right } else { x - space::INSET - width };
    let rect = Rect::from_min_size(pos2(left.max(plot.left()), plot.top() + 1.0), vec2(width, height));
    painter.block(rect, theme.panel);
    painter.outline(rect, space::ROUND, stroke::HAIR, theme.grid_strong, StrokeKind::Inside);
    let mut y = rect.top() + height / 2.0 - (galleys.len() as f32 - 1.0) / 2.0 * space::LINE;
    for galley in galleys {
        painter.put(pos2(rect.left() + space::NEAR + 1.0, y), Align2::LEFT_CENTER, galley.clone());
        y += space::LINE;
    }
}
