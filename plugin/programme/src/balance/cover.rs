//! Which layers the others cover.

use super::page_sums::Member;
use crate::session::{COVERED_DB, Covered, RIVAL_DB};
use plumbline_measure::bands::{Span, THIRDS, third_span};
use plumbline_measure::cross::{StereoPower, db_power, power_db};
use plumbline_measure::reading::Gate;

/// Range under its own loudest third in which a layer still has energy, dB (common practice, no source).
const LIVES_DB: f64 = 20.0;

/// All members in each third, to compare each with the others.
pub(super) struct Cover<'a> {
    members: &'a [Member],
    thirds: &'a [[f64; THIRDS]],
    /// Sum over the members that have a share.
    sums: [f64; THIRDS],
    /// The two loudest of these members in each third, the loudest first.
    loudest: [[Option<usize>; 2]; THIRDS],
}

impl<'a> Cover<'a> {
    /// `thirds` are the mean squares of all members over the last 3 s.
    pub(super) fn new(members: &'a [Member], thirds: &'a [[f64; THIRDS]]) -> Self {
        let mut cover = Self { members, thirds, sums: [0.0; THIRDS], loudest: [[None; 2]; THIRDS] };
        for (at, own) in thirds.iter().enumerate().filter(|(at, _)| members[*at].part.is_some()) {
            for third in 0..THIRDS {
                cover.sums[third] += own[third];
                let [first, second] = &mut cover.loudest[third];
                let beats =
                    |other: &Option<usize>| other.is_none_or(|other| thirds[other][third] <= own[third]);
                if beats(first) {
                    (*second, *first) = (*first, Some(at));
                } else if beats(second) {
                    *second = Some(at);
                }
            }
        }
        cover
    }

    /// The cover of a member: in every third in which it has energy, the sum of the others is at least [`COVERED_DB`]
    /// over it, and the loudest of them [`RIVAL_DB`]. `None` if it is not covered or does not sound.
    pub(super) fn of(&self, which: usize) -> Option<Covered> {
        let own = &self.thirds[which];
        let loudest = own.iter().copied().fold(0.0, f64::max);
        let gate = Gate::bands(loudest);
        let lives = |third: &usize| {
            let cross = StereoPower { ll: own[*third], ..StereoPower::default() };
            gate.open(&cross) && own[*third] >= loudest * db_power(-LIVES_DB)
        };
        let counts = self.members[which].part.is_some();
        let mut led = vec![(0_u32, 0.0); self.members.len()];
        let (mut least, mut first, mut last) = (f64::INFINITY, None, None);
        for third in (0..THIRDS).filter(lives) {
            // Accurate enough: if the others are at least as loud, nothing cancels.
            let sum = self.sums[third] - if counts { own[third] } else { 0.0 };
            let over_db = power_db(sum / own[third]);
            if over_db.is_nan() || over_db < COVERED_DB {
                return None;
            }
            least = f64::min(least, over_db);
            let leader = self.loudest[third].into_iter().flatten().find(|at| *at != which)?;
            // Of many similar layers each is far under the sum of the rest, but none of them is covered.
            if self.thirds[leader][third] < own[third] * db_power(RIVAL_DB) {
                return None;
            }
            led[leader] = (led[leader].0 + 1, led[leader].1 + self.thirds[leader][third]);
            first = first.or(Some(third));
            last = Some(third);
        }
        let (first, last) = (first?, last?);
        let leaders = (0..led.len()).filter(|at| led[*at].0 > 0);
        let by = leaders.max_by(|a, b| led[*a].0.cmp(&led[*b].0).then(led[*a].1.total_cmp(&led[*b].1)))?;
        let span = Span { low_hz: third_span(first).low_hz, high_hz: third_span(last).high_hz };
        Some(Covered { by_db: least, by: self.members[by].id, span })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::LayerId;

    /// Layers at these levels in every third, dB, and a mix over them all, which does not count.
    fn levels(all_db: &[f64]) -> (Vec<Member>, Vec<[f64; THIRDS]>) {
        let part = |id: u64| Member { id: LayerId(id), part: Some(0) };
        let mut members: Vec<Member> = (0..all_db.len() as u64).map(part).collect();
        members.push(Member { id: LayerId(99), part: None });
        let thirds = all_db.iter().map(|db| [db_power(*db); THIRDS]).chain([[1e6; THIRDS]]).collect();
        (members, thirds)
    }

    #[test]
    fn of_many_layers_alike_none_is_covered() {
        // Each of eleven is 10 dB under the sum of the other ten, each of twenty-one 13 dB.
        for count in [11, 21] {
            let (members, thirds) = levels(&vec![0.0; count]);
            let cover = Cover::new(&members, &thirds);
            let covered = (0..count).filter(|at| cover.of(*at).is_some()).count();
            assert_eq!(covered, 0, "of {count}");
        }
    }

    #[test]
    fn one_that_is_far_under_each_of_many_is_covered_by_the_loudest_of_them() {
        for (under_db, is_covered) in [(RIVAL_DB - 0.1, false), (RIVAL_DB + 0.1, true)] {
            let mut all_db = vec![-0.01; 12];
            (all_db[3], all_db[7]) = (-under_db, 0.0);
            let (members, thirds) = levels(&all_db);
            let cover = Cover::new(&members, &thirds);
            let found = cover.of(3);
            assert_eq!(found.is_some(), is_covered, "{under_db} dB under the loudest: {found:?}");
            if let Some(found) = found {
                assert_eq!(found.by, LayerId(7));
                let sum = under_db + power_db(1.0 + 10.0 * db_power(-0.01));
                assert!((found.by_db - sum).abs() < 1e-9, "{found:?}");
            }
        }
        // Nine others alike, 6.1 dB over it, are 15.6 dB over it together; one alone needs all 10 dB.
        let (members, thirds) = levels(&[-9.9, 0.0]);
        assert_eq!(Cover::new(&members, &thirds).of(0), None);
        let (members, thirds) = levels(&[-10.1, 0.0]);
        assert!(Cover::new(&members, &thirds).of(0).is_some_and(|c| (c.by_db - 10.1).abs() < 1e-9));
    }
}
