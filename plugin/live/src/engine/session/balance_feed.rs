//! The balance of a session, fed from the board: kept by a layer that is watched, and by the first mixes.

use super::presence::{InMix, News};
use crate::board::{BoardEntry, BoardReader, Head};
use plumbline_measure::Grid;
use plumbline_programme::session::{Stretch, told_apart};
use plumbline_programme::{
    Balance, Identity, JointTenth, LayerId, PassageLine, Peer, Question, Reported, Session,
};
use std::collections::BTreeMap;
use std::ops::RangeInclusive;
use std::sync::Arc;
use std::time::Duration;

/// Shortest time between two answers.
const ASK_STEP: Duration = Duration::from_millis(100);
/// Time after a reset for which a board file may still hold tenths from before it.
const OLD_NEWS: Duration = Duration::from_millis(6_500);
/// Time after a reset for which tenths from before it may still arrive.
const ON_THE_WAY: Duration = Duration::from_secs(1);

/// The digests taken from one layer.
#[derive(Debug)]
struct Heard {
    taken: u64,
    /// First tenth after a reset; earlier ones are not taken.
    waits_for: Option<(Grid, i64)>,
}

/// The balance of one session.
#[derive(Debug, Default)]
pub(in crate::engine) struct BalanceFeed {
    number: u64,
    balance: Balance,
    heard: BTreeMap<LayerId, Heard>,
    in_mix: InMix,
    peers: Vec<Peer>,
    /// Heads of the peers, as the board has them.
    heads: Vec<Arc<Head>>,
    /// Whether anything is new since the latest answer.
    pub(super) news: bool,
    asked: Option<Duration>,
    cleared: Option<Duration>,
}

impl BalanceFeed {
    /// An empty feed that is due to answer. `number` is unique among the feeds of its layer.
    pub(super) fn new(number: u64) -> Self {
        Self { number, news: true, ..Self::default() }
    }

    pub(in crate::engine) fn number(&self) -> u64 {
        self.number
    }

    /// Takes new digests from the board, for the session of a letter.
    pub(super) fn take(&mut self, board: &BoardReader, letter: char, now: Duration) {
        let session = board.session(letter);
        let is_here = |id: LayerId| session.clone().any(|n| n.head.id == id);
        let left: Vec<LayerId> = if self.peers.iter().map(|p| p.id).eq(session.clone().map(|n| n.head.id)) {
            Vec::new()
        } else {
            self.heard.keys().copied().filter(|id| !is_here(*id)).collect()
        };
        for id in left {
            self.heard.remove(&id);
            self.in_mix.forget(id);
            self.balance.forget(id);
            self.news = true;
        }
        let since_clear = self.cleared.map(|t| now.saturating_sub(t));
        for entry in session.clone() {
            let id = entry.head.id;
            let heard = self.heard.entry(id).or_insert_with(|| {
                let old = since_clear.is_some_and(|t| t < OLD_NEWS);
                let kept = if old { 0 } else { entry.recent.len() as u64 };
                Heard { taken: entry.taken.saturating_sub(kept), waits_for: None }
            });
            if since_clear.is_none_or(|t| t > ON_THE_WAY) {
                heard.waits_for = None;
            }
            let new = usize::try_from(entry.taken.saturating_sub(heard.taken)).unwrap_or(usize::MAX);
            for digest in entry.recent.iter().skip(entry.recent.len().saturating_sub(new)) {
                heard.waits_for =
                    heard.waits_for.filter(|(grid, first)| digest.grid == *grid && digest.index < *first);
                if heard.waits_for.is_none() {
                    if self.in_mix.is_absent(id) {
                        self.balance.take(id, &digest.silent());
                    } else {
                        self.balance.take(id, digest);
                    }
                    self.news = true;
                }
            }
            heard.taken = entry.taken;
        }
        let same_heads = self.heads.iter().map(Arc::as_ptr).eq(session.clone().map(|n| Arc::as_ptr(&n.head)));
        let in_mix = &self.in_mix;
        let is_same = |(entry, peer): (&BoardEntry, &Peer)| {
            (peer.running, peer.missed, peer.altered, peer.absent)
                == (entry.running, entry.missed, entry.altered, in_mix.is_absent(entry.head.id))
        };
        if !(same_heads && session.clone().zip(&self.peers).all(is_same)) {
            self.heads = session.clone().map(|n| Arc::clone(&n.head)).collect();
            let said = |head: &Arc<Head>| (u32::from(head.number), head.identity.name.clone());
            let names = told_apart(self.heads.iter().map(said));
            self.peers = session
                .zip(names)
                .map(|(entry, name)| peer(entry, name, self.in_mix.is_absent(entry.head.id)))
                .collect();
            self.news = true;
        }
    }

    /// Looks for one layer in the mix, if it is time; `often` while the layer is watched.
    pub(super) fn look_in_mix(
        &mut self,
        board: &BoardReader,
        letter: char,
        mix: LayerId,
        often: bool,
        now: Duration,
    ) {
        match self.in_mix.look(board, letter, mix, often, now) {
            None => return,
            Some(News::Absent { layer, tenths }) => {
                tenths.iter().for_each(|range| self.balance.silence(layer, Grid::Song, range));
            }
            Some(News::Present { layer, from }) => {
                let waits = self.heard.get(&layer).is_none_or(|heard| heard.waits_for.is_some());
                let recent = board.layer(layer).filter(|_| !waits).map(|entry| &entry.recent);
                let again = recent.into_iter().flatten();
                for digest in again.filter(|digest| digest.grid == Grid::Song && digest.index >= from) {
                    self.balance.restore(layer, digest);
                }
            }
        }
        self.news = true;
    }

    /// Clears the balance, for the user's reset; `at` is the first tenth after it.
    pub(super) fn clear(&mut self, at: Option<(Grid, i64)>, now: Duration) {
        self.balance.clear();
        self.cleared = Some(now);
        self.news = true;
        self.heard.values_mut().for_each(|h| h.waits_for = at);
    }

    /// The extent to which all running layers have reported.
    pub(in crate::engine) fn reported(&self, own: LayerId) -> Option<Reported> {
        self.balance.reported(&self.peers, own)
    }

    /// The joint tenth of all layers.
    pub(in crate::engine) fn together(&self, grid: Grid, index: i64) -> Option<JointTenth> {
        self.balance.together(&self.peers, grid, index)
    }

    /// The unique name of a layer; empty for one that is not in the session.
    pub(in crate::engine) fn name(&self, id: LayerId) -> String {
        self.peers.iter().find(|p| p.id == id).map(|p| p.identity.name.clone()).unwrap_or_default()
    }

    /// The session at a past moment.
    pub(super) fn ask_past(&mut self, question: Question<'_>) -> Session {
        self.balance.ask(&Question { peers: &self.peers, ..question })
    }

    /// Fills shares, leads and unaccounted of a line of statistics.
    pub(in crate::engine) fn fill(
        &mut self,
        stretch: Stretch,
        grid: Grid,
        range: &RangeInclusive<i64>,
        line: &mut PassageLine,
    ) {
        let over = self.balance.over(&self.peers, stretch, grid, range);
        (line.shares, line.leads, line.unaccounted_db) = (over.shares, over.leads, over.unaccounted_db);
    }

    /// Answers a question, with its peers filled in, if there is anything new and the last answer is old enough.
    pub(super) fn ask(&mut self, now: Duration, question: Question<'_>) -> Option<Session> {
        let early = self.asked.is_some_and(|t| now.saturating_sub(t) < ASK_STEP);
        if !self.news || early {
            return None;
        }
        self.news = false;
        self.asked = Some(now);
        Some(self.balance.ask(&Question { peers: &self.peers, ..question }))
    }
}

/// A layer of the session under its unique name.
fn peer(entry: &BoardEntry, name: String, absent: bool) -> Peer {
    Peer {
        id: entry.head.id,
        identity: Identity { name, ..entry.head.identity.clone() },
        running: entry.running,
        missed: entry.missed,
        altered: entry.altered,
        absent,
    }
}

#[cfg(test)]
mod tests;
