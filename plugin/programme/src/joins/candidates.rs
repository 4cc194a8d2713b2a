//! Boundaries at which a join is looked for: where levels, their common part, or the image change most.

use super::comparison::{common, image_distance};
use super::levels::{BANDS, Levels};

/// Tenths on either side of a boundary that are left out: the change itself may be in them.
pub(super) const GUARD: usize = 1;
/// Fewest tenths on either side of a boundary.
pub(super) const LEAST: usize = 12 + GUARD;
/// Tenths on either side whose levels set the floor.
pub(super) const LOOKED: usize = 31;
/// Boundaries on either side over which a change must be the largest: of levels and image, of the common part.
const NEAR: [usize; 2] = [5, 6];
/// Least change: of the levels, of their common part in units of its spread, and of the image (ours).
const LEAST_CHANGE: f64 = 0.08;
const LEAST_COMMON: f64 = 1.0;
const LEAST_IMAGE: f64 = 0.3;
/// Least common change, dB, and the amount added to the spread that divides it.
const LEAST_COMMON_DB: f64 = 1.0;
const SPREAD_DB: f64 = 0.7;
/// Range under the loudest third in which a third counts for the common change, dB.
const COMMON_RANGE_DB: f64 = 45.0;
/// Variance added to that of the levels, dB².
const VARIANCE: f64 = 2.25;

/// The change at a boundary.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Change {
    /// Change of the levels: the log likelihood ratio of two passages against one, per third.
    levels: f64,
    /// Common change of all thirds, in units of its spread.
    pub(super) common: f64,
    /// Spread of the common change, dB.
    pub(super) spread_db: f64,
    /// Change of the image.
    image: f64,
}

/// The kinds of join that a boundary is a candidate for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Candidate {
    /// Another sound.
    pub(super) sound: bool,
    /// The same sound at another gain.
    pub(super) gain: bool,
    /// Another image.
    pub(super) image: bool,
}

impl Candidate {
    pub(super) fn is_any(self) -> bool {
        self.sound || self.gain || self.image
    }
}

/// The log likelihood ratio over at most `reach` tenths on either side of the boundary before `t`.
fn ratio(levels: &Levels, t: usize, reach: usize, end: usize, floor_db: f64) -> f64 {
    let (before, after) = (t - GUARD, t + GUARD);
    let (from, to) = (before.saturating_sub(reach), end.min(after + reach));
    let ((one, spread), (other, spread_after)) =
        (levels.means(from..before, floor_db), levels.means(after..to, floor_db));
    let (count, count_after) = ((before - from) as f64, (to - after) as f64);
    let third = |band: usize| {
        let within =
            (spread[band] * count + spread_after[band] * count_after) / (count + count_after) + VARIANCE;
        ((other[band] - one[band]).powi(2) / within).ln_1p()
    };
    (0..BANDS).map(third).sum::<f64>() / BANDS as f64
}

impl Change {
    /// The change at the boundary before tenth `t` of a run known up to `end`; `None` too near to either end.
    pub(super) fn at(levels: &Levels, t: usize, end: usize) -> Option<Self> {
        if t < LEAST || t + LEAST > end {
            return None;
        }
        let floor_db = levels.floor_db(t.saturating_sub(LOOKED)..end.min(t + LOOKED));
        let (before, after) = (t - GUARD, t + GUARD);
        let changes = (ratio(levels, t, 15, end, floor_db) + ratio(levels, t, 30, end, floor_db)) / 2.0;

        let (from, to) = (before.saturating_sub(8), end.min(after + 8));
        let [(one, _), (other, _), (all, _)] =
            [from..before, after..to, from..to].map(|places| levels.means(places, floor_db));
        let loudest = all.into_iter().fold(f64::NEG_INFINITY, f64::max);
        let (common_db, spread_db) = common(
            &std::array::from_fn(|band| other[band] - one[band]),
            &all.map(|level| level > loudest - COMMON_RANGE_DB),
        );
        let common =
            if common_db.abs() > LEAST_COMMON_DB { common_db.abs() / (spread_db + SPREAD_DB) } else { 0.0 };

        let image = image_distance(
            &levels.images(before.saturating_sub(15)..before),
            &levels.images(after..end.min(after + 15)),
        );
        Some(Self { levels: changes, common, spread_db, image })
    }
}

/// The kinds of join that boundary `t` is a candidate for. `change` returns the change at a boundary, 0 if unknown.
pub(super) fn candidate(t: usize, change: impl Fn(usize) -> Change) -> Candidate {
    let leads = |of: fn(Change) -> f64, least: f64, near: usize| {
        let own = of(change(t));
        own > least && (t.saturating_sub(near)..=t + near).all(|other| of(change(other)) <= own)
    };
    Candidate {
        sound: leads(|change| change.levels, LEAST_CHANGE, NEAR[0]),
        gain: leads(|change| change.common, LEAST_COMMON, NEAR[1]),
        image: leads(|change| change.image, LEAST_IMAGE, NEAR[0]),
    }
}
