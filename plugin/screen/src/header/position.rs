//! Position in the song: timecode, frame rate, transport.

use crate::frame_data::Scene;
use crate::painter::{Painter, tooltip_area};
use crate::settings::Settings;
use crate::tokens::{size, space, stroke};
use egui::{Align2, Rect, StrokeKind, Ui, pos2, vec2};
use plumbline_measure::{SampleRate, Timecode};
use plumbline_programme::View;
use plumbline_report::figures;

/// The state of the transport.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Transport {
    Playing,
    Standing,
    NoAudio,
}

fn transport(view: &View) -> Transport {
    match (view.clock.running, view.clock.playing) {
        (false, _) => Transport::NoAudio,
        (true, true) => Transport::Playing,
        (true, false) => Transport::Standing,
    }
}

/// The position as a label, and the label's unit.
fn label(view: &View, settings: &Settings) -> (String, String) {
    let Ok(rate) = SampleRate::new(view.clock.rate_hz) else {
        return (figures::DASH.to_owned(), String::new());
    };
    if view.on_song_time() {
        let label = Timecode::label_at(settings.start, view.clock.position.sample, rate);
        return (label, format!("{}\u{a0}fps", settings.start.rate().name()));
    }
    let secs = view.clock.position.sample as f64 / rate.as_f64();
    (figures::duration(secs), "clock time".to_owned())
}

/// Paints the position right-aligned in `rect`; returns the area it takes.
pub(super) fn position_ui(
    ui: &Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    settings: &Settings,
    rect: Rect,
) -> Rect {
    let theme = scene.theme;
    let (label, counts) = label(scene.view, settings);
    let transport = transport(scene.view);
    let figure = if scene.layout.compact { size::FIGURE_COMPACT } else { size::FIGURE };
    let y = rect.center().y;
    let shape_at = pos2(rect.right() - space::GAP, y);
    shape(painter, Rect::from_center_size(shape_at, vec2(12.0, 12.0)), transport);
    let small = painter.line(counts.clone(), size::SMALL, theme.muted);
    let small_left = shape_at.x - space::GAP * 2.0 - small.size().x;
    painter.put(pos2(small_left, y + 2.0), Align2::LEFT_CENTER, small);
    let big =
        painter.text(pos2(small_left - space::GAP, y), Align2::RIGHT_CENTER, &label, figure, theme.text);
    let all = Rect::from_min_max(pos2(big.left(), rect.top()), rect.max);
    let moving = match transport {
        Transport::Playing => "playing",
        Transport::Standing => "stopped",
        Transport::NoAudio => "no audio",
    };
    let tip = "Position of the latest sample measured. SMPTE ST 12-1 timecode; set the frame rate and the timecode \
               of the song's start in the settings. Without a song position, the time is the computer's clock.";
    tooltip_area(ui, all, "position", tip, || format!("Position {label}, {counts}, {moving}"));
    all
}

fn shape(painter: &Painter, rect: Rect, transport: Transport) {
    let theme = painter.theme;
    match transport {
        Transport::Playing => {
            let points = vec![rect.left_top(), pos2(rect.right(), rect.center().y), rect.left_bottom()];
            painter.polygon(points, theme.text);
        }
        Transport::Standing => painter.fill(rect.shrink(1.5), theme.muted),
        Transport::NoAudio => {
            painter.outline(rect.shrink(1.5), 0.0, stroke::MARK, theme.muted, StrokeKind::Inside);
        }
    }
}
