//! The evidence for a join at a boundary.
//!
//! Three questions are asked: is it another sound, the same sound at another gain, or another stereo image? Each answer
//! is a weighted sum. The weights of the first two are those of a logistic regression on joins made of real recordings,
//! half of which were kept apart: `docs/measures.md`, "Finding a join".

use super::candidates::{Candidate, Change, GUARD, LEAST};
use super::comparison::{common, median, percentile};
use super::levels::{BANDS, Levels, Window};
use std::ops::Range;

/// Tenths of a window.
const WINDOW: usize = 20;
/// Tenths examined after a boundary, and before it.
pub(super) const AFTER: usize = 48;
const BEFORE: usize = 100;
/// Tenths before a boundary whose levels set the floor.
const LOOKED: usize = BEFORE + 1 + WINDOW;
/// Fewest tenths of a window.
const LEAST_WINDOW: usize = LEAST - GUARD - 2;
/// Level under the loudest tenth, dB, at which a side counts as silence, which has a rule of its own.
const SILENCE_DB: f64 = 50.0;
/// Unrest assumed of a passage too short to measure it (ours): of levels in dB, its 80th percentile, and of the image.
const UNKNOWN_UNREST: (f64, f64, f64) = (3.0, 4.5, 0.12);
/// Change of a third from which its steepness counts, dB.
const STEEP_DB: f64 = 2.0;
/// Evidence that a join must exceed: another sound, and another gain. Lower values find more joins, true and false.
const LEAST_SOUND: f64 = 0.75;
const LEAST_GAIN: f64 = 1.0;
/// Least distance of images beyond four times their unrest, and its unit: set by hand, from mono to wide and noise.
const LEAST_IMAGE: (f64, f64) = (0.45, 0.2);
const TIMES_UNREST: f64 = 4.0;
/// Least part of a common change over 4 s that comes within half a second: with less it is not a step of gain, and if
/// all thirds change alike, a slow fade. A fade of 2 s has a quarter of it there, one of 10 s an eighth.
const AT_ONCE: f64 = 0.22;
/// The same within 2 s of the start or end of a run, where a slow fade cannot be recognised.
const AT_ONCE_AT_AN_EDGE: f64 = 0.4;
/// Least common change over 4 s, dB, that a step of gain leaves: a dropout leaves none, and a gust less than twice its
/// drift on either side.
const LEAST_STEP_DB: f64 = 1.5;
const FADE_DB: f64 = 2.5;
const FADE_SPREAD: f64 = 0.35;

/// The surroundings of a boundary, as known when it is judged.
pub(super) struct Known<'a, C> {
    pub(super) levels: &'a Levels,
    /// The place before which nothing is compared: the start of the run, or the latest join.
    pub(super) begin: usize,
    /// The end of the run so far.
    pub(super) end: usize,
    /// Returns the change at a boundary.
    pub(super) change: C,
}

fn log(value: f64, at_least: f64) -> f64 {
    (value + at_least).ln()
}

/// Places from `from` down to `least`, `step` apart.
fn down(from: usize, least: usize, step: usize) -> impl Iterator<Item = usize> {
    (least..=from).rev().step_by(step)
}

/// The windows around a boundary.
struct Around<'a> {
    levels: &'a Levels,
    floor_db: f64,
    /// First place compared, and the place after the last.
    begin: usize,
    end: usize,
    /// End of the tenths before the boundary, start of those after it.
    before: usize,
    after: usize,
    one: Window,
    other: Window,
    /// The windows of 4 s.
    long: [Window; 2],
}

impl Around<'_> {
    fn window(&self, places: Range<usize>) -> Window {
        self.levels.window(places, self.floor_db)
    }

    /// Windows before that end 0.5 s, 1 s and so on earlier.
    fn past(&self) -> Vec<Window> {
        let least = self.begin.max(self.before.saturating_sub(BEFORE)) + WINDOW;
        let ends = self.before.checked_sub(5).into_iter().flat_map(|from| down(from, least, 5));
        ends.map(|end| self.window(end - WINDOW..end)).collect()
    }

    /// Windows after that start 0.5 s, 1 s and so on later.
    fn future(&self) -> Vec<Window> {
        let starts = (self.after + 5..(self.end + 1).saturating_sub(WINDOW)).step_by(5);
        starts.map(|start| self.window(start..start + WINDOW)).collect()
    }

    /// Differences between neighbouring windows within one side: levels in dB, and images.
    fn unrest(&self) -> (Vec<f64>, Vec<f64>) {
        let least = self.begin.max(self.before.saturating_sub(BEFORE)) + 2 * WINDOW;
        let before = down(self.before, least, 5).map(|end| end - WINDOW);
        let after =
            (self.after..(self.end + 1).saturating_sub(2 * WINDOW)).step_by(2).map(|start| start + WINDOW);
        let pairs = before.chain(after).map(|middle| {
            let [one, other] =
                [middle - WINDOW..middle, middle..middle + WINDOW].map(|places| self.window(places));
            (one.distance_db(&other), one.image_distance(&other))
        });
        pairs.unzip()
    }

    /// The halves of a side.
    fn halves(&self, places: Range<usize>, middle: usize) -> [Window; 2] {
        [places.start..middle, middle..places.end].map(|half| self.window(half))
    }

    /// Part of the change of all thirds that comes within 0.2 s.
    fn steepness(&self, t: usize, sides: [Range<usize>; 2]) -> f64 {
        let mean =
            |places: Range<usize>| self.levels.means(places.start..places.end.min(self.end), self.floor_db).0;
        let [one, other] = sides.map(mean);
        let steps = [t - 1, t, t + 1].map(|at| (mean(at.saturating_sub(2)..at), mean(at..at + 2)));
        let third = |band: usize| {
            let change = (other[band] - one[band]).abs();
            let jump = steps.iter().map(|(one, other)| (other[band] - one[band]).abs()).fold(0.0, f64::max);
            if change > STEEP_DB { jump.min(change) / change } else { 0.0 }
        };
        (0..BANDS).map(third).sum::<f64>() / BANDS as f64
    }

    /// The common change of the means of `reach` tenths on either side, dB, and its spread.
    fn step_db(&self, reach: usize, audible: &[bool; BANDS]) -> (f64, f64) {
        let before = self.before.saturating_sub(reach).max(self.begin)..self.before;
        let after = self.after..self.end.min(self.after + reach);
        let [one, other] = [before, after].map(|places| self.levels.means(places, self.floor_db).0);
        common(&std::array::from_fn(|band| other[band] - one[band]), audible)
    }
}

/// Evidence for a join at the boundary `t`; positive if it is one. `None` if the sound decides nothing.
pub(super) fn evidence<C: Fn(usize) -> Change>(
    t: usize,
    candidate: Candidate,
    known: &Known<'_, C>,
) -> Option<f64> {
    let (levels, begin) = (known.levels, known.begin);
    let (before, after) = (t.checked_sub(GUARD)?, t + GUARD);
    let end = known.end.min(t + AFTER);
    let sides = [before.checked_sub(begin)?, end.checked_sub(after)?].map(|tenths| tenths.min(WINDOW));
    if sides.iter().any(|tenths| *tenths < LEAST_WINDOW) {
        return None;
    }
    let sides = [before - sides[0]..before, after..after + sides[1]];
    let looked = t.saturating_sub(LOOKED)..end;
    let loudest_db = levels.totals_db(looked.clone()).fold(f64::NEG_INFINITY, f64::max);
    let [one_db, other_db] = [&sides[0], &sides[1]].map(|side| median(levels.totals_db(side.clone())));
    let (one_db, other_db) = (one_db?, other_db?);
    if one_db.min(other_db) < loudest_db - SILENCE_DB {
        return None;
    }
    let floor_db = levels.floor_db(looked);
    let [one, other] = sides.each_ref().map(|side| levels.window(side.clone(), floor_db));
    let ends = [before.saturating_sub(2 * WINDOW).max(begin), end.min(after + 2 * WINDOW)];
    let long = [ends[0]..before, after..ends[1]].map(|side| levels.window(side, floor_db));
    let around = Around { levels, floor_db, begin, end, before, after, one, other, long };

    let (past, future) = (around.past(), around.future());
    let (one, other) = (&around.one, &around.other);
    let least = |first: f64, rest: &mut dyn Iterator<Item = f64>| rest.fold(first, f64::min);
    let image = one.image_distance(other);
    let image_past = least(image, &mut past.iter().map(|window| window.image_distance(other)));
    let image_future = least(image, &mut future.iter().map(|window| one.image_distance(window)));
    let (unrest, image_unrest) = around.unrest();
    let image_unrest = median(image_unrest.into_iter()).unwrap_or(UNKNOWN_UNREST.2);
    let unrest_db = median(unrest.iter().copied()).unwrap_or(UNKNOWN_UNREST.0);

    let audible = one.audible(other);
    let (at_once_db, _) = around.step_db(3, &around.long[0].audible(&around.long[1]));
    let (over_all_db, over_all_spread_db) = around.long[0].common_db(&around.long[1]);
    let at_once = at_once_db * over_all_db.signum() / over_all_db.abs().max(1e-9);
    let steep = around.steepness(t, sides.clone());

    let before_halves = around.halves(ends[0]..before, before - (before - ends[0]) / 2);
    let after_halves = around.halves(after..ends[1], after + (ends[1] - after) / 2);
    // A gust moves all thirds alike, too, but goes on moving.
    let drift_db = [&before_halves, &after_halves]
        .map(|[one, other]| one.common_db(other).0.abs())
        .into_iter()
        .fold(0.0, f64::max);

    let mut evidence: Vec<f64> = Vec::new();
    let fades = over_all_db.abs() > FADE_DB
        && at_once < AT_ONCE
        && over_all_spread_db < FADE_SPREAD * over_all_db.abs();
    if candidate.sound && !fades {
        let lowest =
            least(one.distance_of(0, other), &mut past.iter().map(|window| window.distance_of(0, other)));
        let stays = least(one.distance_db(other), &mut future.iter().map(|window| one.distance_db(window)));
        let [rise, fall] = one.moves_db(other);
        let nearest: Vec<f64> = levels.totals_db(begin.max(t.saturating_sub(10))..end.min(t + 10)).collect();
        let quietest =
            nearest.windows(3).map(|three| three.iter().sum::<f64>() / 3.0).fold(f64::INFINITY, f64::min);
        let context = percentile(levels.totals_db(begin.max(t.saturating_sub(BEFORE))..end), 80.0)?;
        evidence.push(
            -9.394 - 0.362 * log(unrest_db, 0.5)
                + 1.477 * log(image_past, 0.05)
                + 0.432 * log(image_future, 0.05)
                - 2.296 * log(image_unrest, 0.05)
                + 0.586 * (rise * fall).sqrt()
                + 1.726 * log(lowest, 0.5)
                + 0.714 * log((known.change)(t).spread_db, 0.4)
                + 0.809 * log(over_all_spread_db, 0.4)
                - 1.064 * log(after_halves[0].distance_db(&after_halves[1]), 0.5)
                - 1.578 * log(before_halves[0].distance_db(&before_halves[1]), 0.5)
                + 1.827 * log(stays, 0.5)
                - 0.717 * (one_db.max(other_db) - quietest).clamp(0.0, 40.0) / 10.0
                - 0.487 * (context - other_db).clamp(0.0, 40.0) / 10.0
                + 2.251 * steep
                - 1.678 * (WINDOW - sides[0].len()) as f64 / WINDOW as f64
                - LEAST_SOUND,
        );
    }
    let is_edge = sides.iter().any(|side| side.len() < WINDOW);
    let least_at_once = if is_edge { AT_ONCE_AT_AN_EDGE } else { AT_ONCE };
    if candidate.gain && at_once >= least_at_once && over_all_db.abs() >= LEAST_STEP_DB.max(2.0 * drift_db) {
        let [rise, fall] = around.long[0].moves_db(&around.long[1]);
        let moved = |window: &Window| window.moves_db(other).iter().sum::<f64>();
        let moved = least(moved(one), &mut past.iter().map(moved));
        let elsewhere = (t.saturating_sub(BEFORE).max(begin + LEAST - GUARD)..t.saturating_sub(12))
            .chain(t + LEAST..end.saturating_sub(9).max(t + LEAST));
        let elsewhere: Vec<f64> = elsewhere.map(|at| (known.change)(at).common).collect();
        let usual = if elsewhere.len() > 5 { percentile(elsewhere.into_iter(), 95.0)? } else { 1.5 };
        let unrest_80 = percentile(unrest.into_iter(), 80.0).unwrap_or(UNKNOWN_UNREST.1);
        evidence.push(
            -4.463 - 0.953 * log(one.common_db(other).1, 0.4) + 6.346 * steep + 1.432 * log(rise + fall, 0.5)
                - 1.160 * log(unrest_80, 0.5)
                - 0.941 * log(around.step_db(3, &audible).1, 0.4)
                - 1.310 * log(over_all_spread_db, 0.4)
                + 0.834 * (log((known.change)(t).common, 0.3) - log(usual, 0.3))
                + 0.479 * log(moved, 0.5)
                - LEAST_GAIN,
        );
    }
    if candidate.image {
        let beyond = image_past.min(image_future) - TIMES_UNREST * image_unrest - LEAST_IMAGE.0;
        evidence.push(beyond / LEAST_IMAGE.1);
    }
    evidence.into_iter().filter(|value| !value.is_nan()).reduce(f64::max)
}
