//! What the layers did together in one tenth, for findings and lanes.

use super::account::Account;
use super::page::place;
use super::parts::{BandWeights, Parts, unaccounted};
use super::present::{self, KEPT, Standing};
use super::sheet::Member;
use super::{Balance, Mark, Peer, Together, cover};
use crate::bands::BandEdges;
use crate::bands::{THIRDS, third_centre_hz, window_for};
use crate::loudness::TENTHS_PER_SHORT_TERM;
use crate::role::PARTS;
use crate::session::{LayerId, MOST_LAYERS, Stretch};
use crate::tenth::Grid;
use std::ops::RangeInclusive;

impl Balance {
    /// The newest tenth that all running layers have reported; who is more than 5 s behind is not waited for.
    pub fn reported(&self, peers: &[Peer], own: LayerId) -> Option<Mark> {
        let standing: Vec<Standing<'_>> = peers
            .iter()
            .take(MOST_LAYERS)
            .filter_map(|peer| {
                let account = self.accounts.get(&peer.id)?;
                Some(Standing { own: peer.id == own, running: peer.running, account })
            })
            .collect();
        let grid = present::grid_now(&standing)?;
        Some(Mark { grid, index: present::end(&standing, grid, KEPT)? })
    }

    /// K-weighted mean squares of the roles in a tenth; a layer that did not report it counts as silent. `None` when
    /// no layer that has a part did.
    pub fn energies(&self, peers: &[Peer], grid: Grid, index: i64) -> Option<[f64; PARTS]> {
        let (number, slot) = place(index);
        let mut energies = [0.0; PARTS];
        let mut any = false;
        for peer in peers.iter().take(MOST_LAYERS) {
            let part = peer.identity.role.part();
            let page = self.accounts.get(&peer.id).and_then(|account| account.page(grid, number));
            if let (Some(part), Some(page)) = (part, page)
                && page.used >> slot & 1 == 1
            {
                energies[part] += f64::from(page.k[slot]);
                any = true;
            }
        }
        any.then_some(energies)
    }

    /// What the layers did together in a tenth; `None` when none that has a part reported it.
    pub fn together(&self, peers: &[Peer], grid: Grid, index: i64) -> Option<Together> {
        let energies = self.energies(peers, grid, index)?;
        let members: Vec<Member> = peers
            .iter()
            .take(MOST_LAYERS)
            .map(|p| Member { id: p.id, part: p.identity.role.part() })
            .collect();
        let range = index.saturating_sub(TENTHS_PER_SHORT_TERM as i64 - 1)..=index;
        let thirds: Vec<[f64; THIRDS]> = members
            .iter()
            .map(|m| self.accounts.get(&m.id).map_or([0.0; THIRDS], |a| means(a, grid, &range)))
            .collect();
        let covered = (0..members.len())
            .filter(|at| members[*at].part.is_some())
            .filter_map(|at| Some((members[at].id, cover::covered(&members, &thirds, at)?)))
            .collect();
        Some(Together { grid, index, energies, compared: peers.len() > 1, covered })
    }
}

/// Shares over a stretch.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Over {
    /// Shares of the roles, 0…1.
    pub shares: [Option<f64>; PARTS],
    /// Share of the tenths in which a role leads, 0…1.
    pub leads: [Option<f64>; PARTS],
    /// The mix against the sum of its layers, dB.
    pub unaccounted_db: Option<f64>,
}

impl Balance {
    /// Shares over a range of tenths; of the whole programme gated as its answers are.
    pub fn over(
        &mut self,
        peers: &[Peer],
        stretch: Stretch,
        grid: Grid,
        range: &RangeInclusive<i64>,
    ) -> Over {
        let peers = &peers[..peers.len().min(MOST_LAYERS)];
        let members: Vec<Member> =
            peers.iter().map(|p| Member { id: p.id, part: p.identity.role.part() }).collect();
        let Self { accounts, book, .. } = self;
        book.refresh(&members, accounts);
        let accounts: Vec<Option<&Account>> = members.iter().map(|m| accounts.get(&m.id)).collect();
        let tally = match stretch {
            Stretch::Programme => book.programme(&accounts, grid),
            _ => book.tally(&accounts, grid, range),
        };
        let parts = Parts::of(&tally, &members, &BandWeights::new(&BandEdges::default()));
        let mix = (0..members.len())
            .filter(|at| members[*at].part.is_none())
            .max_by(|a, b| tally.layers[*a].energy.total_cmp(&tally.layers[*b].energy));
        Over {
            shares: std::array::from_fn(|part| parts.roles[part].share),
            leads: std::array::from_fn(|part| parts.roles[part].lead),
            unaccounted_db: mix.and_then(|mix| unaccounted(&tally.layers[mix]).db),
        }
    }
}

/// Mean squares of the thirds over a range of tenths, as answers have them.
fn means(account: &Account, grid: Grid, range: &RangeInclusive<i64>) -> [f64; THIRDS] {
    let (sums, unmeasured) = account.thirds(grid, range);
    #[expect(clippy::cast_possible_truncation, reason = "30")]
    let tenths = TENTHS_PER_SHORT_TERM as u32;
    std::array::from_fn(|third| {
        let measured = tenths.saturating_sub(unmeasured[window_for(third_centre_hz(third))]);
        if measured == 0 { 0.0 } else { sums[third] / f64::from(measured) }
    })
}
