//! The spectrum lane: current average, the slower one behind it, peak hold, reference.

use super::lane::LanePainter;
use super::legend::{DASHES, DOTS, Mark, dashed};
use crate::mapping::{tilt_db, trace};
use crate::settings::averaging_name;
use crate::tokens::{Ink, stroke};
use egui::epaint::Mesh;
use egui::{Pos2, Shape, pos2};
use plumbline_measure::bands::{THIRDS, third_centre_hz, third_span};

/// Width of a column of a trace in points.
const COLUMN: f32 = 1.0;

impl LanePainter<'_> {
    pub(super) fn spectrum(&self) {
        let theme = self.painter.theme;
        let by_thirds = self.by_thirds();
        let current = if by_thirds { self.steps() } else { self.lines(&self.spectral.lines_dbfs) };
        self.fill_under(&current, theme.trace_fill);
        if let Some(behind) = self.settings.behind() {
            let points = self.lines(&self.scene.view.spectral(behind).lines_dbfs);
            self.painter.path(points, stroke::THIN, theme.trace_behind);
        }
        if self.settings.peak_hold {
            let points = self.lines(&self.scene.view.hold_dbfs);
            dashed(&self.painter, &points, stroke::THIN, theme.trace_hold, DOTS);
        }
        self.painter.path(current, stroke::TRACE, theme.trace);
        if let Some(reference) = &self.settings.reference {
            let points = self.trace(reference.lines());
            dashed(&self.painter, &points, stroke::TRACE, theme.trace_reference, DASHES);
        }
    }

    /// Whether to show the levels of thirds instead of lines, which a past moment does not have.
    pub(super) fn by_thirds(&self) -> bool {
        self.scene.view.past.is_some() && self.spectral.lines_dbfs.is_empty()
    }

    /// The levels of the thirds as steps; a third without a level is at the bottom.
    fn steps(&self) -> Vec<Pos2> {
        let tilt = self.settings.tilt.db_per_octave();
        if self.spectral.thirds.iter().all(|third| third.level_dbfs.is_none()) {
            return Vec::new();
        }
        let step = |third: usize| {
            let span = third_span(third);
            let level = self.spectral.thirds[third].level_dbfs.filter(|level| !level.is_nan());
            let raised = level.map(|level| level + tilt_db(third_centre_hz(third), tilt));
            let y = raised.map_or(self.plot.bottom(), |level| self.values.y(level));
            [span.low_hz, span.high_hz].map(|hz| pos2(self.frequency.x(hz), y))
        };
        (0..THIRDS).flat_map(step).collect()
    }

    /// A line spectrum as points; none if all of it is below the axis.
    fn lines(&self, levels: &[f32]) -> Vec<Pos2> {
        let hz = self.scene.view.line_hz.iter();
        let points = self.trace(hz.zip(levels).map(|(&hz, &db)| (f64::from(hz), f64::from(db))));
        if points.iter().all(|point| point.y >= self.plot.bottom()) { Vec::new() } else { points }
    }

    fn trace(&self, lines: impl Iterator<Item = (f64, f64)>) -> Vec<Pos2> {
        trace(self.frequency, self.values, lines, self.settings.tilt.db_per_octave(), COLUMN)
    }

    fn fill_under(&self, points: &[Pos2], ink: Ink) {
        let mut mesh = Mesh::default();
        for pair in points.windows(2) {
            let first = u32::try_from(mesh.vertices.len()).unwrap_or(0);
            for at in [pair[0], pair[1]] {
                mesh.colored_vertex(at, ink);
                mesh.colored_vertex(pos2(at.x, self.plot.bottom()), self.painter.theme.plot);
            }
            mesh.add_triangle(first, first + 1, first + 2);
            mesh.add_triangle(first + 1, first + 2, first + 3);
        }
        self.painter.egui.add(Shape::mesh(mesh));
    }

    /// The legend, the most useful entry first: a low lane has room only for the first few.
    pub(super) fn spectrum_legend(&self) -> Vec<(Mark, String)> {
        let theme = self.painter.theme;
        let current = averaging_name(self.settings.averaging);
        let current = if self.by_thirds() { format!("{current} thirds") } else { current.to_owned() };
        let mut entries = vec![(Mark::Line(stroke::TRACE, theme.trace), current)];
        if let Some(reference) = &self.settings.reference {
            let name = if reference.cells { "Reference" } else { "Older ref." };
            entries.push((Mark::Dashes(stroke::TRACE, theme.trace_reference), name.to_owned()));
        }
        if let Some(behind) = self.settings.behind().filter(|_| !self.by_thirds()) {
            entries.push((Mark::Line(stroke::THIN, theme.trace_behind), averaging_name(behind).to_owned()));
        }
        if self.settings.peak_hold && !self.by_thirds() {
            entries.push((Mark::Dots(stroke::THIN, theme.trace_hold), "Peak hold".to_owned()));
        }
        entries
    }
}
