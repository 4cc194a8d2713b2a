//! What the layers did together in one tenth, for findings and lanes.

use super::cover::Cover;
use super::layer_store::{Last, LayerStore};
use super::now_window::{self, KEPT, Standing};
use super::page_sums::Member;
use super::shares::{BandWeights, Parts, unaccounted};
use super::{Balance, JointTenth, Peer};
use crate::paged::place;
use crate::role::PARTS;
use crate::session::{LayerId, MOST_LAYERS, Stretch};
use plumbline_measure::Grid;
use plumbline_measure::bands::{BandEdges, THIRDS, third_centre_hz, window_for};
use plumbline_measure::loudness::TENTHS_PER_SHORT_TERM;
use std::ops::RangeInclusive;

/// How far all layers have reported.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reported {
    /// The grid of the latest tenths.
    pub grid: Grid,
    /// First tenth of the unbroken run that the followed layer is in.
    pub first: i64,
    /// The latest tenth of that run that all running layers have reported.
    pub last: i64,
    /// When that run began, by count of the tenths of all layers.
    pub run: u64,
    /// The count now.
    pub count: u64,
}

impl Balance {
    /// How far all running layers have reported. A layer more than 5 s behind is not waited for. `None` until all
    /// have reported a tenth of the run that the followed layer is in.
    pub fn reported(&self, peers: &[Peer], own: LayerId) -> Option<Reported> {
        let standing: Vec<Standing<'_>> = peers
            .iter()
            .take(MOST_LAYERS)
            .filter_map(|peer| {
                let store = self.stores.get(&peer.id)?;
                Some(Standing { own: peer.id == own, running: peer.running, store })
            })
            .collect();
        let grid = now_window::grid_now(&standing)?;
        let (followed, last) = now_window::reach(&standing, grid, KEPT)?;
        let Last { first, run, .. } = followed;
        (first <= last).then_some(Reported { grid, first, last, run, count: self.count })
    }

    /// K-weighted mean squares of the roles in a tenth. A layer that did not report it counts as silent. `None` if no
    /// layer with a share did.
    pub fn energies(&self, peers: &[Peer], grid: Grid, index: i64) -> Option<[f64; PARTS]> {
        let (number, slot) = place(index);
        let mut energies = [0.0; PARTS];
        let mut any = false;
        for peer in peers.iter().take(MOST_LAYERS) {
            let part = peer.identity.role.part();
            let page = self.stores.get(&peer.id).and_then(|store| store.pages().page(grid, number));
            if let (Some(part), Some(page)) = (part, page)
                && page.used >> slot & 1 == 1
            {
                energies[part] += f64::from(page.k[slot]);
                any = true;
            }
        }
        any.then_some(energies)
    }

    /// What the layers did together in a tenth; `None` if no layer with a share reported it.
    pub fn together(&self, peers: &[Peer], grid: Grid, index: i64) -> Option<JointTenth> {
        let energies = self.energies(peers, grid, index)?;
        let members: Vec<Member> = peers
            .iter()
            .take(MOST_LAYERS)
            .map(|p| Member { id: p.id, part: p.identity.role.part() })
            .collect();
        let range = index.saturating_sub(TENTHS_PER_SHORT_TERM as i64 - 1)..=index;
        let thirds: Vec<[f64; THIRDS]> = members
            .iter()
            .map(|m| self.stores.get(&m.id).map_or([0.0; THIRDS], |a| means(a, grid, &range)))
            .collect();
        let cover = Cover::new(&members, &thirds);
        let covered = (0..members.len())
            .filter(|at| members[*at].part.is_some())
            .filter_map(|at| Some((members[at].id, cover.of(at)?)))
            .collect();
        Some(JointTenth { grid, index, energies, compared: peers.len() > 1, covered })
    }
}

/// Shares over a stretch.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Over {
    /// Shares of the roles, 0…1.
    pub shares: [Option<f64>; PARTS],
    /// Share of the tenths in which a role leads, 0…1.
    pub leads: [Option<f64>; PARTS],
    /// The mix against the sum of its layers, dB; absent without a mix.
    pub unaccounted_db: Option<f64>,
}

impl Balance {
    /// Shares over a range of tenths. For the whole programme the range is ignored and the energies are gated, as in
    /// [`Balance::ask`].
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
        let Self { stores, aggregate, .. } = self;
        aggregate.refresh(&members, stores);
        let stores: Vec<Option<&LayerStore>> = members.iter().map(|m| stores.get(&m.id)).collect();
        let totals = match stretch {
            Stretch::Programme => aggregate.programme(&stores, grid),
            _ => aggregate.totals(&stores, grid, range),
        };
        let parts = Parts::of(&totals, &members, &BandWeights::new(&BandEdges::default()));
        let mix = (0..members.len())
            .filter(|at| members[*at].part.is_none())
            .max_by(|a, b| totals.layers[*a].energy.total_cmp(&totals.layers[*b].energy));
        Over {
            shares: std::array::from_fn(|part| parts.roles[part].share),
            leads: std::array::from_fn(|part| parts.roles[part].lead),
            unaccounted_db: mix.and_then(|mix| unaccounted(&totals.layers[mix]).db),
        }
    }
}

/// Mean squares of the thirds over a range of 30 tenths, computed as in an answer.
fn means(store: &LayerStore, grid: Grid, range: &RangeInclusive<i64>) -> [f64; THIRDS] {
    let (sums, unmeasured) = store.thirds(grid, range);
    #[expect(clippy::cast_possible_truncation, reason = "30")]
    let tenths = TENTHS_PER_SHORT_TERM as u32;
    std::array::from_fn(|third| {
        let measured = tenths.saturating_sub(unmeasured[window_for(third_centre_hz(third))]);
        if measured == 0 { 0.0 } else { sums[third] / f64::from(measured) }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::Identity;
    use plumbline_measure::Digest;

    /// The answer of `reported` for layer 1, in a balance that took these tenths of song time.
    fn reported(taken: &[(u64, i64)], running: &[u64]) -> Option<(i64, i64, u64)> {
        let mut balance = Balance::default();
        for (layer, index) in taken {
            let digest =
                Digest { grid: Grid::Song, index: *index, frames: 10, length: 10, ..Digest::default() };
            balance.take(LayerId(*layer), &digest);
        }
        let peer = |id: u64| Peer {
            id: LayerId(id),
            identity: Identity::default(),
            running: running.contains(&id),
            missed: 0,
            altered: false,
            absent: false,
        };
        let found = balance.reported(&[1, 2].map(peer), LayerId(1))?;
        assert_eq!((found.grid, found.count), (Grid::Song, taken.len() as u64));
        Some((found.first, found.last, found.run))
    }

    #[test]
    fn a_run_is_reported_from_where_all_have_come_to_it() {
        let mut taken = vec![(1, 189), (2, 189), (1, 190), (2, 190)];
        assert_eq!(reported(&taken, &[1, 2]), Some((189, 190, 1)));
        // Layer 1 jumps. Layer 2 is about to, unless it is stopped.
        taken.extend([(1, 200), (1, 201)]);
        assert_eq!(reported(&taken, &[1, 2]), None);
        assert_eq!(reported(&taken, &[1]), Some((200, 201, 5)));
        taken.push((2, 200));
        assert_eq!(reported(&taken, &[1, 2]), Some((200, 200, 5)));
        // A layer that does not follow is waited for, for a limited time.
        let mut taken = vec![(2, 190)];
        taken.extend((200..=240).map(|index| (1, index)));
        assert_eq!(reported(&taken, &[1, 2]), None);
        taken.push((1, 241));
        assert_eq!(reported(&taken, &[1, 2]), Some((200, 241, 2)), "too far apart to be in one pass");
        // If none runs, layer 1 is followed all the same.
        assert_eq!(reported(&[(2, 7), (1, 7), (1, 8), (2, 8)], &[]), Some((7, 8, 2)));
    }
}
