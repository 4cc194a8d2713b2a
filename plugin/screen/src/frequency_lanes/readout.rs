//! The readings of the lanes at the column cursor.

use super::lane::plot;
use crate::cursor::tag;
use crate::frame_data::Scene;
use crate::layout::Lane;
use crate::mapping::{FrequencyAxis, nearest_line};
use crate::painter::Painter;
use crate::settings::{Reference, Settings};
use egui::pos2;
use plumbline_measure::bands::{FIRST_ACCURATE_THIRD, THIRD_LABELS, third_at};
use plumbline_report::figures;

/// The readings of one lane at a frequency, as lines of text.
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
                let difference = reference.difference_db(&now, hz);
                let difference = figures::unit(figures::signed(difference, 1), "dB");
                lines.push(if reference.cells {
                    format!("Against reference {difference}")
                } else {
                    "Reference from an older version: store a new one".to_owned()
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
        session.roles_present().map(|(at, role)| format!("{} {}", role.name(), share(at))).collect();
    shares.join("  ·  ")
}

fn line_level(scene: &Scene<'_>, lines: &[f32], hz: f64) -> String {
    let level = nearest_line(&scene.view.line_hz, hz).and_then(|i| lines.get(i)).map(|&db| f64::from(db));
    figures::unit(figures::plain(level, 1), "dBFS")
}

/// Accessible text of a lane, with its readings at the cursor.
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

/// Paints the cursor across all lanes, and a tag in each.
pub(super) fn paint(painter: &Painter, scene: &Scene<'_>, settings: &Settings, axis: FrequencyAxis, hz: f64) {
    let (plan, theme) = (&scene.layout, scene.theme);
    let x = axis.x(hz).clamp(axis.x.min, axis.x.max);
    let (Some(first), Some(last)) = (plan.lanes.first(), plan.lanes.last()) else { return };
    let (top, bottom) = (first.1.top(), last.1.bottom());
    painter.hairline(pos2(x, top), pos2(x, bottom), theme.plumb);
    painter.triangle(pos2(x, bottom + 9.0), 9.0, false, theme.plumb);
    for &(lane, rect) in &plan.lanes {
        tag(painter, plot(rect, axis), x, &readings_at(scene, settings, lane, hz));
    }
}
