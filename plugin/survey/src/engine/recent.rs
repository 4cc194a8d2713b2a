//! What the layers did together lately, with memory that does not grow.

use plumbline_measure::loudness::TENTHS_PER_SHORT_TERM;
use plumbline_measure::{Cross, Digest, Grid, Span};
use plumbline_programme::leave_out::power_inside;
use plumbline_programme::{Balance, Peer, Together};
use std::collections::VecDeque;

/// Tenths after which the account begins anew, with the newest 3 s in it: what is asked reaches no further back.
const RENEWED_AFTER: usize = 600;

/// The newest 3 s of all layers.
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
    pub(super) fn take(&mut self, peers: &[Peer], digests: Vec<Digest>) {
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

    pub(super) fn together(&self, peers: &[Peer], grid: Grid, index: i64) -> Option<Together> {
        self.balance.together(peers, grid, index)
    }

    /// Energy of a peer in a stretch of frequency over the newest 3 s: the sum of its thirds whose middle lies inside.
    pub(super) fn power(&self, peer: usize, span: Span) -> f64 {
        let digests = self.newest.iter().filter_map(|digests| digests.get(peer));
        let power = |digest: &Digest| {
            let third = |at: usize| Cross::from(digest.thirds[at]).total();
            power_inside(span, |at| digest.has_third(at).then(|| third(at)))
        };
        digests.map(power).sum()
    }
}

fn add(balance: &mut Balance, peers: &[Peer], digests: &[Digest]) {
    peers.iter().zip(digests).for_each(|(peer, digest)| balance.take(peer.id, digest));
}
