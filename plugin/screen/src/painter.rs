//! Text and shapes in the colours of a theme.

use crate::tokens::{Ink, Theme, space, stroke};

use egui::epaint::PathStroke;
use egui::text::{LayoutJob, TextWrapping};
use egui::{
    Align2, CornerRadius, FontId, Galley, Pos2, Rect, Response, Sense, Shape, Stroke, StrokeKind, Ui, Vec2,
    WidgetInfo, accesskit, pos2, vec2,
};
use plumbline_report::words::State;
use std::sync::Arc;

/// A painter with a theme.
pub(crate) struct Painter {
    pub(crate) egui: egui::Painter,
    pub(crate) theme: &'static Theme,
}

impl Painter {
    /// The painter of a `Ui`.
    pub(crate) fn of(ui: &Ui, theme: &'static Theme) -> Self {
        Self { egui: ui.painter().clone(), theme }
    }

    /// The same painter, clipped to a plot: a value beyond its axis must not be painted over the neighbours.
    pub(crate) fn within(&self, plot: Rect) -> Self {
        let egui = self.egui.with_clip_rect(plot.intersect(self.egui.clip_rect()));
        Self { egui, theme: self.theme }
    }

    /// Lays out one line of text.
    pub(crate) fn line(&self, text: impl Into<String>, size: f32, ink: Ink) -> Arc<Galley> {
        self.egui.layout_no_wrap(text.into(), FontId::proportional(size), ink)
    }

    /// One line of text, cut with an ellipsis if it does not fit: a name may have any length.
    pub(crate) fn fitted(&self, text: &str, size: f32, room: f32) -> Arc<Galley> {
        self.fitted_in(text, size, room, self.theme.text)
    }

    pub(crate) fn fitted_in(&self, text: &str, size: f32, room: f32, ink: Ink) -> Arc<Galley> {
        let font = FontId::proportional(size);
        let mut job = LayoutJob::simple_singleline(text.chars().take(256).collect(), font, ink);
        job.wrap = TextWrapping::truncate_at_width(room);
        self.egui.layout_job(job)
    }

    /// Text wrapped at a width.
    pub(crate) fn wrapped(&self, text: &str, size: f32, ink: Ink, width: f32) -> Arc<Galley> {
        self.egui.layout(text.to_owned(), FontId::proportional(size), ink, width)
    }

    /// Paints one line of text; returns its area.
    pub(crate) fn text(
        &self,
        at: Pos2,
        anchor: Align2,
        text: impl Into<String>,
        size: f32,
        ink: Ink,
    ) -> Rect {
        let galley = self.line(text, size, ink);
        self.put(at, anchor, galley)
    }

    /// Paints a laid-out text; returns its area.
    pub(crate) fn put(&self, at: Pos2, anchor: Align2, galley: Arc<Galley>) -> Rect {
        let rect = anchor.anchor_size(at, galley.size());
        self.egui.galley(rect.min, galley, self.theme.text);
        rect
    }

    /// One line of text, if it fits the width. Returns whether it was painted.
    pub(crate) fn text_if_fits(
        &self,
        at: Pos2,
        anchor: Align2,
        text: impl Into<String>,
        size: f32,
        ink: Ink,
        width: f32,
    ) -> bool {
        let galley = self.line(text, size, ink);
        let fits = galley.size().x <= width;
        if fits {
            self.put(at, anchor, galley);
        }
        fits
    }

    /// The first of several wordings that fits when wrapped; `None` if none does.
    pub(crate) fn first_that_fits(
        &self,
        wordings: &[&str],
        size: f32,
        ink: Ink,
        room: Vec2,
    ) -> Option<Arc<Galley>> {
        wordings.iter().find_map(|wording| {
            let galley = self.wrapped(wording, size, ink, room.x);
            (galley.size().y <= room.y + 1.0 && galley.size().x <= room.x + 1.0).then_some(galley)
        })
    }

    pub(crate) fn block(&self, rect: Rect, fill: Ink) {
        self.egui.rect_filled(rect, CornerRadius::from(space::ROUND), fill);
    }

    pub(crate) fn fill(&self, rect: Rect, fill: Ink) {
        self.egui.rect_filled(rect, CornerRadius::ZERO, fill);
    }

    /// The outline of a rectangle.
    pub(crate) fn outline(&self, rect: Rect, round: f32, width: f32, ink: Ink, kind: StrokeKind) {
        self.egui.rect_stroke(rect, round, Stroke::new(width, ink), kind);
    }

    /// A filled convex shape.
    pub(crate) fn polygon(&self, points: Vec<Pos2>, ink: Ink) {
        self.egui.add(Shape::convex_polygon(points, ink, Stroke::NONE));
    }

    pub(crate) fn hairline(&self, from: Pos2, to: Pos2, ink: Ink) {
        // On whole pixels: sharp at any scale.
        let snap = |v: f32| self.egui.round_to_pixel_center(v);
        let (from, to) = (pos2(snap(from.x), snap(from.y)), pos2(snap(to.x), snap(to.y)));
        self.egui.line_segment([from, to], Stroke::new(stroke::HAIR, ink));
    }

    pub(crate) fn path(&self, points: Vec<Pos2>, width: f32, ink: Ink) {
        if points.len() > 1 {
            self.egui.add(Shape::line(points, PathStroke::new(width, ink)));
        }
    }

    /// A small triangle whose tip, at `tip`, points down, or up if `up`.
    pub(crate) fn triangle(&self, tip: Pos2, size: f32, up: bool, ink: Ink) {
        let away = if up { size } else { -size };
        self.polygon(vec![tip, tip + vec2(-size * 0.55, away), tip + vec2(size * 0.55, away)], ink);
    }

    /// The shape for a verdict's state, in a square of side `size`.
    pub(crate) fn state(&self, centre: Pos2, size: f32, state: State) {
        let (theme, half) = (self.theme, size / 2.0);
        match state {
            State::Unknown => {
                let bar = Rect::from_center_size(centre, vec2(size, stroke::MARK));
                self.fill(bar, theme.muted);
            }
            State::Fine => {
                self.egui.circle_filled(centre, half * 0.82, theme.text);
            }
            State::Note => {
                self.egui.circle_stroke(centre, half * 0.75, Stroke::new(stroke::MARK, theme.text));
            }
            State::Fault => {
                let points = vec![
                    centre + vec2(0.0, -half),
                    centre + vec2(half, half * 0.8),
                    centre + vec2(-half, half * 0.8),
                ];
                self.polygon(points, theme.fault);
            }
        }
    }
}

/// An area with an accessible name and a tooltip.
pub(crate) fn tooltip_area(ui: &Ui, rect: Rect, id: &str, tip: &'static str, name: impl Fn() -> String) {
    named_area(ui, rect, id, name).on_hover_ui(|ui| {
        ui.label(tip);
    });
}

/// An area with an accessible name.
pub(crate) fn named_area(ui: &Ui, rect: Rect, id: &str, name: impl Fn() -> String) -> Response {
    let response = ui.interact(rect, ui.scope_id().with(id), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(accesskit::Role::Group, true, name()));
    response
}
