//! The Log page: findings with timecode, their rules, and export.

mod detail;
mod export;
mod grade;
mod plan;
mod rows;
mod rules;
mod table;
mod tools;

pub(crate) use grade::grade_shape;
pub(crate) use table::dropped;

use crate::keys::Command;
use crate::painter::Painter;
use crate::screen::{Intent, Scene, Screen};
use crate::tokens::{size, space};
use egui::{Align2, FontId, Rect, Ui, pos2};
use plan::Plan;
use plumbline_programme::findings::KINDS;
use plumbline_programme::{Finding, Log, Mark, View};
use plumbline_report::figures;

/// Order of the table.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(crate) enum Order {
    /// The earliest first.
    #[default]
    Time,
    /// The gravest first.
    Grade,
    /// In the order of the rules.
    Kind,
}

impl Order {
    fn next(self) -> Self {
        match self {
            Self::Time => Self::Grade,
            Self::Grade => Self::Kind,
            Self::Kind => Self::Time,
        }
    }
}

/// What is shown where there is no room for both.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
enum Part {
    #[default]
    Findings,
    Rules,
}

/// What the page keeps between frames.
#[derive(Clone, Debug, Default)]
pub(crate) struct Memory {
    pub(crate) order: Order,
    /// Whether the order runs backwards.
    turned: bool,
    /// Kinds that are shown alone; none shows all.
    only: [bool; KINDS],
    hide_seen: bool,
    /// The finding that is selected, by its number.
    selected: Option<u64>,
    part: Part,
    /// Whether the table has to bring the selected row into sight.
    seek: bool,
    /// The folder for exports while it is typed.
    folder: crate::fields::Field,
}

impl Memory {
    fn selected<'a>(&self, log: &'a Log) -> Option<&'a Finding> {
        self.selected.and_then(|id| log.findings.iter().find(|finding| finding.id == id))
    }

    /// Takes an order; the same once more turns it over.
    fn order_by(&mut self, order: Order) {
        self.turned = self.order == order && !self.turned;
        self.order = order;
    }
}

impl Screen {
    /// Keys of the page.
    pub(crate) fn obey_on_log(&mut self, command: Command, view: &View) {
        let log = &*view.log;
        match command {
            Command::NextOrder => {
                self.log.order = self.log.order.next();
                self.log.turned = false;
            }
            Command::RowUp => self.step_finding(log, -1),
            Command::RowDown => self.step_finding(log, 1),
            Command::Open => {
                if let Some(finding) = self.log.selected(log) {
                    self.intents.push(rewind(finding));
                }
            }
            Command::Seen => {
                if let Some(finding) = self.log.selected(log) {
                    self.intents.push(Intent::Seen(finding.id, !finding.seen));
                }
            }
            Command::Export => self.intents.push(Intent::Export),
            _ => {}
        }
    }

    fn step_finding(&mut self, log: &Log, by: isize) {
        let rows = rows::rows(&log.findings, &self.log);
        let at = |id| rows.iter().position(|index| log.findings[*index].id == id);
        let next = match self.log.selected.and_then(at) {
            Some(at) => at.saturating_add_signed(by).min(rows.len().saturating_sub(1)),
            None => 0,
        };
        self.log.selected = rows.get(next).map(|index| log.findings[*index].id);
        self.log.seek = true;
    }
}

/// To where a finding is worst.
fn rewind(finding: &Finding) -> Intent {
    Intent::Rewind(Some(Mark { grid: finding.grid, index: finding.at }))
}

/// Paints the page.
pub(crate) fn log_ui(screen: &mut Screen, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>) {
    let plan = Plan::new(&scene.plan);
    tools::tools_ui(screen, ui, scene, plan.tools, plan.side.is_none());
    if let Some([rules, detail]) = plan.side {
        rules::rules_ui(screen, ui, painter, scene, rules);
        detail::detail_ui(screen, ui, painter, scene, detail);
    }
    if plan.side.is_none() && screen.log.part == Part::Rules {
        rules::rules_ui(screen, ui, painter, scene, plan.table);
    } else {
        findings_ui(screen, ui, painter, scene, plan.table);
    }
    export::export_ui(screen, ui, painter, scene, plan.export);
}

fn findings_ui(screen: &mut Screen, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    let log = &*scene.view.log;
    let rows = rows::rows(&log.findings, &screen.log);
    if rows.is_empty() {
        let [head, body] = nothing(log, log.findings.len());
        said_in(painter, rect, &head, &body);
        crate::painter::name_only(ui, rect, "no findings", || format!("{head}. {body}"));
        return;
    }
    table::table_ui(screen, ui, painter, scene, rect, &rows);
}

/// Why there is no row: a head and a sentence.
fn nothing(log: &Log, hidden: usize) -> [String; 2] {
    let heard = log.passages.first().map_or(0.0, |all| all.secs);
    if hidden > 0 {
        let hidden = figures::count(hidden as f64, "finding is", "findings are");
        return [
            "Nothing of this choice".to_owned(),
            format!("{hidden} hidden by what was chosen over the table."),
        ];
    }
    if heard > 0.0 {
        let heard = plumbline_report::words::length(heard);
        return [
            format!("Nothing found in {heard}"),
            "So much was heard since reset, and nothing of it went past a rule.".to_owned(),
        ];
    }
    [
        "Nothing heard yet".to_owned(),
        "What goes past a rule while the song plays is listed here with its timecode, and stays.".to_owned(),
    ]
}

/// A head and a sentence in the middle of an empty place.
pub(crate) fn said_in(painter: &Painter, rect: Rect, head: &str, body: &str) {
    if rect.width() < 120.0 || rect.height() < 60.0 {
        return;
    }
    let theme = painter.theme;
    painter.block(rect, theme.panel);
    let width = (rect.width() - 4.0 * space::GAP).clamp(1.0, 560.0);
    let left = rect.center().x - width / 2.0;
    let head = painter.egui.layout(head.to_owned(), FontId::proportional(size::HEAD), theme.text, width);
    let body = painter.egui.layout(body.to_owned(), FontId::proportional(size::BODY), theme.text, width);
    let height = head.size().y + body.size().y + space::GAP;
    if height > rect.height() {
        return;
    }
    let top = rect.center().y - height / 2.0;
    let under = top + head.size().y + space::GAP;
    painter.put(pos2(left, top), Align2::LEFT_TOP, head);
    painter.put(pos2(left, under), Align2::LEFT_TOP, body);
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_programme::PassageLine;

    #[test]
    fn an_empty_table_says_why_and_over_how_long() {
        let heard =
            Log { passages: vec![PassageLine { secs: 184.0, ..PassageLine::default() }], ..Log::default() };
        assert_eq!(nothing(&heard, 0)[0], "Nothing found in 3\u{a0}min 04\u{a0}s");
        assert_eq!(nothing(&Log::default(), 0)[0], "Nothing heard yet");
        assert!(nothing(&heard, 1)[1].starts_with("1\u{a0}finding is hidden"));
        assert!(nothing(&heard, 7)[1].starts_with("7\u{a0}findings are hidden"));
    }

    #[test]
    fn an_order_taken_twice_is_turned_over_and_another_starts_afresh() {
        let mut memory = Memory::default();
        memory.order_by(Order::Time);
        assert!(memory.turned, "time is where it starts");
        memory.order_by(Order::Grade);
        assert!(!memory.turned);
        memory.order_by(Order::Grade);
        memory.order_by(Order::Grade);
        assert!(!memory.turned && memory.order == Order::Grade);
    }
}
