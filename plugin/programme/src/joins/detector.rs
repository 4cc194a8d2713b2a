//! Finds joins as the tenths arrive.

use super::cell::{BLOCK, Cell, sane};
use super::passages::Passages;
use super::side::{LEAST_TENTHS, takes_secs};
use super::steepest::steepest;
use super::{Join, SIDE_SECS, Side};
use crate::balance::Mark;
use crate::log::MOST_ENTRIES;
use crate::role::PARTS;
use plumbline_measure::rate::{SampleRate, TENTHS_PER_SECOND};
use plumbline_measure::{Grid, Tenth};
use std::collections::VecDeque;
use std::ops::Range;

/// Tenths measured on either side.
const SIDE: usize = 2 * BLOCK;
/// Tenths kept: 14 s, so that role energies that arrive 10 s late still find their tenth and both sides of its join.
const KEPT: usize = 100 + 2 * SIDE;
/// [`SIDE`] as an index.
const REACH: i64 = SIDE as i64;
/// Tenths around a boundary in which the steepest change and the onset that dates the join are searched.
const REFINE: usize = 3;
/// Range of levels in a passage beside silence, LU (ours: calls, words and notes exceed it).
const STEADY_LU: f64 = 20.0;
/// Largest distance in tenths at which a mark and a found join are the same.
const SAME: i64 = 5;

/// Finds joins, and measures both sides of each join and of each mark.
///
/// # Shape
/// [`JoinDetector::push`] takes tenths in the order in which they were heard. A join is found 5.5 s after it happened
/// (start of silence: 1 s, end: 2 s), or when its run ends; its `after` fills over 2 s.
///
/// # Definition
/// `docs/measures.md`, "Joins". Song time and clock time are separate. A run ends where a tenth does not continue the
/// previous one; sides and comparisons never reach across. A later run replaces the joins that an earlier run found
/// in the song time it covers. Marks stay and are measured again, each side once it has half a second.
///
/// # Memory
/// 14 s of tenths, and at most [`MOST_ENTRIES`] joins. The oldest are dropped first, unmarked ones before marked
/// ones; [`JoinDetector::dropped`] counts them.
#[derive(Clone, Debug, Default)]
pub struct JoinDetector {
    rate: Option<SampleRate>,
    cells: VecDeque<Cell>,
    /// Number of the current run.
    run: u64,
    passages: Passages,
    joins: Vec<Join>,
    /// The run in which each join was found, in the order of `joins`.
    runs: Vec<u64>,
    next_id: u64,
    dropped: u64,
    changed: bool,
}

impl JoinDetector {
    /// A detector that has not heard anything.
    pub fn new() -> Self {
        Self::default()
    }

    /// Sets the sample rate, which gives the sample of a join. Without it the rate is taken as ten times the length
    /// of a tenth, which is exact for every multiple of 10 Hz.
    pub fn set_rate(&mut self, rate: SampleRate) {
        self.rate = Some(rate);
    }

    /// All joins and marks, sorted by grid and time.
    pub fn joins(&self) -> &[Join] {
        &self.joins
    }

    /// Joins dropped because there were too many.
    pub fn dropped(&self) -> u64 {
        self.dropped
    }

    /// Whether a join was added, removed or measured again since the last call.
    pub fn take_changed(&mut self) -> bool {
        std::mem::take(&mut self.changed)
    }

    /// Discards everything found and measured, on the user's reset. Marks stay, unmeasured; [`JoinDetector::unmark`]
    /// removes them.
    pub fn clear(&mut self) {
        let (rate, next_id) = (self.rate, self.next_id);
        let mut joins = std::mem::take(&mut self.joins);
        joins.retain(|join| join.marked);
        for join in &mut joins {
            let Join { id, grid, at, sample, .. } = *join;
            *join = Join { id, grid, at, sample, marked: true, ..Join::default() };
        }
        let runs = vec![0; joins.len()];
        *self = Self { rate, next_id, joins, runs, changed: true, ..Self::default() };
    }

    /// Sets a mark, measured if it is within the last 14 s. For an earlier one see [`JoinDetector::measure_mark`].
    pub fn mark(&mut self, mark: Mark) {
        let near = |join: &&Join| join.grid == mark.grid && near(join.at, mark.index, SAME);
        let sample = self.joins.iter().filter(|join| join.found).find(near).map(|join| join.sample);
        if let Ok(at) = self.place(mark) {
            self.joins[at].marked = true;
        } else {
            self.remove(|join| {
                join.found && !join.marked && join.grid == mark.grid && self::near(join.at, mark.index, SAME)
            });
            let join = Join {
                grid: mark.grid,
                at: mark.index,
                sample: sample.unwrap_or_else(|| self.sample_of(mark.index)),
                marked: true,
                found: sample.is_some(),
                ..Join::default()
            };
            self.insert(join);
        }
        self.changed = true;
    }

    /// Removes a mark. If the detector also found a join there, that stays.
    pub fn unmark(&mut self, mark: Mark) {
        let Ok(at) = self.place(mark) else { return };
        self.joins[at].marked = false;
        self.changed = true;
        self.remove(|join| !join.marked && !join.found);
        self.measure_around(mark);
    }

    /// Sets the K-weighted mean squares of the roles in a tenth. Ignored if the tenth is no longer kept.
    pub fn set_shares(&mut self, grid: Grid, index: i64, energies: [f64; PARTS]) {
        let place = Mark { grid, index };
        let Some(cell) = self.cells.iter_mut().rev().find(|cell| cell.place == place) else { return };
        cell.energies = Some(energies.map(sane));
        self.measure_near(grid, index.saturating_sub(REACH), index.saturating_add(REACH));
    }

    /// Measures a mark earlier than the tenths kept, from the tenths around it: from 2 s before to 2 s after,
    /// ascending.
    pub fn measure_mark<'a>(&mut self, mark: Mark, tenths: impl Iterator<Item = &'a Tenth>) {
        self.measure_mark_with_shares(mark, tenths.map(|tenth| (tenth, None)));
    }

    /// As [`JoinDetector::measure_mark`], with the role energies of each tenth.
    pub fn measure_mark_with_shares<'a>(
        &mut self,
        mark: Mark,
        tenths: impl Iterator<Item = (&'a Tenth, Option<[f64; PARTS]>)>,
    ) {
        let Ok(at) = self.place(mark) else { return };
        let mut cells: Vec<Cell> = Vec::new();
        for (tenth, energies) in tenths.take(4 * SIDE) {
            let mut cell = Cell::of(tenth);
            cell.starts_run = cells.last().is_none_or(|last| !continues(last, &cell, tenth));
            cell.energies = energies.map(|energies| energies.map(sane));
            cells.push(cell);
        }
        let cells: Vec<&Cell> = cells.iter().collect();
        let Some(pos) = cells.iter().position(|cell| cell.place == mark) else { return };
        let start = (0..=pos).rev().find(|i| cells[*i].starts_run).unwrap_or(0);
        let end = (pos + 1..cells.len()).find(|i| cells[*i].starts_run).unwrap_or(cells.len());
        let (before, after) = self.reach(at);
        let before = &cells[pos - (pos - start).min(before)..pos];
        let after = &cells[pos..pos + (end - pos).min(after)];
        self.joins[at].measure(before, after);
        self.changed = true;
    }

    /// Takes the next tenth.
    pub fn push(&mut self, tenth: &Tenth) {
        let mut cell = Cell::of(tenth);
        cell.starts_run = self.cells.back().is_none_or(|last| !continues(last, &cell, tenth));
        if cell.starts_run {
            self.end();
            self.run += 1;
            self.passages.clear();
        }
        if self.cells.len() == KEPT {
            self.cells.pop_front();
        }
        let place = cell.place;
        let decided = self.passages.push(&cell);
        self.cells.push_back(cell);
        self.look_for_silence();
        if let Some((boundary, is_join)) = decided {
            self.take_decision(boundary, is_join);
        }
        self.measure_near(place.grid, place.index.saturating_sub(REACH), place.index.saturating_add(1));
    }

    /// Finds a join where silence of a second or more follows a passage, or a passage follows it. The level of a
    /// passage stays within [`STEADY_LU`] for [`SIDE`]; that of a hit, a note, a call, a word or a tail does not.
    fn look_for_silence(&mut self) {
        let (first, end) = (self.first_of_run(), self.cells.len());
        let cut = |back: usize, before: usize| end.checked_sub(back).filter(|at| *at >= first + before);
        let silent = |range: Range<usize>| !self.cells.range(range).any(|cell| cell.features.sounds());
        let is_passage = |range: Range<usize>| {
            let levels = self.cells.range(range).map(|cell| cell.features.level);
            let (low, high) = levels.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), level| {
                (low.min(level), high.max(level))
            });
            high - low <= STEADY_LU
        };
        // The filters ring into the first silent tenth.
        let ends = cut(BLOCK, SIDE).filter(|at| {
            self.cells[at - 1].features.sounds() && silent(*at..end) && is_passage(at - SIDE..at - 1)
        });
        let starts = cut(SIDE, BLOCK).filter(|at| {
            self.cells[*at].features.sounds() && silent(at - BLOCK..*at) && is_passage(*at..end)
        });
        if let Some(at) = ends {
            self.found(at, false);
        }
        if let Some(at) = starts {
            self.found(at, true);
        }
    }

    /// Ends the run: decides its last seconds with the tenths available.
    pub fn end(&mut self) {
        for (boundary, is_join) in self.passages.end() {
            self.take_decision(boundary, is_join);
        }
        self.passages.clear();
    }

    /// Takes the decision on a boundary of the current run.
    fn take_decision(&mut self, boundary: usize, is_join: bool) {
        let Some(at) = (self.cells.len() + boundary).checked_sub(self.passages.len()) else { return };
        let Some(Mark { grid, index }) = self.cells.get(at).map(|cell| cell.place) else { return };
        // From here on the current run replaces what an earlier run found.
        let run = self.run;
        self.unfind(|join, found_in| join.grid == grid && join.at == index && found_in != run);
        if is_join {
            self.found(at, true);
        }
    }

    /// Index of the first cell of the current run that is kept.
    fn first_of_run(&self) -> usize {
        self.cells.iter().rposition(|cell| cell.starts_run).unwrap_or(0)
    }

    /// Adds a join at the boundary before cell `at`, unless there is one.
    fn found(&mut self, at: usize, by_onset: bool) {
        let first = self.first_of_run();
        let around =
            |at: usize| at.saturating_sub(REFINE).max(first + 1)..=(at + REFINE).min(self.cells.len() - 1);
        let at = steepest(&self.cells, around(at)).filter(|_| by_onset).unwrap_or(at);
        let Mark { grid, index } = self.cells[at].place;
        let onsets = self.cells.range(*around(at).start() - 1..*around(at).end());
        let strongest = onsets
            .filter(|cell| by_onset && cell.onset.strength > 0.0)
            .max_by(|a, b| a.onset.strength.total_cmp(&b.onset.strength));
        let (index, sample) = match strongest {
            Some(cell) => {
                // An onset is accurate to half a frame; a step at the edge of a tenth belongs to that edge.
                let late = i64::from(cell.onset.at > cell.length / 2);
                let sample = self.sample_of(cell.place.index).saturating_add(i64::from(cell.onset.at));
                (cell.place.index.saturating_add(late), sample)
            }
            None => (index, self.sample_of(index)),
        };
        let run = self.run;
        self.unfind(|join, found_in| join.grid == grid && near(join.at, index, REACH - 1) && found_in != run);
        let taken = |join: &&mut Join| join.grid == grid && near(join.at, index, REACH - 1);
        if self.joins.iter_mut().filter(taken).any(|join| join.found) {
            return;
        }
        let marked = |join: &&mut Join| join.marked && join.grid == grid && near(join.at, index, SAME);
        if let Some(join) = self.joins.iter_mut().filter(marked).min_by_key(|join| join.at.abs_diff(index)) {
            join.found = true;
            join.sample = sample;
            let mark = Mark { grid, index: join.at };
            if let Ok(at) = self.place(mark) {
                self.runs[at] = run;
            }
        } else {
            self.insert(Join { grid, at: index, sample, found: true, ..Join::default() });
        }
        self.changed = true;
    }

    /// Index of the join at a mark, or where it would be inserted.
    fn place(&self, at: Mark) -> Result<usize, usize> {
        self.joins.binary_search_by_key(&at, |join| Mark { grid: join.grid, index: join.at })
    }

    fn insert(&mut self, join: Join) {
        let mark = Mark { grid: join.grid, index: join.at };
        let Err(at) = self.place(mark) else { return };
        self.joins.insert(at, Join { id: self.next_id, ..join });
        self.runs.insert(at, self.run);
        self.next_id += 1;
        if self.joins.len() > MOST_ENTRIES {
            let oldest = (0..self.joins.len()).min_by_key(|i| (self.joins[*i].marked, self.joins[*i].id));
            if let Some(oldest) = oldest {
                self.joins.remove(oldest);
                self.runs.remove(oldest);
                self.dropped += 1;
            }
        }
        self.measure_around(mark);
    }

    fn remove(&mut self, which: impl Fn(&Join) -> bool) {
        let mut at = 0;
        while at < self.joins.len() {
            if which(&self.joins[at]) {
                self.joins.remove(at);
                self.runs.remove(at);
                self.changed = true;
            } else {
                at += 1;
            }
        }
    }

    /// Marks joins as no longer found, and removes those without a mark.
    fn unfind(&mut self, which: impl Fn(&Join, u64) -> bool) {
        let mut any = false;
        for (join, run) in self.joins.iter_mut().zip(&self.runs) {
            if join.found && which(join, *run) {
                join.found = false;
                any = true;
            }
        }
        if any {
            self.remove(|join| !join.found && !join.marked);
            self.changed = true;
        }
    }

    /// Most tenths to measure before and after a join: up to its neighbours.
    fn reach(&self, at: usize) -> (usize, usize) {
        let here = &self.joins[at];
        let distance = |other: Option<&Join>| {
            let other = other.filter(|other| other.grid == here.grid);
            let tenths = other.map_or(u64::MAX, |other| other.at.abs_diff(here.at));
            usize::try_from(tenths).unwrap_or(usize::MAX).min(SIDE)
        };
        (distance(at.checked_sub(1).and_then(|i| self.joins.get(i))), distance(self.joins.get(at + 1)))
    }

    /// Measures a join and its neighbours, whose sides it may shorten.
    fn measure_around(&mut self, mark: Mark) {
        let (from, to) = (mark.index.saturating_sub(REACH), mark.index.saturating_add(REACH));
        self.measure_near(mark.grid, from, to);
    }

    fn measure_near(&mut self, grid: Grid, from: i64, to: i64) {
        let key = |index| Mark { grid, index };
        let first = self.place(key(from)).unwrap_or_else(|at| at);
        let end = self.place(key(to)).map_or_else(|at| at, |at| at + 1);
        for at in first..end {
            self.measure(at);
        }
    }

    /// Measures a join from the latest run that contains it, if the run is still kept far enough back.
    fn measure(&mut self, at: usize) {
        let (before, after) = self.reach(at);
        let join = &self.joins[at];
        let is_here =
            |cell: &Cell, index: Option<i64>| cell.place.grid == join.grid && Some(cell.place.index) == index;
        let pos = match self.cells.iter().rposition(|cell| is_here(cell, Some(join.at))) {
            Some(pos) => pos,
            // The first tenth after it has not arrived yet.
            None if self.cells.back().is_some_and(|cell| is_here(cell, join.at.checked_sub(1))) => {
                self.cells.len()
            }
            None => return,
        };
        let start = (0..pos + 1).rev().find(|i| self.cells.get(*i).is_some_and(|cell| cell.starts_run));
        if start.is_none() && pos < before {
            return;
        }
        let end = (pos + 1..self.cells.len()).find(|i| self.cells[*i].starts_run).unwrap_or(self.cells.len());
        let first = pos - (pos - start.unwrap_or(0)).min(before);
        let last = pos + (end - pos).min(after);
        let before: Vec<&Cell> = self.cells.range(first..pos).collect();
        let after: Vec<&Cell> = self.cells.range(pos..last).collect();
        self.changed |= self.joins[at].measure(&before, &after);
    }

    /// First sample of a tenth.
    fn sample_of(&self, index: i64) -> i64 {
        match self.rate {
            Some(rate) => rate.tenth_start(index),
            None => {
                let length = self.cells.back().map_or(0, |cell| i64::from(cell.length));
                index.saturating_mul(length)
            }
        }
    }
}

fn near(a: i64, b: i64, tenths: i64) -> bool {
    a.abs_diff(b) <= tenths.unsigned_abs()
}

/// Whether a tenth continues where the previous one ended.
fn continues(last: &Cell, cell: &Cell, tenth: &Tenth) -> bool {
    let next = last.place.index.checked_add(1);
    let follows = last.place.grid == cell.place.grid && next == Some(cell.place.index);
    // The first tenth of a run may begin in its middle; any other incomplete tenth was cut off.
    let unbroken = last.complete || last.starts_run;
    follows && unbroken && tenth.faults.lost == 0 && last.length.abs_diff(cell.length) <= 1
}

impl Join {
    /// Measures the sides that have enough tenths; the others stay as they were. Returns whether anything changed.
    fn measure(&mut self, before: &[&Cell], after: &[&Cell]) -> bool {
        let old = self.clone();
        for (side, cells) in [(&mut self.before, before), (&mut self.after, after)] {
            if cells.len() >= LEAST_TENTHS || side.loudness_lufs.is_none() {
                *side = Side::of(cells);
            }
        }
        // A role that is silent on both sides counts as absent.
        for part in 0..PARTS {
            let sides = [&mut self.before.shares[part], &mut self.after.shares[part]];
            if sides.iter().all(|share| share.is_none_or(|share| share <= 0.0)) {
                sides.into_iter().for_each(|share| *share = None);
            }
        }
        if before.len() >= LEAST_TENTHS && after.len() >= LEAST_TENTHS {
            self.takes_secs = takes_secs(before, after);
        }
        *self != old
    }
}

const _: () = assert!(TENTHS_PER_SECOND as f64 * SIDE_SECS == REACH as f64);
