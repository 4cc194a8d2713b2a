//! The stereo scope: mid is up, side is sideways, and the newest samples are the strongest.

use crate::frame_data::Scene;
use crate::mapping::single;
use crate::painter::{Painter, tooltip_area};
use crate::tokens::{size, space, stroke};
use egui::epaint::Mesh;
use egui::{Align2, Pos2, Rect, Shape, Stroke, Ui, Vec2, pos2, vec2};
use plumbline_report::figures;

/// Gain of the scope in steps of 6 dB. It drops at once, so that nothing leaves the field, and rises again after quiet
/// sound.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct ScopeGain {
    step: Option<i32>,
    serial: u64,
    quiet_views: u32,
}

/// Quiet views before the gain rises: 1 s at 60 views a second.
const QUIET_VIEWS: u32 = 60;
/// The maximum gain, in steps of 6 dB.
const MOST: i32 = 10;

impl ScopeGain {
    fn follow(&mut self, serial: u64, largest: f32) -> i32 {
        let wanted = wanted_step(largest);
        let step = self.step.unwrap_or(wanted);
        if serial == self.serial && self.step.is_some() {
            return step.min(wanted);
        }
        self.serial = serial;
        self.quiet_views = if wanted > step { self.quiet_views + 1 } else { 0 };
        let next = if wanted < step || self.quiet_views >= QUIET_VIEWS { wanted } else { step };
        if next != step {
            self.quiet_views = 0;
        }
        self.step = Some(next);
        next
    }
}

fn wanted_step(largest: f32) -> i32 {
    if !(largest.is_finite() && largest > 0.0) {
        return 0;
    }
    #[expect(clippy::cast_possible_truncation, reason = "a logarithm of a finite float")]
    let step = (1.0 / largest).log2().floor() as i32;
    step.clamp(0, MOST)
}

const TIP: &str = "The latest samples, mid (L+R)/2 upwards and side (R−L)/2 sideways: a vertical line is mono, a \
                   horizontal line is one channel inverted, a cloud is unrelated sound. The gain in the corner keeps \
                   quiet sound visible, in steps of 6 dB. A sample over full scale is drawn as a larger dot at the \
                   edge.";

/// The least radius at which left and right are labelled.
const LETTERS_FROM: f32 = 22.0;

pub(super) fn scope_ui(gain: &mut ScopeGain, ui: &Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let theme = scene.theme;
    painter.block(rect, theme.panel);
    let radius = ((rect.width().min(rect.height())) / 2.0 - space::LINE).max(8.0);
    let centre = rect.center();
    let corners = [vec2(0.0, -radius), vec2(radius, 0.0), vec2(0.0, radius), vec2(-radius, 0.0)];
    let diamond: Vec<Pos2> = corners.iter().map(|c| centre + *c).collect();
    let frame = Stroke::new(stroke::HAIR, theme.grid_strong);
    painter.egui.add(Shape::convex_polygon(diamond, theme.plot, frame));
    for half in [vec2(radius, radius), vec2(-radius, radius)] {
        painter
            .egui
            .line_segment([centre - half / 2.0, centre + half / 2.0], Stroke::new(stroke::HAIR, theme.grid));
    }
    painter.hairline(centre - vec2(0.0, radius), centre + vec2(0.0, radius), theme.grid_strong);
    painter.hairline(centre - vec2(radius, 0.0), centre + vec2(radius, 0.0), theme.grid);

    let samples = &scene.view.scope;
    let largest = samples.iter().flatten().filter(|v| v.is_finite()).fold(0.0_f32, |m, v| m.max(v.abs()));
    let step = gain.follow(scene.view.serial, largest);
    let over = sample_mesh(&painter.within(rect), samples, centre, radius * 2.0_f32.powi(step));

    let label = |offset: Vec2, anchor: Align2, text: &str| {
        painter.text(centre + offset, anchor, text, size::AXIS, theme.muted);
    };
    let diagonal = radius / 2.0 + 4.0;
    // In a small scope the letters would touch "mid".
    if radius >= LETTERS_FROM {
        label(vec2(-diagonal, -diagonal), Align2::RIGHT_BOTTOM, "L");
        label(vec2(diagonal, -diagonal), Align2::LEFT_BOTTOM, "R");
    }
    label(vec2(0.0, -radius - 1.0), Align2::CENTER_BOTTOM, "mid");
    if rect.width() / 2.0 - radius > 30.0 {
        label(vec2(radius + 4.0, 0.0), Align2::LEFT_CENTER, "side");
    }
    let decibels = format!("+{} dB", 6 * step);
    let corner = pos2(rect.right() - space::INSET, rect.bottom() - space::NEAR);
    if step > 0 {
        painter.text(corner, Align2::RIGHT_BOTTOM, &decibels, size::AXIS, theme.muted);
    }
    let at = pos2(rect.left() + space::INSET, rect.bottom() - space::NEAR);
    if over {
        // Cut to the space beside the diamond.
        let room = rect.width() / 2.0 - space::INSET - space::NEAR;
        for words in [OVER, "Over 0 dBFS", "Over"] {
            let ink = theme.fault_text;
            if painter.text_if_fits(at, Align2::LEFT_BOTTOM, words, size::AXIS, ink, room) {
                break;
            }
        }
    }
    if largest == 0.0 {
        let why = if scene.view.past.is_some() { "not kept" } else { "no signal" };
        painter.text(at, Align2::LEFT_BOTTOM, format!("{} {why}", figures::DASH), size::AXIS, theme.muted);
    }
    let told = if over { format!(". {OVER}: drawn at the edge") } else { String::new() };
    tooltip_area(ui, rect, "scope", TIP, || format!("Stereo scope, gain {} dB{told}", 6 * step));
}

/// The words shown while samples are over full scale.
const OVER: &str = "Over full scale";

/// A sample clamped to full scale, and whether it was over full scale.
fn clamped([left, right]: [f32; 2]) -> ([f32; 2], bool) {
    let over = left.abs() > 1.0 || right.abs() > 1.0;
    ([left.clamp(-1.0, 1.0), right.clamp(-1.0, 1.0)], over)
}

/// The samples as small squares in one mesh, the newest on top; those over full scale are larger and on the edge.
/// Returns whether any are.
fn sample_mesh(painter: &Painter, samples: &[[f32; 2]], centre: Pos2, gain: f32) -> bool {
    let newest = &samples[samples.len().saturating_sub(MOST_POINTS)..];
    let count = single(f64::from(u32::try_from(newest.len()).unwrap_or(u32::MAX)).max(1.0));
    let mut mesh = Mesh::default();
    mesh.reserve_vertices(newest.len() * 4);
    mesh.reserve_triangles(newest.len() * 2);
    let mut index = 0.0_f32;
    let mut any_over = false;
    for sample in newest {
        index += 1.0;
        if !sample.iter().all(|v| v.is_finite()) {
            continue;
        }
        let ([left, right], over) = clamped(*sample);
        any_over |= over;
        // The diamond is the field of all samples within full scale: |mid| + |side| ≤ 1.
        let offset = vec2((right - left) / 2.0, -(left + right) / 2.0) * gain;
        let (side, ink) = if over {
            (OVER_DOT, painter.theme.fault)
        } else {
            (DOT, painter.theme.scope_at(1.0 - index / count))
        };
        mesh.add_colored_rect(Rect::from_center_size(centre + offset, Vec2::splat(side)), ink);
    }
    painter.egui.add(Shape::mesh(mesh));
    any_over
}

/// Sides of the dots in points: of a sample within full scale, and of one over it.
const DOT: f32 = 1.5;
const OVER_DOT: f32 = 3.0;

/// The most points to paint: a bound on the cost of a frame.
const MOST_POINTS: usize = 2_048;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gain_falls_at_once_and_rises_after_a_while() {
        let mut gain = ScopeGain::default();
        assert_eq!(gain.follow(1, 0.1), 3);
        assert_eq!(gain.follow(2, 0.9), 0);
        for serial in 0..59 {
            assert_eq!(gain.follow(3 + serial, 0.1), 0, "view {serial}");
        }
        assert_eq!(gain.follow(100, 0.1), 3);
        assert_eq!(gain.follow(100, 0.1), 3);
    }

    #[test]
    fn samples_over_full_scale_lie_on_the_edge_of_the_field() {
        for sample in [[1.5, 0.2], [-7.0, 1.0], [f32::MAX, -f32::MAX], [0.3, -1.000_001]] {
            let ([left, right], over) = clamped(sample);
            assert!(over, "{sample:?}");
            // The edge of the diamond is |mid| + |side| = 1: the larger channel at full scale.
            let (mid, side) = ((left + right) / 2.0, (right - left) / 2.0);
            assert!((mid.abs() + side.abs() - 1.0).abs() < 1e-6, "{sample:?}");
        }
        assert_eq!(clamped([1.0, -1.0]), ([1.0, -1.0], false), "full scale is within");
    }

    #[test]
    fn gain_never_sends_a_sample_out_of_the_field() {
        for largest in [1.0, 0.51, 0.5, 0.3, 0.001, 1e-30, 0.0, 7.0, f32::NAN, f32::INFINITY] {
            let step = wanted_step(largest);
            assert!((0..=MOST).contains(&step));
            if largest <= 1.0 {
                assert!(largest * 2.0_f32.powi(step) <= 1.0, "{largest}");
            }
        }
    }
}
