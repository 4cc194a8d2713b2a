//! Layout of the time lanes, from the size alone.

use crate::layout::TIME_FULL;
use crate::tokens::space;
use egui::{Rangef, Rect, pos2};

/// Height of the row of choices.
const TOOLS: f32 = 22.0;
/// Height of the row of findings.
const FINDINGS: f32 = 13.0;

/// One value over time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum TimeRow {
    Loudness,
    Width,
    Correlation,
    Shares,
}

/// The rows of the time lanes.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct TimeLayout {
    /// Controls, and the readings under the pointer; `None` in the short form, whose controls are in the gutter.
    pub(super) tools: Option<Rect>,
    /// The rows of values, top to bottom.
    pub(super) rows: Vec<(TimeRow, Rect)>,
    pub(super) findings: Rect,
    pub(super) labels: Rect,
    /// Horizontal range of the axis.
    pub(super) x: Rangef,
    /// The area that follows the pointer: rows, findings and labels.
    pub(super) field: Rect,
}

impl TimeLayout {
    /// The layout of an area. If space is tight, left out in this order: controls, shares, correlation, width.
    pub(super) fn new(rect: Rect, axis: Rangef, shares: bool) -> Self {
        let x =
            Rangef::new(axis.min.clamp(rect.left(), rect.right()), axis.max.clamp(rect.left(), rect.right()));
        let mut rest = rect;
        let full = rect.height() >= TIME_FULL * 0.75;
        let tools = full.then(|| {
            let row = rest.with_max_y(rest.top() + TOOLS);
            rest.min.y = row.bottom() + 2.0;
            row
        });
        let cut = |rest: &mut Rect, height: f32| {
            let y = (rest.bottom() - height).max(rest.top());
            let row = rest.with_min_y(y);
            rest.max.y = y;
            row
        };
        let labels = cut(&mut rest, space::LINE - 1.0);
        let findings = cut(&mut rest, if full { FINDINGS } else { FINDINGS - 2.0 });
        let kinds: &[(TimeRow, f32)] = match (full, shares) {
            (false, _) => &[(TimeRow::Loudness, 1.0)],
            (true, false) => {
                &[(TimeRow::Loudness, 0.46), (TimeRow::Width, 0.27), (TimeRow::Correlation, 0.27)]
            }
            (true, true) => &[
                (TimeRow::Loudness, 0.37),
                (TimeRow::Width, 0.20),
                (TimeRow::Correlation, 0.20),
                (TimeRow::Shares, 0.23),
            ],
        };
        let mut top = rest.top();
        let rows = kinds
            .iter()
            .map(|&(row, share)| {
                let height = rest.height() * share;
                let place = Rect::from_min_max(
                    pos2(rect.left(), top),
                    pos2(rect.right(), (top + height - 2.0).max(top)),
                );
                top += height;
                (row, place)
            })
            .collect();
        let field = Rect::from_x_y_ranges(x, rest.top()..=labels.bottom());
        Self { tools, rows, findings, labels, x, field }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::TIME_SHORT;

    #[test]
    fn rows_lie_apart_and_inside_at_any_size() {
        let mut ran = 0;
        for height in 0_u16..320 {
            for width in (0_u16..1_800).step_by(97) {
                for shares in [false, true] {
                    let (width, height) = (f32::from(width), f32::from(height));
                    let rect = Rect::from_min_size(pos2(7.0, 11.0), egui::vec2(width, height));
                    let axis = Rangef::new(7.0 + 92.0, 7.0 + width - 30.0);
                    let layout = TimeLayout::new(rect, axis, shares);
                    let mut blocks = vec![layout.findings, layout.labels];
                    blocks.extend(layout.tools);
                    blocks.extend(layout.rows.iter().map(|row| row.1));
                    crate::layout::assert_apart(rect, &blocks);
                    ran += 1;
                }
            }
        }
        assert_eq!(ran, 320 * 19 * 2);
    }

    #[test]
    fn the_short_form_keeps_loudness_and_findings_and_the_full_one_has_all() {
        let rect = |height| Rect::from_min_size(pos2(0.0, 0.0), egui::vec2(700.0, height));
        let axis = Rangef::new(92.0, 670.0);
        let short = TimeLayout::new(rect(TIME_SHORT), axis, true);
        assert_eq!(short.rows.iter().map(|row| row.0).collect::<Vec<_>>(), [TimeRow::Loudness]);
        assert!(short.tools.is_none() && short.rows[0].1.height() >= 22.0 && short.findings.height() >= 10.0);
        for shares in [false, true] {
            let full = TimeLayout::new(rect(TIME_FULL), axis, shares);
            assert_eq!(full.rows.len(), if shares { 4 } else { 3 });
            assert!(full.tools.is_some());
            assert!(full.rows.iter().all(|row| row.1.height() >= 18.0), "{full:?}");
        }
    }
}
