//! The state of the Joins page while the window is open.

use super::entries::{Entry, EntryId, JoinOrder, entries};
use super::statistics::columns::ColumnGroup;
use crate::intent::Intent;
use crate::keys::KeyAction;
use crate::page_state::Shared;
use crate::table;
use plumbline_programme::{Command, Log};

/// State of the page.
#[derive(Clone, Debug, Default)]
pub(crate) struct JoinsState {
    pub(super) order: JoinOrder,
    /// The selected entry; `None` means the first.
    pub(super) selected: Option<EntryId>,
    /// The columns of the statistics to show if not all fit.
    pub(super) group: ColumnGroup,
    /// Whether the table must scroll to the selected row.
    pub(super) seek: bool,
}

impl JoinsState {
    /// The selected entry, or the first if there is none.
    pub(super) fn shown<'a, 'b>(&self, entries: &'b [Entry<'a>]) -> Option<&'b Entry<'a>> {
        self.selected.and_then(|id| entries.iter().find(|entry| entry.id() == id)).or_else(|| entries.first())
    }

    /// Keys of the page.
    pub(crate) fn act(&mut self, action: KeyAction, log: &Log, shared: &mut Shared) {
        let entries = entries(log, self.order);
        match action {
            KeyAction::NextOrder => {
                self.order = match self.order {
                    JoinOrder::Size => JoinOrder::Time,
                    JoinOrder::Time => JoinOrder::Size,
                };
            }
            KeyAction::RowUp => self.step(&entries, -1),
            KeyAction::RowDown => self.step(&entries, 1),
            KeyAction::Open => {
                if let Some(entry) = self.shown(&entries) {
                    shared.intents.push(Intent::Command(Command::Rewind(Some(entry.moment()))));
                }
            }
            KeyAction::Remove => {
                if let Some(mark) = self.shown(&entries).and_then(Entry::mark) {
                    shared.unmark(mark);
                }
            }
            KeyAction::Export => shared.intents.push(Intent::Export),
            _ => {}
        }
    }

    fn step(&mut self, entries: &[Entry<'_>], by: isize) {
        let at = self.selected.and_then(|id| entries.iter().position(|entry| entry.id() == id));
        self.selected = entries.get(table::step(at, by, entries.len(), true)).map(Entry::id);
        self.seek = true;
    }
}
