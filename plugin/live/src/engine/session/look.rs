//! The layer that follows its session, and what it needs for that.

use plumbline_measure::Glance;
use plumbline_programme::{LayerId, Mark, Role, Settings};
use std::time::Duration;

/// The following layer, and the context it needs.
pub(in crate::engine) struct Look<'a> {
    pub(in crate::engine) own: LayerId,
    pub(in crate::engine) settings: &'a Settings,
    pub(in crate::engine) marks: &'a [Mark],
    /// Why the layer has no file on the board; `None` if it has one.
    pub(in crate::engine) alone: Option<&'a str>,
    /// The layer's own readings, computed on demand.
    pub(in crate::engine) glance: &'a dyn Fn() -> Glance,
    pub(in crate::engine) channels: u8,
    pub(in crate::engine) now: Duration,
}

impl Look<'_> {
    pub(super) fn is_mix(&self) -> bool {
        self.settings.identity.role == Role::Mix
    }

    /// Whether the layer follows others: it may hold the mix, or it is watched.
    pub(super) fn listens(&self) -> bool {
        self.settings.watched || self.is_mix()
    }
}
