//! The state of the Layers page while the window is open.

use crate::keys::KeyAction;
use crate::session_view;
use crate::settings::Settings;
use crate::table;
use plumbline_programme::session::{LayerLine, order_key};
use plumbline_programme::{LayerId, Session};

/// Order of the table.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(super) enum LayerOrder {
    /// By role, then name, as the session has it.
    #[default]
    Session,
    /// By share over the chosen stretch, the largest first.
    Share,
    Name,
}

impl LayerOrder {
    pub(super) const ALL: [Self; 3] = [Self::Session, Self::Share, Self::Name];

    fn next(self) -> Self {
        match self {
            Self::Session => Self::Share,
            Self::Share => Self::Name,
            Self::Name => Self::Session,
        }
    }

    pub(super) fn label(self) -> &'static str {
        match self {
            Self::Session => "Role",
            Self::Share => "Share",
            Self::Name => "Name",
        }
    }
}

/// The block at the lower right if not all of them fit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(super) enum LayerBlock {
    #[default]
    Aims,
    Match,
    Loss,
}

/// State of the page.
#[derive(Clone, Debug, Default)]
pub(crate) struct LayersState {
    pub(super) order: LayerOrder,
    /// The layer whose spectrum is shown; `None` is this layer, or the one with the largest share.
    pub(crate) selected: Option<LayerId>,
    /// The layer under the pointer.
    pub(super) hovered: Option<LayerId>,
    pub(super) block: LayerBlock,
    /// Whether the table must scroll to the selected row.
    pub(super) seek: bool,
}

impl LayersState {
    /// Keys of the page.
    pub(crate) fn act(&mut self, action: KeyAction, session: &Session, settings: &Settings) {
        match action {
            KeyAction::NextOrder => self.order = self.order.next(),
            KeyAction::RowUp => self.step(session, settings, -1),
            KeyAction::RowDown => self.step(session, settings, 1),
            _ => {}
        }
    }

    fn step(&mut self, session: &Session, settings: &Settings, by: isize) {
        let rows = self.rows(session, settings);
        let at = self.selected.and_then(|id| rows.iter().position(|line| line.id == id));
        self.selected = rows.get(table::step(at, by, rows.len(), false)).map(|line| line.id);
        self.seek = true;
    }

    /// The layers in the order of the table.
    pub(super) fn rows<'a>(&self, session: &'a Session, settings: &Settings) -> Vec<&'a LayerLine> {
        let mut rows: Vec<&LayerLine> = session.layers.iter().collect();
        let stretch = settings.stretch.place();
        let share = |line: &LayerLine| line.parts[stretch].share.filter(|s| !s.is_nan()).unwrap_or(-1.0);
        match self.order {
            LayerOrder::Session => {}
            LayerOrder::Share => rows.sort_by(|a, b| share(b).total_cmp(&share(a))),
            LayerOrder::Name => {
                rows.sort_by_cached_key(|line| order_key(&session_view::name(line).to_lowercase()));
            }
        }
        rows
    }

    /// The layer whose spectrum is shown: the one under the pointer, else the selected one, else this one, else the one
    /// with the largest share.
    pub(super) fn shown<'a>(&self, session: &'a Session) -> Option<&'a LayerLine> {
        let by_id = |id: Option<LayerId>| id.and_then(|id| session.layer(id));
        let own = || session.parts().find(|line| line.own);
        by_id(self.hovered).or_else(|| by_id(self.selected)).or_else(own).or_else(|| session.largest())
    }
}
