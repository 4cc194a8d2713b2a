//! The Log page: findings with timecode, their rules, and export.

mod controls;
mod export;
mod layout;
mod order;
mod rules;
mod selected;
mod state;
mod table;

pub(crate) use state::LogState;

use crate::frame_data::Scene;
use crate::page_state::Shared;
use crate::painter::{Painter, named_area};
use crate::table::empty_state;
use egui::{Rect, Ui};
use layout::LogLayout;
use plumbline_programme::Log;
use plumbline_report::{figures, words};
use state::LogBlock;

/// Paints the page.
pub(crate) fn log_ui(
    shared: &mut Shared,
    state: &mut LogState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
) {
    let layout = LogLayout::new(&scene.layout);
    controls::controls_ui(state, ui, scene, layout.tools, layout.side.is_none());
    if let Some([rules, selected]) = layout.side {
        rules::rules_ui(shared, ui, painter, scene, rules);
        selected::selected_ui(shared, state, ui, painter, scene, selected);
    }
    if layout.side.is_none() && state.block == LogBlock::Rules {
        rules::rules_ui(shared, ui, painter, scene, layout.table);
    } else {
        findings_ui(shared, state, ui, painter, scene, layout.table);
    }
    export::export_ui(shared, state, ui, painter, scene, layout.export);
}

fn findings_ui(
    shared: &mut Shared,
    state: &mut LogState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
) {
    let log = &*scene.view.log;
    let rows = order::order(&log.findings, &state.filter);
    if rows.is_empty() {
        let [head, body] = nothing(log, log.findings.len());
        empty_state(painter, rect, [&head, &body], 0.0);
        named_area(ui, rect, "no findings", || format!("{head}. {body}"));
        return;
    }
    table::table_ui(shared, state, ui, painter, scene, rect, &rows);
}

/// Why the table is empty: a heading and a sentence.
fn nothing(log: &Log, hidden: usize) -> [String; 2] {
    let heard = log.passages.first().map_or(0.0, |all| all.secs);
    if hidden > 0 {
        let hidden = figures::count(hidden as f64, "finding is", "findings are");
        return ["Nothing to show".to_owned(), format!("{hidden} hidden by the choice above the table.")];
    }
    if heard > 0.0 {
        return [
            format!("Nothing broke a rule in {}", words::length(heard)),
            "That is all that was heard since reset.".to_owned(),
        ];
    }
    [
        "Nothing heard yet".to_owned(),
        "Findings appear here with timecode while the song plays, and stay.".to_owned(),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_programme::PassageLine;

    #[test]
    fn an_empty_table_says_why_and_over_how_long() {
        let heard =
            Log { passages: vec![PassageLine { secs: 184.0, ..PassageLine::default() }], ..Log::default() };
        assert_eq!(nothing(&heard, 0)[0], "Nothing broke a rule in 3\u{a0}min 04\u{a0}s");
        assert_eq!(nothing(&Log::default(), 0)[0], "Nothing heard yet");
        assert!(nothing(&heard, 1)[1].starts_with("1\u{a0}finding is hidden"));
        assert!(nothing(&heard, 7)[1].starts_with("7\u{a0}findings are hidden"));
    }
}
