//! Shares of the layers: the store of all layers of a session, by tenth.
//!
//! # Signal path
//! [`Balance::take`] writes each tenth into the store of its layer (`layer_store`, `page`). [`Balance::ask`] puts the
//! pages of all layers side by side where something changed (`page_sums`, `aggregate`), sums them over the three
//! stretches (`totals`), and turns the sums into shares (`parts`). It also finds where *now* is (`now_window`), who
//! is covered (`cover`), who is late (`late`) and how the tones of two layers differ (`tone_match`), and gives the
//! verdict (`judge`).

mod answer;
mod cover;
mod gated_sums;
mod joint_tenth;
mod judge;
mod late;
mod layer_page;
mod layer_store;
mod now_window;
mod packed_energy;
mod page_sums;
mod programme_shares;
mod shares;
mod tone_match;
mod totals;

use crate::role::PARTS;
use crate::session::{BalanceTarget, BalanceVerdict, Covered, Identity, LayerId, MOST_LAYERS, Session};
use gated_sums::GatedSums;
pub use joint_tenth::{Over, Reported};
use layer_store::LayerStore;
use plumbline_measure::bands::BandEdges;
use plumbline_measure::{Digest, Grid};
pub use programme_shares::{ProgrammeAnswer, Whole};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::ops::RangeInclusive;
use tone_match::ToneMatcher;

/// A layer of the session: its identity and its present state.
#[derive(Clone, Debug, PartialEq)]
pub struct Peer {
    /// Which layer.
    pub id: LayerId,
    /// What the layer reports about itself.
    pub identity: Identity,
    /// Whether audio reaches it. A stopped layer is not waited for.
    pub running: bool,
    /// Tenths of it that did not arrive.
    pub missed: u64,
    /// Whether a repair is being tried out on it.
    pub altered: bool,
    /// Whether the mix is known not to contain its sound. Its tenths must then be taken without sound.
    pub absent: bool,
}

/// A mark in time: one passage ends before its tenth, the next begins with it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Mark {
    /// Which clock.
    pub grid: Grid,
    /// First tenth of the new passage.
    pub index: i64,
}

/// A question to a [`Balance`].
#[derive(Clone, Copy, Debug)]
pub struct Question<'a> {
    /// The layers of the session; the first [`MOST_LAYERS`](crate::session::MOST_LAYERS) count.
    pub peers: &'a [Peer],
    /// The layer that asks.
    pub own: LayerId,
    /// Marks, ascending.
    pub marks: &'a [Mark],
    /// Edges of the named bands.
    pub edges: &'a BandEdges,
    /// The two layers to be matched, `(change, like)`; `None` uses the default pair.
    pub pair: Option<(LayerId, LayerId)>,
    /// The past tenth at which *now* ends; `None` uses the latest that all layers have reported.
    pub at: Option<Mark>,
}

/// What the layers of a session did together in one tenth.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct JointTenth {
    /// Which clock.
    pub grid: Grid,
    /// Which tenth.
    pub index: i64,
    /// K-weighted mean squares of the roles, in the order of [`crate::Role::PARTS`].
    pub energies: [f64; PARTS],
    /// Whether there is more than one layer to compare.
    pub compared: bool,
    /// Layers that others cover, over the 3 s that end with the tenth.
    pub covered: Vec<(LayerId, Covered)>,
}

/// Most stores kept: those of the layers asked about, and as many of layers nobody has asked about yet.
const MOST_ACCOUNTS: usize = 2 * MOST_LAYERS;

/// The store of all layers, by tenth.
///
/// # Definition
/// - Each tenth of song time counts once: a later pass replaces the earlier, unless less of the tenth was heard this
///   time. A passage looped a hundred times is in the programme once, as it was last heard.
/// - Song time and clock time are kept apart: passage and programme use song time as soon as any layer has some, and
///   clock time only while there is none. *Now* uses the grid of the latest tenths.
/// - A tenth that a layer did not report counts as silent, because some hosts do not call a silent track.
/// - An energy that is NaN, negative or over +300 dB is damage and counts as silence.
///
/// # Memory
/// An hour of each layer on each grid, in pages of 64 tenths; the page written longest ago is dropped first. There
/// are at most twice as many stores as layers that can be asked about. When more are needed, the store of a layer
/// nobody asks about is dropped: the one that has been silent longest. [`Balance::bytes`] returns the size.
#[derive(Debug, Default)]
pub struct Balance {
    stores: BTreeMap<LayerId, LayerStore>,
    /// Tenths taken so far; gives the order of arrival.
    count: u64,
    aggregate: GatedSums,
    matcher: ToneMatcher,
    /// The layers that counted in the last question.
    asked: Vec<LayerId>,
}

impl Balance {
    /// Takes a tenth of a layer. It replaces an earlier reading of the same tenth, unless less of it was heard this
    /// time.
    pub fn take(&mut self, layer: LayerId, digest: &Digest) {
        self.count += 1;
        if !self.stores.contains_key(&layer) && self.stores.len() >= MOST_ACCOUNTS {
            self.make_room();
        }
        let aggregate = &mut self.aggregate;
        let store = self.stores.entry(layer).or_default();
        store.take(digest, self.count, |grid, number| aggregate.changed(grid, number));
    }

    /// Drops the store of the layer that has been silent longest, of those nobody asks about.
    fn make_room(&mut self) {
        let strangers = self.stores.iter().filter(|(id, _)| !self.asked.contains(id));
        if let Some(id) = strangers.min_by_key(|(_, store)| store.touched()).map(|(id, _)| *id) {
            self.stores.remove(&id);
        }
    }

    /// Silences a layer in a range of tenths in which the mix did not contain it. They count as silent until they are
    /// restored or taken again.
    pub fn silence(&mut self, layer: LayerId, grid: Grid, range: &RangeInclusive<i64>) {
        let Self { stores, aggregate, .. } = self;
        if let Some(store) = stores.get_mut(&layer) {
            store.silence(grid, range, |grid, number| aggregate.changed(grid, number));
        }
    }

    /// Restores the sound of a silenced tenth.
    pub fn restore(&mut self, layer: LayerId, digest: &Digest) {
        let Self { stores, aggregate, count, .. } = self;
        if let Some(store) = stores.get_mut(&layer) {
            store.restore(digest, *count, |grid, number| aggregate.changed(grid, number));
        }
    }

    /// Drops a layer that has left, with all that it added to passage and programme.
    pub fn forget(&mut self, layer: LayerId) {
        if self.stores.remove(&layer).is_some() {
            self.aggregate.all_changed();
        }
    }

    /// Clears all three stretches, on the user's reset.
    pub fn clear(&mut self) {
        self.stores.values_mut().for_each(LayerStore::clear);
        self.aggregate.all_changed();
    }

    /// Judges the last 3 s against a target. `before` is the previous verdict; an off-aim verdict is held a little
    /// longer, so that it does not flicker.
    pub fn verdict(session: &Session, target: &BalanceTarget, before: BalanceVerdict) -> BalanceVerdict {
        judge::judge(session, target, before)
    }

    /// Bytes of the stores and of the sums over them, without the trees around them (a few words per page).
    pub fn bytes(&self) -> usize {
        self.stores.values().map(LayerStore::bytes).sum::<usize>()
            + self.aggregate.bytes()
            + self.matcher.bytes()
    }
}
