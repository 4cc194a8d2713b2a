//! Measures one side of a join, and the length of the transition.

use super::cell::{Cell, Features, tone, window_of};
use super::{JUMP_LU, JUMP_TONE, Side};
use crate::role::PARTS;
use plumbline_measure::bands::{LONG, THIRDS, WINDOWS};
use plumbline_measure::cross::{StereoPower, power_db};
use plumbline_measure::loudness::{ABSOLUTE_GATE_LUFS, lufs, mean_square_of};
use plumbline_measure::rate::TENTHS_PER_SECOND;
use plumbline_measure::reading::{Gate, Maybe};

/// Fewest tenths for which a side is measured.
pub(super) const LEAST_TENTHS: usize = 5;
/// Smallest change of loudness, LU, or of tone, dB per octave, that has a length.
const LEAST_CHANGE: f64 = 1.0;

impl Side {
    /// Measures consecutive tenths.
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
            let sum: f64 = cells.iter().map(|cell| cell.sum(third)).sum();
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

/// Length of the transition in seconds, from 10 % to 90 % of the change, in level or tone, whichever changes more in
/// units of a jump. The ends of the change are the means of the outer half of each side.
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
    // The crossing of the middle that is nearest to the join.
    let crossings = (1..ways.len()).filter(|&i| ways[i - 1] < 0.5 && ways[i] >= 0.5);
    let middle = crossings.min_by_key(|i| i.abs_diff(before.len()))?;
    let crossed = |i: usize, at: f64| (i - 1) as f64 + (at - ways[i - 1]) / (ways[i] - ways[i - 1]);
    let start = (1..=middle).rev().find(|&i| ways[i - 1] <= 0.1).map(|i| crossed(i, 0.1))?;
    let end = (middle..ways.len()).find(|&i| ways[i] >= 0.9).map(|i| crossed(i, 0.9))?;
    Some((end - start) / TENTHS_PER_SECOND as f64)
}
