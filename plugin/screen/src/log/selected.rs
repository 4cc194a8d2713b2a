//! The selected finding in full.

use super::state::{LogState, rewind};
use super::table;
use crate::frame_data::Scene;
use crate::intent::Intent;
use crate::page_state::Shared;
use crate::painter::{Painter, named_area};
use crate::settings::Settings;
use crate::severity_marks::severity_shape;
use crate::time_label;
use crate::tokens::{size, space};
use crate::widgets;
use egui::{Align2, Rect, Ui, pos2, vec2};
use plumbline_programme::{Command, Finding, View};
use plumbline_report::words;

pub(super) fn selected_ui(
    shared: &mut Shared,
    state: &LogState,
    ui: &mut Ui,
    painter: &Painter,
    scene: &Scene<'_>,
    rect: Rect,
) {
    if rect.height() < 60.0 || rect.width() < 120.0 {
        return;
    }
    let theme = scene.theme;
    painter.block(rect, theme.panel);
    let inside = rect.shrink2(vec2(space::INSET, space::NEAR));
    let Some(finding) = state.selected(&scene.view.log) else {
        let text = "Click a finding to see the page at its worst moment and its full advice here. Up and Down move \
                    through the list, Enter shows the moment, V ticks it as done.";
        if let Some(galley) = painter.first_that_fits(&[text], size::SMALL, theme.muted, inside.size()) {
            painter.put(inside.left_top(), Align2::LEFT_TOP, galley);
        }
        return;
    };
    let buttons = inside.with_min_y((inside.bottom() - space::BUTTON).max(inside.top()));
    let advice = words::advice(finding);
    let lines = lines(scene.view, &shared.settings, finding);
    let mut y = inside.top() + space::LINE / 2.0 + 2.0;
    severity_shape(painter, pos2(inside.left() + 6.0, y), 12.0, finding.grade, finding.seen);
    let head = format!("{}  ·  {}", words::kind(finding.kind), words::grade(finding.grade).to_lowercase());
    painter.text(pos2(inside.left() + 20.0, y), Align2::LEFT_CENTER, head, size::BODY, theme.text);
    y += space::LINE + 3.0;
    for (name, text) in &lines {
        if y + space::LINE > buttons.top() {
            break;
        }
        painter.text(pos2(inside.left(), y), Align2::LEFT_CENTER, *name, size::SMALL, theme.muted);
        let left = inside.left() + 52.0;
        let galley = painter.fitted(text, size::SMALL, (inside.right() - left).max(0.0));
        painter.put(pos2(left, y), Align2::LEFT_CENTER, galley);
        y += space::LINE;
    }
    let room = vec2(inside.width(), buttons.top() - y - space::NEAR);
    let sentence = painter
        .first_that_fits(&[&advice], size::BODY, theme.text, room)
        .or_else(|| painter.first_that_fits(&[&advice], size::AXIS, theme.text, room));
    if let Some(sentence) = sentence {
        painter.put(pos2(inside.left(), y - 4.0), Align2::LEFT_TOP, sentence);
    }
    let text = || {
        let lines: Vec<String> = lines.iter().map(|(name, text)| format!("{name}: {text}")).collect();
        format!("Selected finding: {}. {}. {advice}", words::kind(finding.kind), lines.join(", "))
    };
    named_area(ui, rect.with_max_y(buttons.top()), "finding in full", text).on_hover_text(&advice);
    buttons_ui(shared, ui, finding, buttons);
}

fn lines(view: &View, settings: &Settings, finding: &Finding) -> Vec<(&'static str, String)> {
    let at = |tenth| time_label::tenth(view, settings, finding.grid, tenth);
    let end = if finding.open { "ongoing".to_owned() } else { format!("to {}", at(finding.end)) };
    let mut lines = vec![
        ("When", format!("{} {end}  ·  {}", at(finding.start), table::lasts(finding))),
        ("Worst", format!("{} at {}", words::worst(finding), at(finding.at))),
        ("Where", words::span(finding.span)),
    ];
    let whose = words::concerns(finding);
    if !whose.is_empty() {
        lines.push(("Owner", whose));
    }
    lines
}

fn buttons_ui(shared: &mut Shared, ui: &mut Ui, finding: &Finding, rect: Rect) {
    let mut row = widgets::row(ui, "finding buttons", rect);
    let tip = "Shows the screen at the finding's worst tenth of a second (Enter). Measuring continues.";
    if row.button("Show the moment").on_hover_text(tip).clicked() {
        shared.intents.push(rewind(finding));
    }
    let (label, name) = if finding.seen { ("Not done", "Remove the tick") } else { ("Done", "Tick as done") };
    let tip = "Ticks it as done, or removes the tick (V)";
    if row.button(label).on_hover_text(tip).accessible_name(name).clicked() {
        shared.intents.push(Intent::Command(Command::SetDone(finding.id, !finding.seen)));
    }
}
