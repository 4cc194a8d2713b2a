//! The part of a tenth that is kept to find joins, and the features compared over ten tenths.

use crate::balance::Mark;
use crate::role::PARTS;
use plumbline_measure::bands::{
    FIRST_ACCURATE_THIRD, LONG, THIRDS, WINDOWS, third_centre_hz, third_span, window_for,
};
use plumbline_measure::cross::{StereoPower, Stored, power_db};
use plumbline_measure::loudness::{ABSOLUTE_GATE_LUFS, lufs};
use plumbline_measure::reading::Gate;
use plumbline_measure::{Onset, Tenth};

/// Octaves compared: 63 Hz to 12.5 kHz, three thirds each.
pub(super) const OCTAVES: usize = 8;
/// Thirds used for the tone: 63 Hz to 16 kHz.
const TONE_THIRDS: std::ops::Range<usize> = FIRST_ACCURATE_THIRD..30;
/// Fewest thirds for a line fit: two octaves.
const LEAST_THIRDS: usize = 6;
/// Lowest level of an octave, dBFS, and lowest level under the loudest octave, dB. Anything lower is leakage of the
/// window.
const OCTAVE_FLOOR_DBFS: f64 = -90.0;
const OCTAVE_FLOOR_DB: f64 = -50.0;
/// Tenths compared as one block.
pub(super) const BLOCK: usize = 10;
/// Tenths left out at either end of the sorted values of a block: room for a dropout or two hits.
const TRIMMED: usize = 2;
/// Largest power accepted; anything larger is damage.
const LARGEST: f64 = 1e30;

/// A power, or 0 if it is negative, too large or NaN.
pub(super) fn sane(power: f64) -> f64 {
    if (0.0..=LARGEST).contains(&power) { power } else { 0.0 }
}

/// One tenth, reduced to what joins need.
#[derive(Clone, Debug)]
pub(super) struct Cell {
    pub(super) place: Mark,
    pub(super) length: u32,
    /// Whether it was heard to its end.
    pub(super) complete: bool,
    /// Whether it does not continue the previous cell.
    pub(super) starts_run: bool,
    pub(super) onset: Onset,
    /// Sum of K-weighted squares, and the number of samples.
    pub(super) k: f64,
    pub(super) frames: f64,
    /// Sum over the frames of the long window, and frames of each window.
    pub(super) whole: StereoPower,
    pub(super) frames_of: [f64; WINDOWS],
    /// Power of left and right and Re of the cross spectrum of each third, summed over the frames of its window.
    powers: [[f32; 3]; THIRDS],
    /// K-weighted mean squares of the roles, once known.
    pub(super) energies: Option<[f64; PARTS]>,
    pub(super) features: Features,
}

/// The features compared, of one tenth or of ten.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Features {
    /// Level in LUFS, at least [`ABSOLUTE_GATE_LUFS`].
    pub(super) level: f64,
    /// Levels of the octaves relative to their mean, dB; absent in silence.
    pub(super) shape: [Option<f64>; OCTAVES],
    /// Tone, dB per octave.
    pub(super) tone: Option<f64>,
    /// Side share, 0…1.
    pub(super) width: Option<f64>,
}

/// The window that measures a third.
pub(super) fn window_of(third: usize) -> usize {
    window_for(third_span(third).low_hz)
}

/// Slope of a straight line fitted to the levels of thirds, dB per octave. `thirds` returns the power of a third.
pub(super) fn tone(thirds: impl Fn(usize) -> f64) -> Option<f64> {
    let loudest = TONE_THIRDS.map(&thirds).fold(0.0, f64::max);
    let gate = Gate::bands(loudest);
    let (mut count, mut x_sum, mut y_sum, mut xx, mut xy) = (0_u32, 0.0, 0.0, 0.0, 0.0);
    for third in TONE_THIRDS {
        let power = thirds(third);
        if gate.open(&StereoPower { ll: power, ..StereoPower::default() }) {
            let (x, y) = (third_centre_hz(third).log2(), power_db(power));
            count += 1;
            x_sum += x;
            y_sum += y;
            xx += x * x;
            xy += x * y;
        }
    }
    let n = f64::from(count);
    (count as usize >= LEAST_THIRDS).then(|| (n * xy - x_sum * y_sum) / (n * xx - x_sum * x_sum))
}

impl Cell {
    pub(super) fn of(tenth: &Tenth) -> Self {
        let stored = |s: &Stored| {
            let cross = StereoPower::from(*s);
            let re = if cross.re.abs() <= LARGEST { cross.re } else { 0.0 };
            StereoPower { ll: sane(cross.ll), rr: sane(cross.rr), re }
        };
        #[expect(clippy::cast_possible_truncation, reason = "as it is kept in the tenth")]
        let powers = tenth.thirds.map(|third| {
            let StereoPower { ll, rr, re } = stored(&third);
            [ll, rr, re].map(|power| power as f32)
        });
        let mut cell = Self {
            place: Mark { grid: tenth.grid, index: tenth.index },
            length: tenth.length,
            complete: tenth.sums.frames >= tenth.length,
            starts_run: true,
            onset: tenth.onset,
            k: sane(tenth.sums.k),
            frames: f64::from(tenth.sums.frames),
            whole: stored(&tenth.whole),
            frames_of: tenth.frames_of.map(f64::from),
            powers,
            energies: None,
            features: Features::default(),
        };
        cell.features = cell.features_of();
        cell
    }

    /// Mean power of a third; `None` if the tenth has no frame of its window.
    fn third(&self, third: usize) -> Option<f64> {
        let frames = self.frames_of[window_of(third)];
        (frames > 0.0).then(|| self.sum(third) / frames)
    }

    /// Power of a third, summed over the frames of its window.
    pub(super) fn sum(&self, third: usize) -> f64 {
        let [left, right, _] = self.powers[third];
        f64::from(left) + f64::from(right)
    }

    /// Mean powers of left and right, and mean Re of their cross spectrum; `None` if the tenth has no frame of the
    /// window.
    pub(super) fn stereo(&self, third: usize) -> Option<[f32; 3]> {
        let frames = self.frames_of[window_of(third)];
        #[expect(clippy::cast_possible_truncation, reason = "as it is kept")]
        let mean = |power: f32| (f64::from(power) / frames) as f32;
        (frames > 0.0).then(|| self.powers[third].map(mean))
    }

    fn features_of(&self) -> Features {
        let level = lufs(self.k / self.frames.max(1.0)).max(ABSOLUTE_GATE_LUFS);
        let mut features = Features { level, ..Features::default() };
        if !features.sounds() {
            return features;
        }
        let octaves: [Option<f64>; OCTAVES] = std::array::from_fn(|octave| {
            let first = FIRST_ACCURATE_THIRD + 3 * octave;
            Some(self.third(first)? + self.third(first + 1)? + self.third(first + 2)?)
        });
        let loudest = octaves.into_iter().flatten().fold(0.0, f64::max);
        let floor = (power_db(loudest) + OCTAVE_FLOOR_DB).max(OCTAVE_FLOOR_DBFS);
        let levels = octaves.map(|power| power.map(|power| power_db(power).max(floor)));
        // Without the low octaves, as in the first frames, there is no shape to compare.
        if let Some(mean) = levels.into_iter().sum::<Option<f64>>().map(|sum| sum / OCTAVES as f64) {
            features.shape = levels.map(|level| level.map(|level| level - mean));
            features.tone = tone(|third| self.third(third).unwrap_or(0.0));
        }
        if self.frames_of[LONG] > 0.0 {
            let mean = self.whole * (1.0 / self.frames_of[LONG]);
            features.width = mean.side_share().filter(|_| Gate::broadband().open(&mean));
        }
        features
    }
}

impl Features {
    /// Whether the level is over the absolute gate.
    pub(super) fn sounds(&self) -> bool {
        self.level > ABSOLUTE_GATE_LUFS
    }

    /// Features of some tenths together: means without the highest and lowest values, each absent if half of the
    /// tenths or more have none.
    pub(super) fn over<'a>(cells: impl Iterator<Item = &'a Cell> + Clone) -> Self {
        let mean = |of: &dyn Fn(&Features) -> Option<f64>| {
            let mut values = [0.0; BLOCK];
            let (mut heard, mut all) = (0, 0);
            for cell in cells.clone().take(BLOCK) {
                all += 1;
                if let Some(value) = of(&cell.features) {
                    values[heard] = value;
                    heard += 1;
                }
            }
            if heard == 0 || 2 * heard <= all {
                return None;
            }
            let values = &mut values[..heard];
            values.sort_unstable_by(f64::total_cmp);
            let trim = if heard > 2 * TRIMMED { TRIMMED } else { 0 };
            let kept = &values[trim..heard - trim];
            Some(kept.iter().sum::<f64>() / kept.len() as f64)
        };
        Self {
            level: mean(&|f| Some(f.level)).unwrap_or(ABSOLUTE_GATE_LUFS),
            shape: std::array::from_fn(|octave| mean(&|f| f.shape[octave])),
            tone: mean(&|f| f.tone),
            width: mean(&|f| f.width),
        }
    }
}
