//! The marks of a plan, as the detector of joins takes them, and the joins as they come back.

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

/// The marks within `frames` samples, by time, and the joins with those at a mark at its very sample: who cut knows
/// where, and a detector of tenths does not.
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
            // A mark behind the end of files that did not state their length.
            None => (!join.marked || join.found).then(|| Join { marked: false, ..join.clone() }),
        }
    };
    let joins = joins.iter().filter_map(at_mark).collect();
    (marks, joins)
}
