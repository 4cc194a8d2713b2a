//! The evidence that a boundary is a join, from the windows on either side and from what the passage was like so far.

use super::window::{Distance, Window};

/// Weights of the evidence for another sound, and for another gain of the same sound. Fitted by logistic regression,
/// signs as expected, on one half of the recordings of `tests/reference/joins_on_recordings.rs`; no published source.
struct Weights;

impl Weights {
    const SOUND: [f64; 11] =
        [0.657, 0.346, 1.096, 0.560, -1.139, -0.668, 0.469, 1.161, -1.531, -0.540, -0.493];
    const SOUND_BIAS: f64 = -2.640;
    const GAIN: [f64; 9] = [-1.210, -0.770, 0.770, 0.524, 0.331, 0.728, 0.928, -0.706, -1.329];
    const GAIN_BIAS: f64 = -2.868;
}

/// Score from which on a boundary is a join, in units of log odds in favour of one.
const LEAST_SOUND: f64 = 0.0;
const LEAST_GAIN: f64 = 0.4;
/// A sound that gets quieter or louder by more than this, and goes on doing so by more than [`GOES_ON_LU`] in the seconds
/// after it, decays or swells: no join.
const MOVING_LU: f64 = 2.5;
const GOES_ON_LU: f64 = 3.0;
/// A passage is steady if its unrest is under these; it needs less: a change of loudness or image of more than [`TIMES_UNREST`] its unrest, in these units
/// together over [`LEAST_STEADY`].
const STEADY_DB: f64 = 1.5;
const STEADY_LU: f64 = 0.5;
const UNIT_LU: f64 = 2.5;
const UNIT_IMAGE: f64 = 0.3;
const TIMES_UNREST: f64 = 3.0;
const LEAST_STEADY: f64 = 1.2;
/// Tenths of a full window, and of a passage that is known well; under the first it has no unrest.
const FULL: f64 = 20.0;
const HARDLY_KNOWN: f64 = 30.0;
const WELL_KNOWN: f64 = 100.0;

/// What is known at a boundary.
pub(super) struct Evidence<'a> {
    /// Up to 2 s before and after.
    pub(super) before: &'a Window,
    pub(super) after: &'a Window,
    /// Up to 3.5 s before and after.
    pub(super) long_before: &'a Window,
    pub(super) long_after: &'a Window,
    /// Distances of `after` from the windows of the passage before the boundary, and of `before` from those after it.
    pub(super) past: &'a [Distance],
    pub(super) future: &'a [Distance],
    /// The passage's own changes from 2 s to the next 2 s: spread, image, level, thirds; absent if too short.
    pub(super) unrest: Option<[f64; 4]>,
    /// Tenths of the passage before the boundary.
    pub(super) length: usize,
}

/// Unrest of a passage too short to have any: about the middle of what recordings have.
const USUAL_UNREST: [f64; 4] = [3.5, 0.15, 2.0, 3.0];

/// The least of each distance; gain and shape are those of the window whose shape is nearest.
fn nearest(distances: &[Distance]) -> Distance {
    let least = |of: fn(&Distance) -> f64| distances.iter().map(of).fold(f64::INFINITY, f64::min);
    let alike = distances.iter().min_by(|a, b| a.shape.total_cmp(&b.shape)).copied().unwrap_or_default();
    Distance {
        spread: least(|d| d.spread),
        image: least(|d| d.image),
        level: least(|d| d.level),
        thirds: least(|d| d.thirds),
        ..alike
    }
}

fn weighed<const N: usize>(weights: [f64; N], values: [f64; N], bias: f64) -> f64 {
    weights.into_iter().zip(values).map(|(weight, value)| weight * value).sum::<f64>() + bias
}

impl Evidence<'_> {
    /// By how much the evidence is over the least that a join needs; under 0 it is none.
    pub(super) fn score(&self) -> f64 {
        let louder = self.after.level - self.before.level;
        let goes_on = self.long_after.falls * louder.signum();
        if louder.abs() > MOVING_LU && goes_on < -GOES_ON_LU {
            return f64::NEG_INFINITY;
        }
        let (past, future) = (nearest(self.past), nearest(self.future));
        let [spread, image, level, thirds] = self.unrest.unwrap_or(USUAL_UNREST);
        let length = self.length as f64;
        let known = ((length - HARDLY_KNOWN) / (WELL_KNOWN - HARDLY_KNOWN)).clamp(0.0, 1.0);
        let short = (FULL - length).clamp(0.0, FULL) / FULL;
        let thin = (FULL - self.after.heard as f64).clamp(0.0, FULL) / FULL;
        let falls = self.after.falls.clamp(-12.0, 12.0);
        let tail = (-louder).clamp(0.0, 12.0) * falls.max(0.0) / 50.0;
        let sound = weighed(
            Weights::SOUND,
            [
                (past.image + 0.05).ln(),
                (future.image + 0.05).ln(),
                past.spread.ln_1p(),
                future.spread.ln_1p(),
                spread.ln_1p(),
                (image + 0.05).ln(),
                (self.long_before.likelier_apart(self.long_after) + 0.1).ln(),
                known,
                short,
                thin,
                tail,
            ],
            Weights::SOUND_BIAS,
        );
        let gain = weighed(
            Weights::GAIN,
            [
                tail,
                (past.shape + future.shape).ln_1p(),
                falls / 10.0,
                future.level.min(10.0) / (level + 1.0),
                past.thirds.min(future.thirds).ln_1p(),
                past.gain.min(future.gain).min(10.0) / (thirds + 1.0),
                known,
                short,
                thin,
            ],
            Weights::GAIN_BIAS,
        );
        let beyond = |a: f64, b: f64, unrest: f64| (a.min(b) - TIMES_UNREST * unrest).max(0.0);
        let steady = beyond(past.level, future.level, level) / UNIT_LU
            + beyond(past.image, future.image, image) / UNIT_IMAGE;
        let is_steady = spread < STEADY_DB && level < STEADY_LU;
        let steady = if is_steady { steady - LEAST_STEADY } else { f64::NEG_INFINITY };
        (sound - LEAST_SOUND).max(gain - LEAST_GAIN).max(steady)
    }
}
