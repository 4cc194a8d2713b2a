//! The layer that compares, and its context.

use plumbline_programme::{LayerId, Mic, Session, Settings};
use std::time::Duration;

/// Context of a step.
#[derive(Clone, Copy, Debug)]
pub(in crate::engine) struct Look<'a> {
    pub(in crate::engine) own: LayerId,
    pub(in crate::engine) settings: &'a Settings,
    /// The latest session, for the loudness of layers.
    pub(in crate::engine) session: &'a Session,
    pub(in crate::engine) now: Duration,
}

/// A pair of layers, the smaller id first.
pub(super) fn pair_of(a: LayerId, b: LayerId) -> [Mic; 2] {
    [Mic::Layer(a.min(b)), Mic::Layer(a.max(b))]
}
