//! Who has which share of what is heard: the account of all layers of a session, by tenth of song time.

use crate::bands::BandEdges;
use crate::digest::Digest;
use crate::session::{BalanceTarget, BalanceVerdict, Identity, LayerId, Session};
use crate::tenth::Grid;

/// A layer that can be asked about: who it is, and what it does at the moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Peer {
    /// Which layer.
    pub id: LayerId,
    /// What it says of itself.
    pub identity: Identity,
    /// Whether audio reaches it now. One that stands is not waited for.
    pub running: bool,
    /// Tenths of it that did not arrive.
    pub missed: u64,
}

/// A mark in time: a passage ends before its tenth, the next begins with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Mark {
    /// Which clock.
    pub grid: Grid,
    /// First tenth of the new passage.
    pub index: i64,
}

/// What is asked of a [`Balance`].
#[derive(Clone, Copy, Debug)]
pub struct Question<'a> {
    /// The layers there are, at most [`MOST_LAYERS`](crate::session::MOST_LAYERS) of which count.
    pub peers: &'a [Peer],
    /// The layer that asks.
    pub own: LayerId,
    /// Marks, ascending.
    pub marks: &'a [Mark],
    /// Edges of the named bands.
    pub edges: &'a BandEdges,
    /// The two layers to be matched, `(change, like)`; none takes the default pair.
    pub pair: Option<(LayerId, LayerId)>,
}

/// The account of all layers, by tenth of song time.
#[derive(Debug, Default)]
pub struct Balance {}

impl Balance {
    /// Takes a tenth of a layer; one that was measured before is replaced, unless less of it was heard this time.
    pub fn take(&mut self, _layer: LayerId, _digest: &Digest) {}

    /// Strikes a layer that left out of the account.
    pub fn forget(&mut self, _layer: LayerId) {}

    /// The user's reset.
    pub fn clear(&mut self) {}

    /// Answers. Fills everything of a session but letter, loss and notes.
    pub fn ask(&mut self, _question: &Question<'_>) -> Session {
        Session::default()
    }

    /// Judges the newest 3 s against a target; `before` is the verdict that stands, which gives way a little late.
    pub fn verdict(_session: &Session, _target: &BalanceTarget, _before: BalanceVerdict) -> BalanceVerdict {
        BalanceVerdict::Alone
    }
}
