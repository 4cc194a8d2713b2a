//! What was measured on one side of a join, and how long the transition takes.

use super::cell::{Cell, Features, tone, window_of};
use super::{JUMP_LU, JUMP_TONE, Side};
use crate::role::PARTS;
use plumbline_measure::bands::{LONG, THIRDS, WINDOWS};
use plumbline_measure::cross::{StereoPower, power_db};
use plumbline_measure::loudness::{ABSOLUTE_GATE_LUFS, lufs, mean_square_of};
use plumbline_measure::rate::TENTHS_PER_SECOND;
use plumbline_measure::reading::{Gate, Maybe};

/// Fewest tenths that say anything of a side.
pub(super) const LEAST_TENTHS: usize = 5;
/// Change of loudness, LU, and of tone, dB per octave, under which there is no transition to time.
const LEAST_CHANGE: f64 = 1.0;

impl Side {
    /// Measures neighbouring tenths.
    pub(super) fn of(cells: &[&Cell]) -> Self {
        let tenths = u32::try_from(cells.len()).unwrap_or(u32::MAX);
        if cells.len() < LEAST_TENTHS {
            return Self { tenths, ..Self::default() };
        }
        let k: f64 = cells.iter().map(|cell| cell.k).sum();
        let frames: f64 = cells.iter().map(|cell| cell.frames).sum();
        let loudness = lufs(k / frames.max(1.0));
        let counts: [f64; WINDOWS] =
            std::array::from_fn(|window| cells.iter().map(|cell| cell.frames_of[window]).sum());
        let thirds: [f64; THIRDS] = std::array::from_fn(|third| {
            let sum: f64 = cells.iter().map(|cell| f64::from(cell.thirds[third])).sum();
            sum / counts[window_of(third)].max(1.0)
        });
        let gate = Gate::bands(thirds.into_iter().fold(0.0, f64::max));
        let whole = cells.iter().map(|cell| cell.whole).sum::<StereoPower>() * (1.0 / counts[LONG].max(1.0));
        Self {
            tenths,
            loudness_lufs: (loudness >= ABSOLUTE_GATE_LUFS).then_some(loudness),
            tone_db_per_octave: tone(|third| thirds[third]),
            side_share: whole.side_share().filter(|_| Gate::broadband().open(&whole)),
            shares: shares(cells),
            thirds_dbfs: thirds.map(|power| {
                let open = gate.open(&StereoPower { ll: power, ..StereoPower::default() });
                Maybe::new(open.then(|| power_db(power)))
            }),
        }
    }
}

/// Shares of the roles over the tenths whose energies are known; absent in silence.
fn shares(cells: &[&Cell]) -> [Option<f64>; PARTS] {
    let known = || cells.iter().filter_map(|cell| cell.energies);
    let sums: [f64; PARTS] = std::array::from_fn(|part| known().map(|energies| energies[part]).sum());
    let total: f64 = sums.iter().sum();
    let sounds = total > 0.0 && total >= known().count() as f64 * mean_square_of(ABSOLUTE_GATE_LUFS);
    sums.map(|sum| sounds.then(|| sum / total))
}

/// Seconds from a tenth of the way to nine tenths of it, in level or in tone, whichever changes more against what
/// counts as a jump. The two ends of the way are what the outer halves of both sides have.
pub(super) fn takes_secs(before: &[&Cell], after: &[&Cell]) -> Option<f64> {
    if before.len() < LEAST_TENTHS || after.len() < LEAST_TENTHS {
        return None;
    }
    let from = Features::over(before[..before.len() / 2].iter().copied());
    let to = Features::over(after[after.len() - after.len() / 2..].iter().copied());
    let level = to.level - from.level;
    let tone = from.tone.zip(to.tone).map_or(0.0, |(from, to)| to - from);
    if level.abs() < LEAST_CHANGE && tone.abs() < LEAST_CHANGE {
        return None;
    }
    let by_level = level.abs() / JUMP_LU >= tone.abs() / JUMP_TONE;
    let way = |cell: &&&Cell| {
        let features = &cell.features;
        Some(if by_level {
            (features.level - from.level) / level
        } else {
            (features.tone? - from.tone?) / tone
        })
    };
    let ways: Vec<f64> = before.iter().chain(after).map(|cell| way(&cell)).collect::<Option<_>>()?;
    // The step across the middle that is nearest to the join.
    let crossings = (1..ways.len()).filter(|&i| ways[i - 1] < 0.5 && ways[i] >= 0.5);
    let middle = crossings.min_by_key(|i| i.abs_diff(before.len()))?;
    let crossed = |i: usize, at: f64| (i - 1) as f64 + (at - ways[i - 1]) / (ways[i] - ways[i - 1]);
    let start = (1..=middle).rev().find(|&i| ways[i - 1] <= 0.1).map(|i| crossed(i, 0.1))?;
    let end = (middle..ways.len()).find(|&i| ways[i] >= 0.9).map(|i| crossed(i, 0.9))?;
    Some((end - start) / TENTHS_PER_SECOND as f64)
}
