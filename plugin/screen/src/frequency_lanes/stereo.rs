//! The lanes of thirds: width, correlation with coherence, out of step, mono loss.

use super::lane::LanePainter;
use super::legend::Mark;
use crate::layout::Lane;
use crate::tokens::{Ink, Theme, stroke};
use egui::{Rect, pos2};
use plumbline_measure::Readings;
use plumbline_measure::bands::{FIRST_ACCURATE_THIRD, THIRDS, third_span};

pub(super) fn correlation_legend(theme: &Theme) -> Vec<(Mark, String)> {
    vec![(Mark::Tick(theme.coherence), "Coherence".to_owned())]
}

impl LanePainter<'_> {
    pub(super) fn thirds(&self) {
        for third in 0..THIRDS {
            let readings = &self.spectral.thirds[third];
            let column = self.column(third);
            if !column.is_positive() {
                continue;
            }
            match self.lane {
                Lane::Width => self.bar(third, column, 0.0, readings.side_share, false),
                Lane::Correlation => self.correlation(third, column, readings),
                Lane::OutOfStep => {
                    let fault = self.scene.view.verdicts.is_out_of_step_fault(readings.out_of_step);
                    self.bar(third, column, 0.0, readings.out_of_step, fault);
                }
                Lane::MonoLoss => self.mono_loss(third, column, readings),
                Lane::Spectrum | Lane::Shares => {}
            }
        }
    }

    /// The place of a third, narrower than its span so that neighbours stay apart.
    pub(super) fn column(&self, third: usize) -> Rect {
        let span = third_span(third);
        let left = self.frequency.x(span.low_hz).max(self.plot.left());
        let right = self.frequency.x(span.high_hz).min(self.plot.right());
        Rect::from_x_y_ranges(left + 0.75..=right - 0.75, self.plot.y_range())
    }

    fn ink(&self, third: usize, fault: bool) -> Ink {
        let theme = self.painter.theme;
        match (fault, third < FIRST_ACCURATE_THIRD) {
            (true, _) => theme.fault,
            (false, true) => theme.bar_faint,
            (false, false) => theme.bar,
        }
    }

    /// A bar from `base` to the value; a point on the base where there is no reading.
    fn bar(&self, third: usize, column: Rect, base: f64, value: Option<f64>, fault: bool) {
        let from = self.values.y(base);
        let Some(value) = value.filter(|v| !v.is_nan()) else { return self.no_reading(column, from) };
        let to = self.values.y(value);
        // A reading of zero is a line; no reading is a point.
        let (top, bottom) = (from.min(to), from.max(to));
        let flat = (1.5 - (bottom - top)).max(0.0);
        let (top, bottom) = if to < from { (top - flat, bottom) } else { (top, bottom + flat) };
        let held = |y: f32| y.clamp(self.plot.top(), self.plot.bottom());
        let (top, bottom) =
            if bottom > self.plot.bottom() { (top - flat, bottom - flat) } else { (top, bottom) };
        self.painter
            .fill(Rect::from_x_y_ranges(column.x_range(), held(top)..=held(bottom)), self.ink(third, fault));
    }

    pub(super) fn no_reading(&self, column: Rect, y: f32) {
        // Not `clamp`, which panics if the lane is lower than the dash.
        let y = y.max(self.plot.top() + 1.0).min(self.plot.bottom() - 1.0);
        let centre = pos2(column.center().x, y);
        let dash = Rect::from_center_size(centre, egui::vec2((column.width() * 0.3).min(4.0), 1.5));
        self.painter.fill(dash, self.painter.theme.grid_strong);
    }

    fn correlation(&self, third: usize, column: Rect, readings: &Readings) {
        self.bar(third, column, 0.0, readings.correlation, false);
        if let Some(coherence) = readings.coherence.filter(|c| c.is_finite()) {
            let y = self.values.y(coherence);
            let ends = vec![pos2(column.left() + 1.0, y), pos2(column.right() - 1.0, y)];
            self.painter.path(ends, stroke::MARK, self.painter.theme.coherence);
        }
    }

    fn mono_loss(&self, third: usize, column: Rect, readings: &Readings) {
        let loss = readings.mono_loss_db;
        let fault = self.scene.view.verdicts.is_mono_fault(loss);
        self.bar(third, column, 0.0, loss, fault);
        if loss.is_some_and(|l| l <= self.values.bottom) {
            let tip = pos2(column.center().x, self.plot.bottom() - 1.0);
            self.painter.triangle(
                tip,
                (column.width() * 0.6).clamp(4.0, 8.0),
                false,
                self.painter.theme.plot,
            );
        }
    }
}
