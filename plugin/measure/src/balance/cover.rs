//! Who is covered by the others now.

use super::sheet::Member;
use crate::bands::{Span, THIRDS, third_span};
use crate::cross::{Cross, db_power, power_db};
use crate::reading::Gate;
use crate::session::{COVERED_DB, Covered};

/// How far under its own loudest third a layer still lives, dB (common practice, no source).
const LIVES_DB: f64 = 20.0;

/// Whether the others cover a member: in every third in which it lives their sum is at least [`COVERED_DB`] over it.
/// `thirds` are the mean squares of all members over the newest 3 s. A layer that does not sound is not covered.
pub(super) fn covered(members: &[Member], thirds: &[[f64; THIRDS]], which: usize) -> Option<Covered> {
    let own = &thirds[which];
    let loudest = own.iter().copied().fold(0.0, f64::max);
    let gate = Gate::bands(loudest);
    let lives = |third: &usize| {
        let cross = Cross { ll: own[*third], ..Cross::default() };
        gate.open(&cross) && own[*third] >= loudest * db_power(-LIVES_DB)
    };
    let others = || (0..members.len()).filter(|at| *at != which && members[*at].part.is_some());
    let mut led = vec![(0_u32, 0.0); members.len()];
    let (mut least, mut first, mut last) = (f64::INFINITY, None, None);
    for third in (0..THIRDS).filter(lives) {
        let sum: f64 = others().map(|at| thirds[at][third]).sum();
        let over_db = power_db(sum / own[third]);
        if over_db.is_nan() || over_db < COVERED_DB {
            return None;
        }
        least = f64::min(least, over_db);
        let leader = others().max_by(|a, b| thirds[*a][third].total_cmp(&thirds[*b][third]))?;
        led[leader] = (led[leader].0 + 1, led[leader].1 + thirds[leader][third]);
        first = first.or(Some(third));
        last = Some(third);
    }
    let (first, last) = (first?, last?);
    let by = others().max_by(|a, b| led[*a].0.cmp(&led[*b].0).then(led[*a].1.total_cmp(&led[*b].1)))?;
    let span = Span { low_hz: third_span(first).low_hz, high_hz: third_span(last).high_hz };
    Some(Covered { by_db: least, by: members[by].id, span })
}
