//! The state of the Log page while the window is open.

use super::order::{Filter, FindingOrder, order};
use crate::fields::Field;
use crate::intent::Intent;
use crate::keys::KeyAction;
use crate::page_state::Shared;
use crate::table;
use plumbline_programme::{Command, Finding, Log, Mark};

/// The block to show if not both fit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(super) enum LogBlock {
    #[default]
    Findings,
    Rules,
}

/// State of the page.
#[derive(Clone, Debug, Default)]
pub(crate) struct LogState {
    pub(super) filter: Filter,
    /// The selected finding, by its number.
    pub(super) selected: Option<u64>,
    pub(super) block: LogBlock,
    /// Whether the table must scroll to the selected row.
    pub(super) seek: bool,
    /// The folder for exports while the user types it.
    pub(super) folder: Field,
}

/// The intent to show the worst moment of a finding.
pub(super) fn rewind(finding: &Finding) -> Intent {
    Intent::Command(Command::Rewind(Some(Mark { grid: finding.grid, index: finding.at })))
}

impl LogState {
    pub(super) fn selected<'a>(&self, log: &'a Log) -> Option<&'a Finding> {
        self.selected.and_then(|id| log.findings.iter().find(|finding| finding.id == id))
    }

    /// Keys of the page.
    pub(crate) fn act(&mut self, action: KeyAction, log: &Log, shared: &mut Shared) {
        match action {
            KeyAction::NextOrder => {
                self.filter.turned = false;
                self.filter.order = match self.filter.order {
                    FindingOrder::Time => FindingOrder::Grade,
                    FindingOrder::Grade => FindingOrder::Kind,
                    FindingOrder::Kind => FindingOrder::Time,
                };
            }
            KeyAction::RowUp => self.step(log, -1),
            KeyAction::RowDown => self.step(log, 1),
            KeyAction::Open => shared.intents.extend(self.selected(log).map(rewind)),
            KeyAction::Seen => {
                shared.intents.extend(
                    self.selected(log)
                        .map(|finding| Intent::Command(Command::SetDone(finding.id, !finding.seen))),
                );
            }
            KeyAction::Export => shared.intents.push(Intent::Export),
            _ => {}
        }
    }

    fn step(&mut self, log: &Log, by: isize) {
        let rows = order(&log.findings, &self.filter);
        let at = |id| rows.iter().position(|index| log.findings[*index].id == id);
        let next = table::step(self.selected.and_then(at), by, rows.len(), false);
        self.selected = rows.get(next).map(|index| log.findings[*index].id);
        self.seek = true;
    }
}
