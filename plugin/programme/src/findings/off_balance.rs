//! Whether a passage is off the aims of its roles: shares over 20 s, confirmed by a longer stretch.

use crate::role::{PARTS, Role};
use crate::session::{Aim, BalanceTarget, SOUNDS_SHARE};
use plumbline_measure::loudness::{ABSOLUTE_GATE_LUFS, mean_square_of};
use std::collections::VecDeque;

/// Tenths of the passage that a share is taken over: 20 s (common practice, no source). Any mix swings within it.
pub(super) const PASSAGE: usize = 200;
/// Fewest tenths of a passage to judge: 10 s.
const LEAST: usize = 100;
/// Tenths of a long passage, which may be off although the programme is not: a minute.
const LONG: usize = 600;
/// How far inside its tolerance a role must be before a standing state ends: a share.
const HELD_SHARE: f64 = 0.02;

/// A role off its aim in the passage so far.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Off {
    pub(super) role: Role,
    /// Percentage points off, positive is too much.
    pub(super) points: f64,
    /// Whether the programme so far, or a whole minute, is off the same way.
    pub(super) confirmed: bool,
}

/// K-weighted energies by role: of the passage, of the last minute and of the run so far.
#[derive(Debug, Default)]
pub(super) struct Passage {
    /// The tenths of the last minute, the latest last.
    tenths: VecDeque<[f64; PARTS]>,
    /// Tenths since the passage began.
    count: usize,
    /// Sums over the whole run, marks or not.
    run: [f64; PARTS],
}

fn sum<'a>(tenths: impl Iterator<Item = &'a [f64; PARTS]>) -> [f64; PARTS] {
    tenths.fold([0.0; PARTS], |mut sum, tenth| {
        sum.iter_mut().zip(tenth).for_each(|(sum, energy)| *sum += energy);
        sum
    })
}

/// Share of a role minus its aim; `None` without sound.
fn distance(sums: &[f64; PARTS], part: usize, aim: Aim) -> Option<f64> {
    let total: f64 = sums.iter().sum();
    (total > 0.0).then(|| sums[part] / total - aim.share)
}

impl Passage {
    /// Takes the energies of a tenth.
    pub(super) fn push(&mut self, energies: [f64; PARTS]) {
        self.run.iter_mut().zip(energies).for_each(|(sum, energy)| *sum += energy);
        self.tenths.push_back(energies);
        if self.tenths.len() > LONG {
            self.tenths.pop_front();
        }
        self.count += 1;
    }

    /// Begins a new passage of the same run.
    pub(super) fn begin(&mut self) {
        self.tenths.clear();
        self.count = 0;
    }

    /// Tenths that the share is taken over.
    pub(super) fn length(&self) -> usize {
        self.count.min(PASSAGE)
    }

    /// Whether the passage is judged for the first time at this tenth: the result then holds from its start.
    pub(super) fn is_first_judged(&self) -> bool {
        self.count == LEAST
    }

    /// The role furthest off over the passage so far, counted in tolerances. `more` is allowed beyond the tolerance;
    /// `standing` is the role that is off already, which is held a little longer.
    pub(super) fn off(&self, target: &BalanceTarget, more: f64, standing: Option<Role>) -> Option<Off> {
        let length = self.length();
        let passage = sum(self.tenths.iter().rev().take(length));
        let total: f64 = passage.iter().sum();
        if self.count < LEAST || total / (length as f64) < mean_square_of(ABSOLUTE_GATE_LUFS) {
            return None;
        }
        let run: f64 = self.run.iter().sum();
        let sounds = |role: Role| role.part().is_some_and(|at| self.run[at] >= SOUNDS_SHARE * run);
        let minute = (self.tenths.len() == LONG).then(|| sum(self.tenths.iter()));
        Role::PARTS
            .into_iter()
            .zip(target.in_force(sounds).aims)
            .enumerate()
            .filter_map(|(part, (role, aim))| {
                let aim = aim?;
                let off = distance(&passage, part, aim)?;
                // A single role has nothing to be balanced with.
                if off > 0.0 && 1.0 - off - aim.share < SOUNDS_SHARE {
                    return None;
                }
                let limit = aim.tolerance + more;
                let held = if standing == Some(role) { HELD_SHARE } else { 0.0 };
                let same = |sums: &[f64; PARTS]| {
                    distance(sums, part, aim).is_some_and(|other| other * off.signum() > limit)
                };
                let confirmed = same(&self.run) || minute.as_ref().is_some_and(same);
                let found = Off { role, points: off * 100.0, confirmed };
                (off.abs() > limit - held).then_some((found, off.abs() / aim.tolerance))
            })
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(off, _)| off)
    }
}

#[cfg(test)]
mod tests;
