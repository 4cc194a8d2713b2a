//! The column cursor: a plumb line through all lanes, with what each of them reads there.

use crate::company;
use crate::layout::Lane;
use crate::mapping::{FrequencyAxis, nearest_line};
use crate::painter::Painter;
use crate::screen::{Scene, Screen};
use crate::settings::{Reference, Settings};
use crate::tokens::{size, space, stroke};
use crate::words::capital;
use egui::{Align2, Rect, Sense, Stroke, Ui, pos2, vec2};
use plumbline_measure::bands::{FIRST_ACCURATE_THIRD, THIRD_LABELS, THIRDS, third_at, third_centre_hz};
use plumbline_report::figures;

/// Where the cursor stands.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Cursor {
    /// Frequency it was pinned at by a click or the arrow keys.
    pinned_hz: Option<f64>,
}

impl Cursor {
    /// Moves to the neighbouring third; from nowhere, to 1 kHz.
    pub(crate) fn step(&mut self, by: isize) {
        let third = match self.pinned_hz.and_then(third_at) {
            Some(third) => third.saturating_add_signed(by).min(THIRDS - 1),
            None => 17,
        };
        self.pinned_hz = Some(third_centre_hz(third));
    }

    /// Whether there was one.
    pub(crate) fn remove(&mut self) -> bool {
        self.pinned_hz.take().is_some()
    }
}

impl Screen {
    /// Follows the pointer over the lanes; a click pins it. Returns where the cursor stands.
    pub(super) fn cursor_ui(&mut self, ui: &Ui, scene: &Scene<'_>, axis: FrequencyAxis) -> Option<f64> {
        let plan = &scene.plan;
        let top = plan.lanes.first().map_or(plan.axis_labels.top(), |lane| lane.1.top());
        let all = Rect::from_x_y_ranges(axis.x, top..=plan.axis_labels.bottom());
        self.cursor_over(ui, "column cursor", all, axis)
    }

    /// Follows the pointer over one field of an axis; a click pins it.
    pub(crate) fn cursor_over(&mut self, ui: &Ui, id: &str, all: Rect, axis: FrequencyAxis) -> Option<f64> {
        let name = || match self.cursor.pinned_hz {
            Some(hz) => format!("{} at {}", capital(id), figures::hz(hz)),
            None => capital(id),
        };
        let response = ui.interact(all, ui.scope_id().with(id), Sense::click());
        response.widget_info(|| egui::WidgetInfo::labeled(egui::accesskit::Role::Button, true, name()));
        let pointed = ui
            .input(|input| input.pointer.hover_pos())
            .filter(|at| all.contains(*at) && ui.ctx().layer_id_at(*at) == Some(ui.layer_id()));
        let pointed = pointed.map(|at| axis.hz(at.x));
        if response.clicked()
            && let Some(hz) = pointed
        {
            self.cursor.pinned_hz = Some(hz);
        }
        pointed.or(self.cursor.pinned_hz)
    }
}

/// What one lane reads at a frequency, as lines of text.
fn readings_at(scene: &Scene<'_>, settings: &Settings, lane: Lane, hz: f64) -> Vec<String> {
    let spectral = scene.view.spectral(settings.averaging);
    let third = third_at(hz).map(|third| (third, spectral.thirds[third]));
    let readings = third.map(|(_, readings)| readings).unwrap_or_default();
    match lane {
        Lane::Spectrum => {
            let label = third.map_or(figures::DASH.to_owned(), |(third, _)| {
                let name = if third < FIRST_ACCURATE_THIRD { ", indicative" } else { "" };
                format!("third {}{name}", THIRD_LABELS[third])
            });
            let mut lines = vec![format!("{}  ·  {label}", figures::hz(hz))];
            lines.push(format!("Line {}", line_level(scene, &spectral.lines_dbfs, hz)));
            lines.push(format!("Third {}", figures::unit(figures::plain(readings.level_dbfs, 1), "dBFS")));
            if let Some(reference) = &settings.reference {
                let now = Reference::of(&scene.view.line_hz, &spectral.lines_dbfs);
                let difference =
                    now.level_dbfs(hz).zip(reference.level_dbfs(hz)).map(|(now, then)| now - then);
                let difference = figures::unit(figures::signed(difference, 1), "dB");
                lines.push(if reference.cells {
                    format!("Against reference {difference}")
                } else {
                    "Reference of an older version: store it anew to compare".to_owned()
                });
            }
            lines
        }
        Lane::Width => vec![format!(
            "{} side  ·  balance {}",
            figures::percent(readings.side_share),
            figures::unit(figures::balance(readings.balance_db), "dB")
        )],
        Lane::Correlation => vec![format!(
            "correlation {}  ·  coherence {}",
            figures::signed(readings.correlation, 2),
            figures::plain(readings.coherence, 2)
        )],
        Lane::OutOfStep => vec![format!("out of step {}", figures::plain(readings.out_of_step, 2))],
        Lane::MonoLoss => vec![match readings.mono_loss_db {
            Some(loss) if loss == f64::NEG_INFINITY => "gone in mono".to_owned(),
            loss => format!("mono {}", figures::db(loss)),
        }],
        Lane::Shares => vec![shares_at(scene, settings, third.map(|(third, _)| third))],
    }
}

fn shares_at(scene: &Scene<'_>, settings: &Settings, third: Option<usize>) -> String {
    let session = &*scene.view.session;
    let share = |at: usize| {
        let part = &session.roles[at].parts[settings.stretch.place()];
        figures::percent(third.and_then(|third| part.thirds[third].get()))
    };
    let shares: Vec<String> =
        company::roles(session).map(|(at, role)| format!("{} {}", role.name(), share(at))).collect();
    shares.join("  ·  ")
}

fn line_level(scene: &Scene<'_>, lines: &[f32], hz: f64) -> String {
    let level = nearest_line(&scene.view.line_hz, hz).and_then(|i| lines.get(i)).map(|&db| f64::from(db));
    figures::unit(figures::plain(level, 1), "dBFS")
}

/// A lane in words: with a cursor, what it reads there.
pub(super) fn aloud(scene: &Scene<'_>, settings: &Settings, lane: Lane, hz: Option<f64>) -> String {
    let title = match lane {
        Lane::Spectrum => "Spectrum",
        Lane::Width => "Width per third",
        Lane::Correlation => "Correlation and coherence per third",
        Lane::OutOfStep => "Out of step per third",
        Lane::MonoLoss => "Mono loss per third",
        Lane::Shares => "Layer share per third",
    };
    match hz {
        Some(hz) => format!("{title}: {}", readings_at(scene, settings, lane, hz).join(", ")),
        None => title.to_owned(),
    }
}

/// Paints the line through all lanes, its bob, and a tag in each lane.
pub(super) fn paint(painter: &Painter, scene: &Scene<'_>, settings: &Settings, axis: FrequencyAxis, hz: f64) {
    let (plan, theme) = (&scene.plan, scene.theme);
    let x = axis.x(hz).clamp(axis.x.min, axis.x.max);
    let (Some(first), Some(last)) = (plan.lanes.first(), plan.lanes.last()) else { return };
    let (top, bottom) = (first.1.top(), last.1.bottom());
    painter.hair(pos2(x, top), pos2(x, bottom), theme.plumb);
    painter.bob(pos2(x, bottom + 9.0), 9.0, false, theme.plumb);
    for &(lane, rect) in &plan.lanes {
        tag(painter, super::plot(rect, axis), x, &readings_at(scene, settings, lane, hz));
    }
}

/// A tag beside the line, on the side that has room; as many lines as the lane is high.
pub(crate) fn tag(painter: &Painter, plot: Rect, x: f32, lines: &[String]) {
    let theme = painter.theme;
    let galleys: Vec<_> = lines.iter().map(|line| painter.line(line, size::SMALL, theme.text)).collect();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few lines")]
    let fits = ((plot.height() - 2.0) / space::LINE).floor().max(1.0) as usize;
    let galleys = &galleys[..galleys.len().min(fits)];
    let width = galleys.iter().map(|galley| galley.size().x).fold(0.0, f32::max) + 2.0 * space::NEAR + 2.0;
    #[expect(clippy::cast_precision_loss, reason = "a few lines")]
    let height = (galleys.len() as f32 * space::LINE + 2.0).min(plot.height());
    let left =
        if x + space::INSET + width <= plot.right() { x + space::INSET } else { x - space::INSET - width };
    let left = left.max(plot.left());
    let rect = Rect::from_min_size(pos2(left, plot.top() + 1.0), vec2(width, height));
    painter.block(rect, theme.panel);
    painter.egui.rect_stroke(
        rect,
        space::ROUND,
        Stroke::new(stroke::HAIR, theme.grid_strong),
        egui::StrokeKind::Inside,
    );
    let mut y = rect.top() + height / 2.0;
    #[expect(clippy::cast_precision_loss, reason = "a few lines")]
    let first = y - (galleys.len() as f32 - 1.0) / 2.0 * space::LINE;
    y = first;
    for galley in galleys {
        painter.put(pos2(rect.left() + space::NEAR + 1.0, y), Align2::LEFT_CENTER, galley.clone());
        y += space::LINE;
    }
}
