//! The entries of the list and their order: joins, and marks without a join, so that these can be removed.

use plumbline_measure::Grid;
use plumbline_programme::{Join, Log, Mark};

/// The most tenths between a mark and its join: a join is dated by an onset near the mark.
const NEAR: u64 = 10;

/// Order of the list.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(super) enum JoinOrder {
    /// The largest jump first.
    #[default]
    Size,
    /// The earliest first.
    Time,
}

/// An entry of the list.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Entry<'a> {
    /// A join, and the mark at its place.
    Join(&'a Join, Option<Mark>),
    /// A mark alone.
    Mark(Mark),
}

/// Identity of an entry across frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum EntryId {
    /// A join by its number.
    Join(u64),
    /// A mark.
    Mark(Mark),
}

impl Entry<'_> {
    pub(super) fn id(&self) -> EntryId {
        match self {
            Self::Join(join, _) => EntryId::Join(join.id),
            Self::Mark(mark) => EntryId::Mark(*mark),
        }
    }

    /// The moment at which the new passage begins.
    pub(super) fn moment(&self) -> Mark {
        match self {
            Self::Join(join, _) => Mark { grid: join.grid, index: join.at },
            Self::Mark(mark) => *mark,
        }
    }

    /// The mark that can be removed here.
    pub(super) fn mark(&self) -> Option<Mark> {
        match self {
            Self::Join(_, mark) => *mark,
            Self::Mark(mark) => Some(*mark),
        }
    }

    fn size(&self) -> f64 {
        match self {
            Self::Join(join, _) => join.size(),
            Self::Mark(_) => -1.0,
        }
    }
}

fn time(mark: Mark) -> (Grid, i64) {
    (mark.grid, mark.index)
}

/// All joins, and the marks without a join.
pub(super) fn entries(log: &Log, order: JoinOrder) -> Vec<Entry<'_>> {
    let mut marks: Vec<Mark> = log.marks.clone();
    marks.sort_by_key(|mark| time(*mark));
    let mut taken = vec![false; marks.len()];
    let mut entries: Vec<Entry<'_>> = Vec::with_capacity(log.joins.len() + marks.len());
    for join in &log.joins {
        let near = if join.marked { nearest(&marks, Mark { grid: join.grid, index: join.at }) } else { None };
        if let Some(at) = near {
            taken[at] = true;
        }
        entries.push(Entry::Join(join, near.map(|at| marks[at])));
    }
    entries.extend(marks.iter().zip(taken).filter(|(_, taken)| !taken).map(|(mark, _)| Entry::Mark(*mark)));
    // The sort is stable and comes after one by time: equal jumps stay in time order.
    entries.sort_by_key(|entry| time(entry.moment()));
    if order == JoinOrder::Size {
        entries.sort_by(|a, b| b.size().total_cmp(&a.size()));
    }
    entries
}

/// The nearest mark within reach. `marks` are ascending.
fn nearest(marks: &[Mark], of: Mark) -> Option<usize> {
    let after = marks.partition_point(|mark| time(*mark) < time(of));
    let distance = |at: usize| marks[at].index.abs_diff(of.index);
    [after.checked_sub(1), Some(after).filter(|at| *at < marks.len())]
        .into_iter()
        .flatten()
        .filter(|at| marks[*at].grid == of.grid && distance(*at) <= NEAR)
        .min_by_key(|at| distance(*at))
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_programme::joins::Side;

    fn join(id: u64, at: i64, loudness_lu: f64, marked: bool) -> Join {
        let side = |lufs: f64| Side { loudness_lufs: Some(lufs), ..Side::default() };
        Join {
            id,
            grid: Grid::Song,
            at,
            marked,
            before: side(-30.0),
            after: side(-30.0 + loudness_lu),
            ..Join::default()
        }
    }

    fn mark(index: i64) -> Mark {
        Mark { grid: Grid::Song, index }
    }

    fn log() -> Log {
        Log {
            joins: vec![join(1, 100, -9.0, false), join(2, 202, 3.0, true), join(3, 300, 12.0, true)],
            marks: vec![mark(200), mark(300), mark(450)],
            ..Log::default()
        }
    }

    #[test]
    fn the_largest_jump_stands_first_whichever_way_it_jumps_and_a_lone_mark_last() {
        let log = log();
        let which = |order| entries(&log, order).iter().map(Entry::id).collect::<Vec<_>>();
        let (one, two, three, lone) =
            (EntryId::Join(1), EntryId::Join(2), EntryId::Join(3), EntryId::Mark(mark(450)));
        assert_eq!(which(JoinOrder::Size), [three, one, two, lone]);
        assert_eq!(which(JoinOrder::Time), [one, two, three, lone]);
    }

    #[test]
    fn a_marked_join_knows_its_mark_though_an_onset_dates_it() {
        let log = log();
        let marks: Vec<Option<Mark>> = entries(&log, JoinOrder::Time).iter().map(Entry::mark).collect();
        assert_eq!(marks, [None, Some(mark(200)), Some(mark(300)), Some(mark(450))]);
    }

    #[test]
    fn a_mark_of_the_other_clock_or_far_away_is_no_mark_of_the_join() {
        let clock = Mark { grid: Grid::Clock, index: 202 };
        let log = Log {
            joins: vec![join(2, 202, 3.0, true)],
            marks: vec![mark(191), clock, mark(213)],
            ..Log::default()
        };
        let entries = entries(&log, JoinOrder::Time);
        assert_eq!(entries.len(), 4, "all three marks stand alone");
        let own = entries.iter().find(|entry| entry.id() == EntryId::Join(2)).expect("the join");
        assert_eq!(own.mark(), None);
    }
}
