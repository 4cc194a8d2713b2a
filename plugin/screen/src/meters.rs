//! The column of meters at the right: stereo scope, correlation, balance, loudness, peaks.

mod correlation;
mod loudness;
mod peaks;
mod scope;
mod shares;

pub(crate) use scope::ScopeGain;

use crate::frame_data::Scene;
use crate::painter::Painter;
use crate::session_view;
use crate::settings::Settings;
use egui::{Rect, Ui, pos2};

/// Heights in points of the blocks below the scope.
const NEEDLE_H: f32 = 44.0;
const PEAKS_H: f32 = 68.0;
const SCOPE_LEAST: f32 = 84.0;
/// The least height of the column at which the balance of layers shows all stretches.
const FULL_FROM: f32 = 420.0;

/// Paints the column. If space is tight, balance and peaks are left out first, then scope, correlation, loudness.
pub(crate) fn meters_ui(
    settings: &mut Settings,
    gain: &mut ScopeGain,
    ui: &Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
) {
    let gap = scene.layout.gap();
    let narrow = rect.width() < 240.0;
    let layers = session_view::has_layers(&scene.view.session);
    let loudness_h = loudness::height(narrow, layers);
    let mut rest = rect;
    let loudness = bottom(&mut rest, loudness_h, gap);
    let full = rect.height() >= FULL_FROM;
    let shares = (layers && rest.height() >= shares::height(&scene.view.session, full))
        .then(|| bottom(&mut rest, shares::height(&scene.view.session, full), gap));
    let spare = |rest: &Rect, block: f32| rest.height() >= block + gap + NEEDLE_H + gap + SCOPE_LEAST;
    let peaks = spare(&rest, PEAKS_H).then(|| bottom(&mut rest, PEAKS_H, gap));
    let needles = (rest.height() >= NEEDLE_H).then(|| bottom(&mut rest, NEEDLE_H, gap));
    let balance = (narrow && spare(&rest, 0.0)).then(|| bottom(&mut rest, NEEDLE_H, gap));

    loudness::loudness_ui(ui, painter, scene, settings, loudness);
    if let Some(rect) = shares {
        shares::shares_ui(settings, ui, painter, scene, rect, full);
    }
    if let Some(rect) = peaks {
        peaks::peaks_ui(ui, painter, scene, rect);
    }
    match (needles, balance) {
        (Some(correlation), Some(balance)) => {
            correlation::correlation_ui(ui, painter, scene, correlation);
            correlation::balance_ui(ui, painter, scene, balance);
        }
        (Some(row), None) if !narrow => {
            let (left, right) = row.split_left_right_at_fraction(0.5);
            correlation::correlation_ui(ui, painter, scene, left.with_max_x(left.right() - gap / 2.0));
            correlation::balance_ui(ui, painter, scene, right.with_min_x(right.left() + gap / 2.0));
        }
        (Some(correlation), None) => correlation::correlation_ui(ui, painter, scene, correlation),
        (None, _) => {}
    }
    if rest.height() >= 40.0 {
        scope::scope_ui(gain, ui, painter, scene, rest);
    }
}

fn bottom(rest: &mut Rect, height: f32, gap: f32) -> Rect {
    let y = (rest.bottom() - height).max(rest.top());
    let row = Rect::from_min_max(pos2(rest.left(), y), rest.max);
    rest.max.y = (y - gap).max(rest.top());
    row
}
