//! One page of all layers side by side: sums, leaders, and weighted sums that save a second walk.

use super::layer_page::Page;
use crate::paged::{PAGE, ones};
use crate::role::PARTS;
use crate::session::{LEAD_LU, LayerId};
use plumbline_measure::bands::THIRDS;
use plumbline_measure::cross::db_power;
use plumbline_measure::loudness::{ABSOLUTE_GATE_LUFS, mean_square_of};

/// Slack on the lead, so that a layer louder by exactly [`LEAD_LU`] leads in spite of rounding: 4e-6 LU.
const LEAD_SLACK: f64 = 1.0 - 1e-6;

/// A layer that counts, and the index of its role; `None` for a mix.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Member {
    pub(super) id: LayerId,
    pub(super) part: Option<usize>,
}

/// The sums that a page of one layer adds.
#[derive(Clone, Debug)]
pub(super) struct Line {
    /// Index of the layer among the members.
    pub(super) member: usize,
    /// Tenths that it reported.
    pub(super) used: u64,
    /// Tenths in which it sounds: −70 LUFS or more.
    pub(super) sounds: u64,
    /// Tenths in which it leads.
    pub(super) leads: u64,
    /// Sum of its K-weighted mean squares.
    pub(super) energy: f64,
    /// Sum of its thirds.
    pub(super) thirds: [f32; THIRDS],
    /// For a mix, over the tenths reported by both it and any layer: its energy, and that of the layers.
    pub(super) shared: [f64; 2],
    /// As `energy` and `shared`, with each tenth counted once per passing gating block that contains it.
    pub(super) weighted: f64,
    pub(super) weighted_shared: [f64; 2],
}

/// A page of all layers.
#[derive(Debug)]
pub(super) struct PageSums {
    /// Tenths that any member reported.
    pub(super) used: u64,
    /// Tenths reported by any member that is not a mix.
    pub(super) layers: u64,
    /// Tenths heard whole by any member that is not a mix.
    pub(super) whole: u64,
    /// Tenths in which the sum of the members, mixes excluded, is at −70 LUFS or over.
    pub(super) sounding: u64,
    /// Sum over the members, mixes excluded, in each tenth.
    pub(super) totals: [f64; PAGE],
    /// Tenths in which a role leads.
    pub(super) role_leads: [u64; PARTS],
    /// One line for each member that has this page.
    pub(super) lines: Box<[Line]>,
    /// Number of passing gating blocks that contain each tenth.
    weights: [u8; PAGE],
}

/// Smallest mean square that counts as sound.
pub(super) fn least_sound() -> f64 {
    mean_square_of(ABSOLUTE_GATE_LUFS)
}

/// Energy of some slots of a page.
pub(super) fn energy(page: &Page, slots: u64) -> f64 {
    ones(slots).map(|slot| f64::from(page.k[slot])).sum()
}

impl PageSums {
    /// Sums the pages. `None` if nobody reported anything.
    pub(super) fn of(pages: &[(usize, Member, &Page)]) -> Option<Self> {
        let mut totals = [0.0; PAGE];
        let mut roles = [[0.0; PAGE]; PARTS];
        let (mut used, mut layers, mut whole) = (0, 0, 0);
        let mut leaders = Leaders::default();
        for (at, member, page) in pages {
            used |= page.used;
            let Some(part) = member.part else { continue };
            layers |= page.used;
            whole |= page.whole;
            for slot in 0..PAGE {
                let k = f64::from(page.k[slot]);
                totals[slot] += k;
                roles[part][slot] += k;
            }
            leaders.weigh(*at, &page.k.map(f64::from));
        }
        if used == 0 {
            return None;
        }
        let least = least_sound();
        let sounding = bits(|slot| totals[slot] >= least);
        let mut role_leaders = Leaders::default();
        roles.iter().enumerate().for_each(|(part, sums)| role_leaders.weigh(part, sums));
        let mut role_leads = [0; PARTS];
        role_leaders.each(sounding, |part, bit| role_leads[part] |= bit);
        let mut lines: Box<[Line]> = pages
            .iter()
            .map(|(at, member, page)| Line {
                member: *at,
                used: page.used,
                sounds: bits(|slot| f64::from(page.k[slot]) >= least),
                leads: 0,
                energy: energy(page, page.used),
                thirds: *page.sums(),
                shared: match member.part {
                    Some(_) => [0.0; 2],
                    None => shared(&totals, page, page.used & layers),
                },
                weighted: 0.0,
                weighted_shared: [0.0; 2],
            })
            .collect();
        leaders.each(sounding, |who, bit| {
            if let Ok(at) = lines.binary_search_by_key(&who, |line| line.member) {
                lines[at].leads |= bit;
            }
        });
        let weights = [0; PAGE];
        Some(Self { used, layers, whole, sounding, totals, role_leads, lines, weights })
    }

    /// For a mix, over some slots: its energy, and that of the layers.
    pub(super) fn shared(&self, page: &Page, slots: u64) -> [f64; 2] {
        shared(&self.totals, page, slots & page.used & self.layers)
    }

    /// Takes, for each tenth, the number of passing gating blocks that contain it. `page` finds the page of a line.
    pub(super) fn weigh<'a>(
        &mut self,
        weights: &[u8; PAGE],
        members: &[Member],
        page: impl Fn(usize) -> Option<&'a Page>,
    ) {
        if self.weights == *weights {
            return;
        }
        self.weights = *weights;
        for line in &mut *self.lines {
            let Some(page) = page(line.member) else { continue };
            let by_weight = |k: &dyn Fn(usize) -> f64| {
                ones(line.used).map(|slot| f64::from(weights[slot]) * k(slot)).sum::<f64>()
            };
            line.weighted = by_weight(&|slot| f64::from(page.k[slot]));
            if members[line.member].part.is_none() {
                line.weighted_shared = [line.weighted, by_weight(&|slot| self.totals[slot])];
            }
        }
    }

    /// Sum of the numbers of passing blocks over all tenths.
    pub(super) fn weight(&self) -> f64 {
        self.weights.iter().map(|w| f64::from(*w)).sum()
    }

    /// Bytes taken.
    pub(super) fn bytes(&self) -> usize {
        size_of::<Self>() + self.lines.len() * size_of::<Line>()
    }
}

fn shared(totals: &[f64; PAGE], page: &Page, slots: u64) -> [f64; 2] {
    [energy(page, slots), ones(slots).map(|slot| totals[slot]).sum()]
}

/// The slots for which `holds` is true, as bits.
fn bits(holds: impl Fn(usize) -> bool) -> u64 {
    (0..PAGE).fold(0, |bits, slot| bits | u64::from(holds(slot)) << slot)
}

/// The loudest and the second loudest of each slot.
struct Leaders {
    first: [f64; PAGE],
    second: [f64; PAGE],
    who: [usize; PAGE],
}

impl Default for Leaders {
    fn default() -> Self {
        Self { first: [0.0; PAGE], second: [0.0; PAGE], who: [usize::MAX; PAGE] }
    }
}

impl Leaders {
    fn weigh(&mut self, who: usize, k: &[f64; PAGE]) {
        for (slot, k) in k.iter().enumerate() {
            if *k > self.first[slot] {
                (self.second[slot], self.first[slot], self.who[slot]) = (self.first[slot], *k, who);
            } else if *k > self.second[slot] {
                self.second[slot] = *k;
            }
        }
    }

    /// Calls `leads` with the leader and the bit of each of these slots that has a leader.
    fn each(&self, slots: u64, mut leads: impl FnMut(usize, u64)) {
        let least = db_power(LEAD_LU) * LEAD_SLACK;
        for slot in ones(slots).filter(|slot| self.first[*slot] >= self.second[*slot] * least) {
            leads(self.who[slot], 1 << slot);
        }
    }
}
