//! The six named bands as numbers, each below its own stretch of the axis.

use crate::frame_data::Scene;
use crate::mapping::{FrequencyAxis, HIGH_HZ, LOW_HZ};
use crate::painter::{Painter, tooltip_area};
use crate::tokens::{Ink, size, space};
use egui::{Align2, Rect, Ui, pos2};
use plumbline_measure::bands::BAND_NAMES;
use plumbline_measure::{Readings, Spectral};
use plumbline_programme::verdict::Verdicts;
use plumbline_report::figures;

/// Rows in the order in which they are kept when space is tight.
const ROWS: [&str; 4] = ["dBFS", "Width", "Mono dB", "Corr."];

const TIP: &str = "The named bands: level in dBFS, width as side share in per cent, mono loss in dB, correlation −1 \
                   to +1. Set their edges in the settings.";

pub(super) fn bands_ui(
    ui: &Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    spectral: &Spectral,
    axis: FrequencyAxis,
) {
    let (rect, theme) = (scene.layout.bands, scene.theme);
    let rows = scene.layout.band_rows.min(ROWS.len());
    if rows == 0 {
        return;
    }
    for (row, label) in ROWS.iter().take(rows).enumerate() {
        let at = pos2(axis.x.min - 6.0, row_y(rect, row + 1));
        painter.text(at, Align2::RIGHT_CENTER, *label, size::AXIS, theme.muted);
    }
    for (band, name) in BAND_NAMES.into_iter().enumerate() {
        let span = scene.view.band_edges.span(band);
        let left = axis.x(span.low_hz.clamp(LOW_HZ, HIGH_HZ));
        let right = axis.x(span.high_hz.clamp(LOW_HZ, HIGH_HZ));
        let cell = Rect::from_x_y_ranges(left + 1.0..=right - 1.0, rect.y_range());
        if !cell.is_positive() {
            continue;
        }
        painter.block(cell, theme.panel);
        let x = cell.center().x;
        let room = cell.width() - 2.0;
        let at = pos2(x, row_y(rect, 0));
        painter.text_if_fits(at, Align2::CENTER_CENTER, name, size::SMALL, theme.text, room);
        let readings = &spectral.bands[band];
        for row in 0..rows {
            let (number, fault) = figure(readings, &scene.view.verdicts, row);
            let ink: Ink = if fault { theme.fault_text } else { theme.text };
            let at = pos2(x, row_y(rect, row + 1));
            let painted = painter.text_if_fits(at, Align2::CENTER_CENTER, &number, size::SMALL, ink, room);
            if painted && fault {
                // A mark before the number, so that a fault is not shown by colour alone.
                let mark = pos2(x - painter.line(&number, size::SMALL, ink).size().x / 2.0 - 7.0, at.y + 3.5);
                if mark.x - 4.0 > cell.left() {
                    painter.triangle(pos2(mark.x, mark.y - 7.0), 7.0, true, theme.fault);
                }
            }
        }
        tooltip_area(ui, cell, name, TIP, || {
            aloud(name, readings, &scene.view.verdicts, &figures::hz_span(&span))
        });
    }
}

fn row_y(rect: Rect, row: usize) -> f32 {
    let row = row as f32;
    rect.top() + 2.0 + space::LINE * (row + 0.5)
}

fn figure(readings: &Readings, verdicts: &Verdicts, row: usize) -> (String, bool) {
    match row {
        0 => (figures::plain(readings.level_dbfs, 1), false),
        1 => (figures::percent(readings.side_share), false),
        2 => (figures::loss(readings.mono_loss_db), verdicts.is_mono_fault(readings.mono_loss_db)),
        _ => (figures::signed(readings.correlation, 2), false),
    }
}

fn aloud(name: &str, readings: &Readings, verdicts: &Verdicts, span: &str) -> String {
    let figure = |row| figure(readings, verdicts, row).0;
    format!(
        "{name} {span}: level {} dBFS, width {}, mono loss {} dB, correlation {}",
        figure(0),
        figure(1),
        figure(2),
        figure(3)
    )
}
