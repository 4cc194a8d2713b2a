//! Layout of the Joins page, from the size and the number of passages.

use super::statistics::{HEADS, ROW};
use crate::layout::ScreenLayout;
use crate::tokens::space;
use egui::Rect;

/// The blocks of the page: the list beside the selected join, the statistics under both.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct JoinsLayout {
    pub(super) tools: Rect,
    pub(super) list: Rect,
    pub(super) selected: Rect,
    pub(super) statistics: Rect,
}

impl JoinsLayout {
    pub(super) fn new(page: &ScreenLayout, passages: usize) -> Self {
        let gap = page.gap();
        let whole = page.content(gap);
        let tools = whole.with_max_y((whole.top() + space::BUTTON + 2.0).min(whole.bottom()));
        let rest = whole.with_min_y((tools.bottom() + gap * 0.5).min(whole.bottom()));
        let wanted = HEADS + ROW * passages.max(1) as f32 + 4.0;
        // If space is tight, the buttons that choose columns are above the heads.
        let wanted = wanted + space::BUTTON + 2.0;
        let low = wanted.min(rest.height() * if page.compact { 0.40 } else { 0.46 });
        let statistics = rest.with_min_y(rest.bottom() - low);
        let upper = rest.with_max_y((statistics.top() - gap).max(rest.top()));
        let (left, right) = upper.split_left_right_at_fraction(if page.compact { 0.60 } else { 0.55 });
        let list = left.with_max_x((left.right() - gap).max(left.left()));
        Self { tools, list, selected: right, statistics }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::{DEFAULT, SMALLEST, assert_apart_at_any_size};
    use egui::pos2;

    #[test]
    fn nothing_overlaps_and_all_is_inside_at_any_size() {
        for passages in [0, 1, 4, 2_001] {
            assert_apart_at_any_size(|_, page| {
                let layout = JoinsLayout::new(page, passages);
                vec![layout.tools, layout.list, layout.selected, layout.statistics]
            });
        }
    }

    #[test]
    fn statistics_take_what_their_rows_need_and_no_more_than_their_share() {
        let of = |size: egui::Vec2, passages| {
            let area = Rect::from_min_size(pos2(0.0, 0.0), size);
            JoinsLayout::new(&ScreenLayout::new(area, true), passages)
        };
        let few = of(DEFAULT, 4);
        assert!(few.statistics.height() < 150.0 && few.selected.height() > 400.0, "{few:?}");
        let many = of(DEFAULT, 500);
        assert!(many.statistics.height() > 250.0 && many.selected.height() > 300.0, "{many:?}");
        assert!(of(SMALLEST, 4).selected.height() > 210.0);
    }
}
