//! The selected finding in full.

use super::{grade_shape, rewind, table};
use crate::painter::{Painter, name_only};
use crate::screen::{Intent, Scene, Screen};
use crate::tokens::{size, space};
use crate::when;
use egui::{Align, Align2, Layout, Rect, Ui, UiBuilder, pos2, vec2};
use plumbline_programme::Finding;
use plumbline_report::words;

pub(super) fn detail_ui(screen: &mut Screen, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    if rect.height() < 60.0 || rect.width() < 120.0 {
        return;
    }
    let theme = scene.theme;
    painter.block(rect, theme.panel);
    let inside = rect.shrink2(vec2(space::INSET, space::NEAR));
    let Some(finding) = screen.log.selected(&scene.view.log) else {
        let text = "Click a finding to see the page as it was at its worst moment; its advice stands here in full. Up and \
                    Down go through the list, Enter shows the moment, V ticks it as seen.";
        if let Some(galley) = painter.first_that_fits(&[text], size::SMALL, theme.muted, inside.size()) {
            painter.put(inside.left_top(), Align2::LEFT_TOP, galley);
        }
        return;
    };
    let buttons = inside.with_min_y((inside.bottom() - space::BUTTON).max(inside.top()));
    let advice = words::advice(finding);
    let lines = lines(scene, screen, finding);
    let mut y = inside.top() + space::LINE / 2.0 + 2.0;
    grade_shape(painter, pos2(inside.left() + 6.0, y), 12.0, finding.grade, finding.seen);
    let head = format!("{}  ·  {}", words::kind(finding.kind), words::grade(finding.grade).to_lowercase());
    painter.text(pos2(inside.left() + 20.0, y), Align2::LEFT_CENTER, head, size::BODY, theme.text);
    y += space::LINE + 3.0;
    for (name, text) in &lines {
        if y + space::LINE > buttons.top() {
            break;
        }
        painter.text(pos2(inside.left(), y), Align2::LEFT_CENTER, *name, size::SMALL, theme.muted);
        let left = inside.left() + 52.0;
        let galley = crate::header::fitted(painter, text, size::SMALL, (inside.right() - left).max(0.0));
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
    name_only(ui, rect.with_max_y(buttons.top()), "finding in full", text).on_hover_text(&advice);
    let asked = buttons_ui(ui, finding, buttons);
    screen.intents.extend(asked);
}

fn lines(scene: &Scene<'_>, screen: &Screen, finding: &Finding) -> Vec<(&'static str, String)> {
    let at = |tenth| when::tenth(scene, screen.settings(), finding.grid, tenth);
    let end = if finding.open { "goes on".to_owned() } else { format!("to {}", at(finding.end)) };
    let mut lines = vec![
        ("When", format!("{} {end}  ·  {}", at(finding.start), table::lasts(finding))),
        ("Worst", format!("{} at {}", words::worst(finding), at(finding.at))),
        ("Where", words::span(finding.span)),
    ];
    let whose = words::concerns(finding);
    if !whose.is_empty() {
        lines.push(("Whose", whose));
    }
    lines
}

fn buttons_ui(ui: &mut Ui, finding: &Finding, rect: Rect) -> Vec<Intent> {
    let builder = UiBuilder::new()
        .id_salt("finding buttons")
        .max_rect(rect)
        .layout(Layout::left_to_right(Align::Center));
    let mut row = ui.new_child(builder);
    let mut asked = Vec::new();
    let tip = "Shows the whole screen as of the tenth of a second at which it was worst (Enter). Measuring goes on.";
    if row.button("Show the moment").on_hover_text(tip).clicked() {
        asked.push(rewind(finding));
    }
    let label = if finding.seen { "Not seen" } else { "Seen" };
    let tip = "Ticks it as seen to, or takes the tick away (V)";
    let name = if finding.seen { "Take the tick away" } else { "Tick as seen" };
    if row.button(label).on_hover_text(tip).accessible_name(name).clicked() {
        asked.push(Intent::Seen(finding.id, !finding.seen));
    }
    asked
}
