//! Where the rows of the time lanes lie: pure, from the size alone.

use crate::tokens::space;
use egui::{Rangef, Rect, pos2};

/// Height of the short form: loudness and findings on one axis.
pub(crate) const SHORT: f32 = 52.0;
/// Height of all rows at the default size.
pub(crate) const FULL: f32 = 168.0;

/// Height of the row of choices.
const TOOLS: f32 = 22.0;
/// Height of the row of findings.
const FINDINGS: f32 = 13.0;

/// One value over time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Row {
    Loudness,
    Width,
    Correlation,
    Shares,
}

/// Where the rows lie.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Plan {
    /// Choices and the reading under the pointer; none in the short form, which has them in the gutter.
    pub(super) tools: Option<Rect>,
    /// The rows of values, top to bottom.
    pub(super) rows: Vec<(Row, Rect)>,
    pub(super) findings: Rect,
    pub(super) labels: Rect,
    /// Horizontal range of the axis.
    pub(super) x: Rangef,
    /// All that follows the pointer: rows, findings and labels.
    pub(super) field: Rect,
}

impl Plan {
    /// Parts a place. What does not fit goes in this order: tools, shares, correlation, width.
    pub(super) fn new(rect: Rect, axis: Rangef, shares: bool) -> Self {
        let x =
            Rangef::new(axis.min.clamp(rect.left(), rect.right()), axis.max.clamp(rect.left(), rect.right()));
        let mut rest = rect;
        let full = rect.height() >= FULL * 0.75;
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
        let kinds: &[(Row, f32)] = match (full, shares) {
            (false, _) => &[(Row::Loudness, 1.0)],
            (true, false) => &[(Row::Loudness, 0.46), (Row::Width, 0.27), (Row::Correlation, 0.27)],
            (true, true) => {
                &[(Row::Loudness, 0.37), (Row::Width, 0.20), (Row::Correlation, 0.20), (Row::Shares, 0.23)]
            }
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

    #[test]
    fn rows_lie_apart_and_inside_at_any_size() {
        let mut ran = 0;
        for height in 0_u16..320 {
            for width in (0_u16..1_800).step_by(97) {
                for shares in [false, true] {
                    let (width, height) = (f32::from(width), f32::from(height));
                    let rect = Rect::from_min_size(pos2(7.0, 11.0), egui::vec2(width, height));
                    let axis = Rangef::new(7.0 + 92.0, 7.0 + width - 30.0);
                    let plan = Plan::new(rect, axis, shares);
                    let mut blocks = vec![plan.findings, plan.labels];
                    blocks.extend(plan.tools);
                    blocks.extend(plan.rows.iter().map(|row| row.1));
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
        let short = Plan::new(rect(SHORT), axis, true);
        assert_eq!(short.rows.iter().map(|row| row.0).collect::<Vec<_>>(), [Row::Loudness]);
        assert!(short.tools.is_none() && short.rows[0].1.height() >= 22.0 && short.findings.height() >= 10.0);
        for shares in [false, true] {
            let full = Plan::new(rect(FULL), axis, shares);
            assert_eq!(full.rows.len(), if shares { 4 } else { 3 });
            assert!(full.tools.is_some());
            assert!(full.rows.iter().all(|row| row.1.height() >= 18.0), "{full:?}");
        }
    }
}
