//! Layout of the Layers page, from the size and the number of rows.

use crate::layout::ScreenLayout;
use crate::table::HEADS;
use crate::tokens::space;
use egui::Rect;

/// Height of a row of the table in points.
pub(super) const ROW: f32 = 22.0;
/// The least height below the table at which all blocks are shown there.
const LOW: f32 = 316.0;

/// The blocks of the page.
///
/// # Order of leaving out
/// If space is tight, aims, match and mono loss share one place, chosen by buttons; then that place is left out too.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct LayersLayout {
    pub(super) tools: Rect,
    pub(super) table: Rect,
    pub(super) spectrum: Rect,
    pub(super) matching: Option<Rect>,
    /// Aims, with mono loss below them.
    pub(super) side: Option<[Rect; 2]>,
    /// The place that aims, match and mono loss share.
    pub(super) one: Option<Rect>,
}

impl LayersLayout {
    pub(super) fn new(page: &ScreenLayout, area: Rect, rows: usize) -> Self {
        let gap = page.gap();
        let all = page.content(gap);
        let tools_h = (space::BUTTON + 2.0).min(all.height());
        let tools = all.with_max_y(all.top() + tools_h);
        let rest = all.with_min_y((tools.bottom() + gap * 0.5).min(all.bottom()));
        let wanted = HEADS + ROW * rows.max(1) as f32 + 4.0;
        // The table gets the height that the blocks below it do not need.
        let most = (rest.height() * 0.44).max(rest.height() - LOW - gap);
        let table_h = wanted.min(most).max((HEADS + ROW).min(rest.height()));
        let table = rest.with_max_y(rest.top() + table_h);
        let low = rest.with_min_y((table.bottom() + gap).min(rest.bottom()));
        let roomy = !page.compact && low.height() >= LOW - 1.0;
        if !roomy {
            let fits = low.width() >= 620.0 && low.height() >= 90.0;
            let (left, right) = low.split_left_right_at_fraction(if fits { 0.52 } else { 1.0 });
            let spectrum = if fits { left.with_max_x(left.right() - gap) } else { low };
            return Self { tools, table, spectrum, matching: None, side: None, one: fits.then_some(right) };
        }
        let side_w = (area.width() * 0.40).clamp(380.0, 540.0);
        let (left, right) =
            (low.with_max_x(low.right() - side_w - gap), low.with_min_x(low.right() - side_w));
        let (upper, lower) = left.split_top_bottom_at_fraction(0.56);
        let aims_h = (26.0 + 5.0 * 26.0 + 6.0_f32).min(right.height());
        let aims = right.with_max_y(right.top() + aims_h);
        let loss = right.with_min_y((aims.bottom() + gap).min(right.bottom()));
        Self {
            tools,
            table,
            spectrum: upper.with_max_y(upper.bottom() - gap),
            matching: Some(lower),
            side: Some([aims, loss]),
            one: None,
        }
    }

    /// Everything below the row of controls.
    pub(super) fn rest(&self) -> Rect {
        let mut all = self.table.union(self.spectrum);
        for rect in self.one.iter().chain(self.matching.iter()).chain(self.side.iter().flatten()) {
            all = all.union(*rect);
        }
        all
    }

    #[cfg(test)]
    fn blocks(&self) -> Vec<Rect> {
        let mut all = vec![self.tools, self.table, self.spectrum];
        all.extend(self.matching);
        all.extend(self.side.into_iter().flatten());
        all.extend(self.one);
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::{DEFAULT, SMALLEST, assert_apart_at_any_size};
    use egui::pos2;

    #[test]
    fn nothing_overlaps_and_all_is_inside_at_any_size() {
        for rows in [0, 1, 4, 12, 64] {
            assert_apart_at_any_size(|area, page| LayersLayout::new(page, area, rows).blocks());
        }
    }

    #[test]
    fn the_default_size_shows_all_of_it_and_the_smallest_one_at_a_time() {
        let of = |size: egui::Vec2| {
            let area = Rect::from_min_size(pos2(0.0, 0.0), size);
            LayersLayout::new(&ScreenLayout::new(area, true), area, 12)
        };
        let (full, small) = (of(DEFAULT), of(SMALLEST));
        assert!(full.matching.is_some() && full.side.is_some() && full.one.is_none());
        assert!(small.matching.is_none() && small.side.is_none() && small.one.is_some());
    }
}
