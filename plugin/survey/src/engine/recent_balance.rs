//! The balance of the latest seconds, in bounded memory.

use plumbline_measure::loudness::TENTHS_PER_SHORT_TERM;
use plumbline_measure::{BandEdges, Digest, Grid};
use plumbline_programme::{Balance, JointTenth, LayerId, Peer, Question, Session};
use std::collections::VecDeque;

/// Tenths after which the balance restarts with the latest 3 s, since no question reaches further back.
const RENEWED_AFTER: usize = 600;

/// The latest 3 s of all layers.
pub(super) struct Recent {
    balance: Balance,
    taken: usize,
    newest: VecDeque<Vec<Digest>>,
}

impl Recent {
    pub(super) fn new() -> Self {
        Self { balance: Balance::default(), taken: 0, newest: VecDeque::new() }
    }

    /// Takes a tenth of all peers, in their order.
    pub(super) fn push(&mut self, peers: &[Peer], digests: Vec<Digest>) {
        if self.taken >= RENEWED_AFTER {
            self.taken = 0;
            self.balance = Balance::default();
            for digests in &self.newest {
                add(&mut self.balance, peers, digests);
            }
        }
        self.taken += 1;
        add(&mut self.balance, peers, &digests);
        if self.newest.len() == TENTHS_PER_SHORT_TERM {
            self.newest.pop_front();
        }
        self.newest.push_back(digests);
    }

    pub(super) fn together(&self, peers: &[Peer], grid: Grid, index: i64) -> Option<JointTenth> {
        self.balance.together(peers, grid, index)
    }

    /// The session as the bus would show it at this point.
    pub(super) fn session(&mut self, peers: &[Peer], own: LayerId, edges: &BandEdges) -> Session {
        self.balance.ask(&Question { peers, own, marks: &[], edges, pair: None, at: None })
    }
}

fn add(balance: &mut Balance, peers: &[Peer], digests: &[Digest]) {
    peers.iter().zip(digests).for_each(|(peer, digest)| balance.take(peer.id, digest));
}
