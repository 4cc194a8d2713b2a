//! Layout of the Mics page, from the size alone.

use crate::layout::ScreenLayout;
use crate::tokens::space;
use egui::Rect;

/// The least height of the right column at which it shows all three pictures.
const TALL: f32 = 470.0;

/// The blocks of the page. If space is tight, the pictures share one place, chosen by buttons.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct MicsLayout {
    pub(super) tools: Rect,
    /// Everything below the row of controls.
    pub(super) all: Rect,
    pub(super) list: Rect,
    pub(super) advice: Rect,
    /// Correlation, comb, drift.
    pub(super) pictures: [Option<Rect>; 3],
    pub(super) one: Option<Rect>,
}

impl MicsLayout {
    pub(super) fn new(page: &ScreenLayout, trial: bool) -> Self {
        let gap = page.gap();
        let whole = page.content(gap);
        let tools = whole.with_max_y((whole.top() + space::BUTTON + 2.0).min(whole.bottom()));
        let all = whole.with_min_y((tools.bottom() + gap * 0.5).min(whole.bottom()));
        let (left, right) = all.split_left_right_at_fraction(if page.compact { 0.42 } else { 0.36 });
        let list = left.with_max_x((left.right() - gap).max(left.left()));
        let base = if page.compact { 150.0 } else { 158.0 };
        let advice_h = (base + if trial { space::BUTTON + space::NEAR } else { 0.0_f32 }).min(right.height());
        let advice = right.with_max_y(right.top() + advice_h);
        let rest = right.with_min_y((advice.bottom() + gap).min(right.bottom()));
        let mut layout = Self { tools, all, list, advice, pictures: [None; 3], one: None };
        if right.height() < TALL {
            layout.one = (rest.height() >= 60.0).then_some(rest);
            return layout;
        }
        let (lag, under) = rest.split_top_bottom_at_fraction(0.30);
        let (comb, drift) = under.split_top_bottom_at_fraction(0.68);
        layout.pictures = [
            Some(lag),
            Some(comb.with_min_y((comb.top() + gap).min(comb.bottom()))),
            Some(drift.with_min_y((drift.top() + gap).min(drift.bottom()))),
        ];
        layout
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::assert_apart_at_any_size;

    #[test]
    fn nothing_overlaps_and_all_is_inside_at_any_size() {
        for trial in [false, true] {
            assert_apart_at_any_size(|_, page| {
                let layout = MicsLayout::new(page, trial);
                let pictures = layout.pictures.into_iter().flatten().chain(layout.one);
                [layout.tools, layout.list, layout.advice].into_iter().chain(pictures).collect()
            });
        }
    }
}
