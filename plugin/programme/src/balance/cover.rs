//! Which layers the others cover.

use super::page_sums::Member;
use crate::session::{COVERED_DB, Covered};
use plumbline_measure::bands::{Span, THIRDS, third_span};
use plumbline_measure::cross::{StereoPower, db_power, power_db};
use plumbline_measure::reading::Gate;

/// How far under its own loudest third a layer still counts as having energy, dB (common practice, no source).
const LIVES_DB: f64 = 20.0;

/// All members in each third, to compare each with the others.
pub(super) struct Cover<'a> {
    members: &'a [Member],
    thirds: &'a [[f64; THIRDS]],
    /// Sum over the members that have a share.
    sums: [f64; THIRDS],
    /// The two loudest of them, the loudest first.
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
    /// over it. `None` if it is not covered or does not sound.
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

    #[test]
    fn the_loudest_of_many_is_covered_by_the_loudest_of_the_rest() {
        // Twenty alike, one of them slightly louder; one louder than these in every third; and a mix, which does not
        // count.
        let part = |id: u64| Member { id: LayerId(id), part: Some(0) };
        let mut members: Vec<Member> = (0..21).map(part).collect();
        members.push(Member { id: LayerId(99), part: None });
        let mut thirds = vec![[1.0; THIRDS]; 20];
        thirds[7] = [1.01; THIRDS];
        thirds.extend([[1.1; THIRDS], [1e6; THIRDS]]);
        let cover = Cover::new(&members, &thirds);
        let found = cover.of(20).expect("covered");
        assert_eq!(found.by, LayerId(7));
        assert!((found.by_db - power_db(20.01 / 1.1)).abs() < 1e-9, "{found:?}");
        let found = cover.of(7).expect("covered");
        assert_eq!(found.by, LayerId(20));
        assert!((found.by_db - power_db(20.1 / 1.01)).abs() < 1e-9, "{found:?}");
        // Ten others are not enough for 10 dB.
        let cover = Cover::new(&members[10..], &thirds[10..]);
        assert_eq!(cover.of(10), None);
    }
}
