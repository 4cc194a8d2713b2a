//! Layout of the Log page, from the size alone.

use crate::layout::ScreenLayout;
use crate::tokens::space;
use egui::Rect;

/// Width of the right column: the rules, with the selected finding below them.
const SIDE: f32 = 344.0;
/// Height of the line for export.
const EXPORT: f32 = 30.0;
/// Width at which all kinds and their counts fit on one line, even with 2,000 findings.
const ONE_LINE: f32 = 1_140.0;

/// The blocks of the page. If space is tight, rules and table share one place, chosen by buttons.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct LogLayout {
    pub(super) tools: Rect,
    pub(super) table: Rect,
    /// Rules, and the selected finding.
    pub(super) side: Option<[Rect; 2]>,
    pub(super) export: Rect,
}

impl LogLayout {
    pub(super) fn new(page: &ScreenLayout) -> Self {
        let gap = page.gap();
        let whole = page.content(gap * 0.5);
        let lines = if page.compact || whole.width() < ONE_LINE { 2.0 } else { 1.0 };
        let tools_h = lines * (space::BUTTON + 2.0);
        let tools = whole.with_max_y((whole.top() + tools_h).min(whole.bottom()));
        let export = whole.with_min_y((whole.bottom() - EXPORT).max(tools.bottom()));
        let under = (tools.bottom() + gap * 0.5).min(export.top());
        let rest = whole.with_min_y(under).with_max_y((export.top() - gap * 0.5).max(under));
        if page.compact {
            return Self { tools, table: rest, side: None, export };
        }
        let side = rest.with_min_x((rest.right() - SIDE).max(rest.left()));
        let table = rest.with_max_x((side.left() - gap).max(rest.left()));
        let rules = side.with_max_y((side.top() + super::rules::HEIGHT).min(side.bottom()));
        let selected = side.with_min_y((rules.bottom() + gap).min(side.bottom()));
        Self { tools, table, side: Some([rules, selected]), export }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::{DEFAULT, SMALLEST, assert_apart_at_any_size};
    use egui::pos2;

    #[test]
    fn nothing_overlaps_and_all_is_inside_at_any_size() {
        assert_apart_at_any_size(|_, page| {
            let layout = LogLayout::new(page);
            let side = layout.side.into_iter().flatten();
            [layout.tools, layout.table, layout.export].into_iter().chain(side).collect()
        });
    }

    #[test]
    fn the_default_size_shows_all_of_it_and_the_smallest_the_table_or_the_rules() {
        let of = |size: egui::Vec2| {
            LogLayout::new(&ScreenLayout::new(Rect::from_min_size(pos2(0.0, 0.0), size), true))
        };
        let full = of(DEFAULT);
        let [rules, selected] = full.side.expect("room for the rules");
        assert!(rules.height() >= super::super::rules::HEIGHT && selected.height() > 150.0);
        let small = of(SMALLEST);
        assert!(small.side.is_none() && small.table.height() > 280.0, "{small:?}");
    }
}
