//! The right column: what is now. Stereo scope, correlation, balance, loudness, peaks.

mod loudness;
mod meters;
mod scope;
mod shares;

pub(crate) use scope::ScopeGain;

use crate::painter::Painter;
use crate::screen::{Scene, Screen};
use crate::tokens::space;
use egui::{Rect, Ui, pos2};

/// Heights in points of the blocks under the scope.
const NEEDLE_H: f32 = 44.0;
const PEAKS_H: f32 = 68.0;
const SCOPE_LEAST: f32 = 84.0;
/// Height of the column from which the balance of layers shows all stretches.
const FULL_FROM: f32 = 420.0;

/// Paints the column: the loudness is cut off last, then correlation, then the scope; balance and peaks go first.
pub(crate) fn now_ui(screen: &mut Screen, ui: &Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let gap = if scene.plan.compact { space::GAP_COMPACT } else { space::GAP };
    let narrow = rect.width() < 240.0;
    let layers = crate::company::has_layers(&scene.view.session);
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

    loudness::loudness_ui(ui, painter, scene, screen.settings(), loudness);
    if let Some(rect) = shares {
        shares::shares_ui(screen, ui, painter, scene, rect, full);
    }
    if let Some(rect) = peaks {
        meters::peaks_ui(ui, painter, scene, rect);
    }
    match (needles, balance) {
        (Some(correlation), Some(balance)) => {
            meters::correlation_ui(ui, painter, scene, correlation);
            meters::balance_ui(ui, painter, scene, balance);
        }
        (Some(row), None) if !narrow => {
            let (left, right) = row.split_left_right_at_fraction(0.5);
            meters::correlation_ui(ui, painter, scene, left.with_max_x(left.right() - gap / 2.0));
            meters::balance_ui(ui, painter, scene, right.with_min_x(right.left() + gap / 2.0));
        }
        (Some(correlation), None) => meters::correlation_ui(ui, painter, scene, correlation),
        (None, _) => {}
    }
    if rest.height() >= 40.0 {
        scope::scope_ui(&mut screen.scope, ui, painter, scene, rest);
    }
}

fn bottom(rest: &mut Rect, height: f32, gap: f32) -> Rect {
    let y = (rest.bottom() - height).max(rest.top());
    let row = Rect::from_min_max(pos2(rest.left(), y), rest.max);
    rest.max.y = (y - gap).max(rest.top());
    row
}
