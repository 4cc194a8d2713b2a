//! Which tenths the annals are to be told of next: what the layers did together in them.
//!
//! A beginning is held for a moment: layers that start together are met one after the other, and who has not reported a
//! tenth when it is told of counts as silent in it for ever.

use plumbline_measure::Grid;
use plumbline_programme::Reported;
use std::ops::RangeInclusive;
use std::time::Duration;

/// Tenths that are told of in one round at most; also those that a beginning looks back for, as many as board files keep.
const MOST_TOLD: i64 = 64;
/// How long a beginning is held: several rounds of the worker, and looks into the folder of the board.
const HELD: Duration = Duration::from_millis(500);
/// The longest beginning that is held: what a queue holds, and with it all that one layer can be ahead of another in a
/// render, with some to spare.
const LONGEST_HELD: i64 = 50;

/// What was told of so far.
#[derive(Debug, Default)]
pub(super) struct Telling {
    told: Option<Told>,
    held: Option<Held>,
    /// Whether there are more tenths to be told of.
    pub(super) behind: bool,
}

/// The newest tenth that was told of, the account that it came from, and how many tenths that had taken.
#[derive(Clone, Copy, Debug)]
struct Told {
    grid: Grid,
    last: i64,
    account: u64,
    count: u64,
}

/// A beginning that is held.
#[derive(Clone, Copy, Debug)]
struct Held {
    grid: Grid,
    first: i64,
    last: i64,
    since: Duration,
}

impl Telling {
    /// The tenths to be told of now, by what the account of a number has reported: those that follow the ones that were,
    /// in parts of [`MOST_TOLD`], without a gap as long as the audio has none.
    pub(super) fn next(
        &mut self,
        account: u64,
        reported: Reported,
        now: Duration,
    ) -> Option<(Grid, RangeInclusive<i64>)> {
        let Reported { grid, first, last, count, .. } = reported;
        self.behind = false;
        if let Some(held) = self.held {
            let meets = held.grid == grid && first <= held.last.saturating_add(1) && last >= held.first;
            if !meets {
                // It went elsewhere: what was reported until then is all that comes.
                self.held = None;
                self.behind = true;
                return Some((held.grid, held.first.max(back(held.last))..=held.last));
            }
            let held = Held { last, ..held };
            if now.saturating_sub(held.since) < HELD && last.saturating_sub(held.first) < LONGEST_HELD {
                self.held = Some(held);
                self.behind = true;
                return None;
            }
            self.held = None;
            self.told = Some(Told { grid, last: held.first.saturating_sub(1), account, count });
        } else if self.begins(account, reported) {
            self.held = Some(Held { grid, first: first.max(back(last)), last, since: now });
            self.behind = true;
            return None;
        }
        let told = self.told.as_mut()?;
        (told.account, told.count) = (account, count);
        let from = told.last.checked_add(1).filter(|from| *from <= last)?;
        let to = last.min(told.last.saturating_add(MOST_TOLD));
        told.last = to;
        self.behind = to < last;
        Some((grid, from..=to))
    }

    /// Whether what was reported does not go on from what was told of.
    ///
    /// A run that began since is a jump, unless it joins on. An older one is that of another layer, which may be a little
    /// behind: it is followed in the place of one that stands.
    fn begins(&self, account: u64, reported: Reported) -> bool {
        let Reported { grid, first, last, run, .. } = reported;
        let Some(told) = self.told else { return true };
        let same = told.account == account;
        // Another account that reaches just as far is of the same audio, which stands.
        let further = last > told.last || (last == told.last && !same);
        let joins = first <= told.last.saturating_add(1) && further;
        let near = last.abs_diff(told.last) <= LONGEST_HELD.unsigned_abs();
        told.grid != grid || !(joins || (same && run <= told.count && near))
    }
}

/// How far a beginning looks back.
fn back(last: i64) -> i64 {
    last.saturating_sub(MOST_TOLD - 1)
}

#[cfg(test)]
mod tests;
