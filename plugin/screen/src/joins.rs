//! The Joins page: transitions and what jumps there, the largest first; statistics by passage.

mod large;
mod list;
mod picture;
mod plan;
mod rows;
mod statistics;
mod tools;

use crate::keys::Command;
use crate::painter::Painter;
use crate::screen::{Intent, Scene, Screen};
use egui::Ui;
use plan::Plan;
use plumbline_programme::{Log, Mark, View};
use rows::{Row, Which};

/// Order of the list.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(crate) enum Order {
    /// The largest jump first.
    #[default]
    Size,
    /// The earliest first.
    Time,
}

/// What the page keeps between frames.
#[derive(Clone, Debug, Default)]
pub(crate) struct Memory {
    order: Order,
    /// The row that is selected; none takes the first.
    selected: Option<Which>,
    /// The columns of the statistics that are shown where not all fit.
    group: statistics::Group,
    /// Whether the list has to bring the selected row into sight.
    seek: bool,
}

impl Memory {
    /// The row that is looked at: the selected one, else the first.
    fn shown<'a, 'b>(&self, rows: &'b [Row<'a>]) -> Option<&'b Row<'a>> {
        self.selected.and_then(|which| rows.iter().find(|row| row.which() == which)).or_else(|| rows.first())
    }
}

impl Screen {
    /// Keys of the page.
    pub(crate) fn obey_on_joins(&mut self, command: Command, view: &View) {
        let rows = rows::rows(&view.log, self.joins.order);
        match command {
            Command::NextOrder => {
                self.joins.order = match self.joins.order {
                    Order::Size => Order::Time,
                    Order::Time => Order::Size,
                };
            }
            Command::RowUp => self.step_join(&rows, -1),
            Command::RowDown => self.step_join(&rows, 1),
            Command::Open => {
                if let Some(row) = self.joins.shown(&rows) {
                    self.intents.push(Intent::Rewind(Some(row.moment())));
                }
            }
            Command::Remove => {
                if let Some(mark) = self.joins.shown(&rows).and_then(Row::mark) {
                    self.unmark(mark);
                }
            }
            Command::Export => self.intents.push(Intent::Export),
            _ => {}
        }
    }

    fn step_join(&mut self, rows: &[Row<'_>], by: isize) {
        let at = self.joins.selected.and_then(|which| rows.iter().position(|row| row.which() == which));
        let next = match at {
            Some(at) => at.saturating_add_signed(by),
            // The first is looked at already.
            None => usize::from(by > 0),
        };
        self.joins.selected = rows.get(next.min(rows.len().saturating_sub(1))).map(Row::which);
        self.joins.seek = true;
    }
}

/// Paints the page.
pub(crate) fn joins_ui(screen: &mut Screen, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>) {
    let log = &*scene.view.log;
    let plan = Plan::new(&scene.plan, log.passages.len());
    let rows = rows::rows(log, screen.joins.order);
    tools::tools_ui(screen, ui, painter, scene, &rows, plan.tools);
    if rows.is_empty() {
        let [head, body] = nothing(log);
        let all = plan.list.union(plan.large);
        crate::log::said_in(painter, all, &head, &body);
        crate::painter::name_only(ui, all, "no joins", || format!("{head}. {body}"));
    } else {
        list::list_ui(screen, ui, painter, scene, &rows, plan.list);
        if let Some(row) = screen.joins.shown(&rows) {
            large::large_ui(screen, ui, painter, scene, row, plan.large);
        }
    }
    statistics::statistics_ui(screen, ui, painter, scene, plan.statistics);
}

/// Why there is no join: a head and a sentence.
fn nothing(log: &Log) -> [String; 2] {
    let heard = log.passages.first().map_or(0.0, |all| all.secs);
    let head = if heard > 0.0 {
        format!("No join in {}", plumbline_report::words::length(heard))
    } else {
        "Nothing heard yet".to_owned()
    };
    let body = "A join is found where loudness or tone changes at once, and wherever a mark stands: 2 s before it are compared \
                with 2 s after it. Press M where a passage begins.";
    [head, body.to_owned()]
}

/// The moment that is looked at: one that has passed, or the present.
fn here(view: &View) -> Option<Mark> {
    if let Some(past) = view.past {
        return Some(past.at);
    }
    let position = view.clock.position;
    let rate = plumbline_measure::SampleRate::new(view.clock.rate_hz).ok()?;
    Some(Mark { grid: position.grid, index: rate.tenth_of(position.sample) })
}
