//! The marks of a plan as the join detector takes them, and the resulting joins.

use crate::marks::nearest_tenth;
use plumbline_measure::{Grid, SampleRate};
use plumbline_programme::survey::Mark;
use plumbline_programme::{Join, Mark as At};

/// The tenths at which joins are measured, ascending.
pub(super) fn tenths(marks: &[Mark], rate: SampleRate) -> Vec<At> {
    let tenth = |mark: &Mark| At { grid: Grid::Song, index: nearest_tenth(mark.sample, rate) };
    let mut all: Vec<At> = marks.iter().map(tenth).collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// The marks within `frames` samples, by time, and the joins; a join at a mark gets the mark's exact sample, since the
/// detector knows only tenths.
pub(super) fn settled(
    marks: &[Mark],
    joins: &[Join],
    rate: SampleRate,
    frames: u64,
) -> (Vec<Mark>, Vec<Join>) {
    let end = i64::try_from(frames).unwrap_or(i64::MAX);
    let mut marks: Vec<Mark> = marks.iter().filter(|mark| mark.sample < end).cloned().collect();
    marks.sort_by_key(|mark| mark.sample);
    marks.dedup_by_key(|mark| nearest_tenth(mark.sample, rate));
    let at_mark = |join: &Join| {
        let mark = marks.iter().find(|mark| nearest_tenth(mark.sample, rate) == join.at);
        match mark.filter(|_| join.marked) {
            Some(mark) => Some(Join { sample: mark.sample, ..join.clone() }),
            // A mark after the end, in files that did not state their length.
            None => (!join.marked || join.found).then(|| Join { marked: false, ..join.clone() }),
        }
    };
    let joins = joins.iter().filter_map(at_mark).collect();
    (marks, joins)
}
