//! Who has which share of what is heard: the store of all layers of a session, by tenth of song time.
//!
//! # The way of the data
//! [`Balance::take`] writes each tenth into its layer's store (`store`, `page`). [`Balance::ask`] lays the pages of
//! all layers side by side where something changed (`page_sums`, `aggregate`), sums them over the three stretches (`totals`),
//! and turns the sums into shares (`parts`). Beside that: where *now* is (`present`), who is covered (`cover`), who is
//! late (`late`), a match of two layers (`matched`), the verdict (`judge`).

mod aggregate;
mod answer;
mod cover;
mod joint_tenth;
mod judge;
mod late;
mod layer_store;
mod now_window;
mod packed;
mod page;
mod page_sums;
mod parts;
mod programme_shares;
mod tone_match;
mod totals;

use crate::role::PARTS;
use crate::session::{BalanceTarget, BalanceVerdict, Covered, Identity, LayerId, MOST_LAYERS, Session};
use aggregate::Aggregate;
pub use joint_tenth::{Over, Reported};
use layer_store::LayerStore;
use plumbline_measure::bands::BandEdges;
use plumbline_measure::{Digest, Grid};
pub use programme_shares::{ProgrammeAnswer, Whole};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::ops::RangeInclusive;
use tone_match::ToneMatcher;

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
    /// Whether a repair is being tried out on it.
    pub altered: bool,
    /// Whether the mix is known not to hold its sound. Its tenths are to be taken without sound then.
    pub absent: bool,
}

/// A mark in time: a passage ends before its tenth, the next begins with it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
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
    /// The tenth at which *now* is to be: a moment that has passed; none takes the newest that all reported.
    pub at: Option<Mark>,
}

/// What the layers of a session did together in one tenth.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct JointTenth {
    /// Which clock.
    pub grid: Grid,
    /// Which tenth.
    pub index: i64,
    /// K-weighted mean squares of the roles in the tenth, in the order of [`crate::Role::PARTS`].
    pub energies: [f64; PARTS],
    /// Whether there is anything to compare: more than the one layer that asks.
    pub compared: bool,
    /// Layers that others cover over the 3 s that end with the tenth.
    pub covered: Vec<(LayerId, Covered)>,
}

/// Most stores kept: those that can be asked about, and as many that nobody asked about yet.
const MOST_ACCOUNTS: usize = 2 * MOST_LAYERS;

/// The store of all layers, by tenth of song time.
///
/// # Definition
/// - Each tenth of song time counts once: a later pass replaces the earlier, unless less of the tenth was heard this
///   time. A passage that is looped a hundred times is in the programme once, as it sounded last.
/// - Song time and clock time stay apart: passage and programme are song time as soon as any layer has some, and clock
///   time only while there is none. *Now* lies on the grid of the newest tenths.
/// - A tenth that a layer did not report counts as silent, since some hosts do not call a silent track.
/// - An energy that is no number, negative or over +300 dB is damage, and counts as silence.
///
/// # Memory
/// An hour of each layer on each grid, in pages of 64 tenths: the page written longest ago goes first. At most twice
/// as many layers as can be asked about have an store; when there are more, the one longest silent of those that
/// nobody asks about goes. [`Balance::bytes`] tells.
#[derive(Debug, Default)]
pub struct Balance {
    stores: BTreeMap<LayerId, LayerStore>,
    /// Tenths taken so far: the order of arrival.
    count: u64,
    aggregate: Aggregate,
    matcher: ToneMatcher,
    /// The layers that counted when last asked.
    asked: Vec<LayerId>,
}

impl Balance {
    /// Takes a tenth of a layer; one that was measured before is replaced, unless less of it was heard this time.
    pub fn take(&mut self, layer: LayerId, digest: &Digest) {
        self.count += 1;
        if !self.stores.contains_key(&layer) && self.stores.len() >= MOST_ACCOUNTS {
            self.make_room();
        }
        let aggregate = &mut self.aggregate;
        let store = self.stores.entry(layer).or_default();
        store.take(digest, self.count, |grid, number| aggregate.changed(grid, number));
    }

    /// Lets go of the layer, of those that nobody asks about, that was silent longest.
    fn make_room(&mut self) {
        let strangers = self.stores.iter().filter(|(id, _)| !self.asked.contains(id));
        if let Some(id) = strangers.min_by_key(|(_, store)| store.touched()).map(|(id, _)| *id) {
            self.stores.remove(&id);
        }
    }

    /// Takes the sound of a layer out of the tenths of a range, in which the mix did not hold it: they count as silent until
    /// they are restored, or taken again.
    pub fn silence(&mut self, layer: LayerId, grid: Grid, range: &RangeInclusive<i64>) {
        let Self { stores, aggregate, .. } = self;
        if let Some(store) = stores.get_mut(&layer) {
            store.silence(grid, range, |grid, number| aggregate.changed(grid, number));
        }
    }

    /// Gives a tenth that was silenced its sound back.
    pub fn restore(&mut self, layer: LayerId, digest: &Digest) {
        let Self { stores, aggregate, count, .. } = self;
        if let Some(store) = stores.get_mut(&layer) {
            store.restore(digest, *count, |grid, number| aggregate.changed(grid, number));
        }
    }

    /// Strikes a layer that left out of the balance, with all that it added to passage and programme.
    pub fn forget(&mut self, layer: LayerId) {
        if self.stores.remove(&layer).is_some() {
            self.aggregate.all_changed();
        }
    }

    /// The user's reset: all three stretches begin anew.
    pub fn clear(&mut self) {
        self.stores.values_mut().for_each(LayerStore::clear);
        self.aggregate.all_changed();
    }

    /// Answers. Fills everything of a session but letter, loss and notes.
    ///
    /// Always exact for all tenths taken so far. Costs little where few pages changed since the last call; the first
    /// call after a layer came, left or changed its role walks over all tenths.
    pub fn ask(&mut self, question: &Question<'_>) -> Session {
        answer::answer(self, question)
    }

    /// Judges the newest 3 s against a target; `before` is the verdict that stands, which gives way a little late.
    pub fn verdict(session: &Session, target: &BalanceTarget, before: BalanceVerdict) -> BalanceVerdict {
        judge::judge(session, target, before)
    }

    /// Bytes of the stores and of the sums over them, the trees around them (a few words a page) not counted.
    pub fn bytes(&self) -> usize {
        self.stores.values().map(LayerStore::bytes).sum::<usize>()
            + self.aggregate.bytes()
            + self.matcher.bytes()
    }
}
