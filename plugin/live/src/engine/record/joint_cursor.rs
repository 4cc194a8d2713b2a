//! The choice of the tenths to join next: all layers have reported them, and they were not joined before.
//!
//! The first tenths after a start or a jump are held back for a moment. Layers that start together are found one by
//! one, and a layer that has not reported a tenth when it is joined counts as silent in it for good.

use plumbline_measure::Grid;
use plumbline_programme::Reported;
use std::ops::RangeInclusive;
use std::time::Duration;

/// The most tenths joined in one round, and how far back the first join after a start looks: as many as board files
/// keep.
const MOST_JOINED: i64 = 64;
/// How long the first tenths are held back: several rounds of the worker, and several scans of the board's folder.
const HELD: Duration = Duration::from_millis(500);
/// The most tenths held back: the 4 s of a queue, by which one layer can lead another in a render, plus a margin.
const LONGEST_HELD: i64 = 50;

/// The position of joining.
#[derive(Debug, Default)]
pub(super) struct Cursor {
    joined: Option<Joined>,
    held: Option<Held>,
    /// Whether more tenths wait to be joined.
    pub(super) behind: bool,
}

/// The latest tenth joined, the balance that it came from, and how many tenths that balance had taken by then.
#[derive(Clone, Copy, Debug)]
struct Joined {
    grid: Grid,
    last: i64,
    account: u64,
    count: u64,
}

/// First tenths that are held back.
#[derive(Clone, Copy, Debug)]
struct Held {
    grid: Grid,
    first: i64,
    last: i64,
    since: Duration,
}

impl Cursor {
    /// The next tenths to join, from what the balance with number `account` reports. They follow those joined before,
    /// at most [`MOST_JOINED`] at a time, and without a gap unless the audio has one.
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
                // The transport went elsewhere: no more tenths will follow those held back.
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
            self.joined = Some(Joined { grid, last: held.first.saturating_sub(1), account, count });
        } else if self.begins(account, reported) {
            self.held = Some(Held { grid, first: first.max(back(last)), last, since: now });
            self.behind = true;
            return None;
        }
        let joined = self.joined.as_mut()?;
        (joined.account, joined.count) = (account, count);
        let from = joined.last.checked_add(1).filter(|from| *from <= last)?;
        let to = last.min(joined.last.saturating_add(MOST_JOINED));
        joined.last = to;
        self.behind = to < last;
        Some((grid, from..=to))
    }

    /// Whether the report starts afresh instead of continuing the joined tenths.
    ///
    /// A run that began later is a jump, unless it continues them. An older run belongs to another layer, perhaps a
    /// little behind: the cursor follows it in place of a layer that stopped.
    fn begins(&self, account: u64, reported: Reported) -> bool {
        let Reported { grid, first, last, run, .. } = reported;
        let Some(joined) = self.joined else { return true };
        let same = joined.account == account;
        // Another balance that reaches just as far has the same audio, which has stopped.
        let further = last > joined.last || (last == joined.last && !same);
        let joins = first <= joined.last.saturating_add(1) && further;
        let near = last.abs_diff(joined.last) <= LONGEST_HELD.unsigned_abs();
        joined.grid != grid || !(joins || (same && run <= joined.count && near))
    }
}

/// The first tenth of the first join after a start.
fn back(last: i64) -> i64 {
    last.saturating_sub(MOST_JOINED - 1)
}

#[cfg(test)]
mod tests;
