//! The pairs of layers of a session, compared through their audio on the board.

use super::look::{Look, pair_of};
use super::pair_choice::Choice;
use crate::board::{BoardEntry, BoardReader};
use plumbline_measure::{Grid, Position, SampleRate};
use plumbline_programme::mics::PairTracker;
use plumbline_programme::pair::Correlator;
use plumbline_programme::{LayerId, Mic, PairLine};
use std::collections::BTreeMap;
use std::time::Duration;

/// Pairs compared in one step: about as much work as one transform.
const PAIRS_A_STEP: usize = 3;
/// The most hops by which a comparison may lag behind the latest window: a file keeps 4 s, a window takes 2 s, and a
/// round over all pairs less than 1 s.
const MOST_BEHIND: i64 = 5;
/// A layer this many hops behind the furthest one counts as stopped and is not waited for.
const STANDS_BEHIND: i64 = 2;
/// The least step back, in hops, that counts as a jump; after a smaller one the layer only lags.
const JUMPS_BACK: i64 = 2;
/// Pause between two choices of the layers: 0.1 s, the interval at which sessions are made.
const CHOOSE_STEP: Duration = Duration::from_millis(100);

/// The trials of one layer.
#[derive(Default)]
struct Altered {
    /// How often its trial has changed.
    alterations: u32,
    /// Position from which all of its audio has the present trial.
    whole_from: Option<Position>,
}

/// A window being compared.
struct Job {
    end: Position,
    to_read: Vec<LayerId>,
    to_compare: Vec<[Mic; 2]>,
}

/// All pairs of the session.
pub(super) struct Inter {
    rate: SampleRate,
    window: usize,
    tracker: PairTracker,
    choice: Choice,
    layers: BTreeMap<LayerId, Altered>,
    job: Option<Job>,
    /// End of the latest window, compared or not available.
    last: Option<Position>,
    /// Whether another window is ready to be compared.
    waits: bool,
    /// Layers that the mix does not contain: their cost is inaudible.
    absent: Vec<LayerId>,
    /// Time at which the layers to compare were last chosen.
    chosen: Option<Duration>,
    /// Buffers for a window of one channel, and of two; allocated at the first read.
    channels: [Vec<Vec<f32>>; 2],
}

impl Inter {
    pub(super) fn new(rate: SampleRate, window: usize) -> Self {
        Self {
            rate,
            window,
            tracker: PairTracker::new(rate, false),
            choice: Choice::default(),
            layers: BTreeMap::new(),
            job: None,
            last: None,
            waits: false,
            absent: Vec::new(),
            chosen: None,
            channels: Default::default(),
        }
    }

    pub(super) fn clear(&mut self) {
        *self = Self { last: self.last, ..Self::new(self.rate, self.window) };
    }

    pub(super) fn is_busy(&self) -> bool {
        self.job.is_some() || self.waits
    }

    pub(super) fn uncompared(&self) -> u32 {
        self.choice.uncompared
    }

    /// Does one step. Returns whether there is anything new to show.
    pub(super) fn step(&mut self, correlator: &mut Correlator, board: &BoardReader, look: &Look<'_>) -> bool {
        let Some(job) = &mut self.job else {
            return self.begin(board, look);
        };
        if let Some(id) = job.to_read.pop() {
            let end = job.end;
            self.read(correlator, board, id, end);
            return false;
        }
        let left = job.to_compare.len().saturating_sub(PAIRS_A_STEP);
        let pairs = job.to_compare.split_off(left);
        pairs.into_iter().for_each(|pair| self.tracker.compare(correlator, pair));
        let done = job.to_compare.is_empty();
        if done {
            self.job = None;
            self.waits = self.due(board).is_some();
        }
        done
    }

    /// Begins a window, if one is due. Returns whether the pairs changed.
    fn begin(&mut self, board: &BoardReader, look: &Look<'_>) -> bool {
        let due = self.chosen.is_none_or(|t| look.now.saturating_sub(t) >= CHOOSE_STEP);
        let changed = due && self.choose(board, look);
        self.waits = false;
        let Some((end, seam)) = self.due(board) else { return changed };
        let later = match self.last {
            Some(last) if !seam => end.sample.saturating_sub(last.sample),
            _ => self.hop(),
        };
        self.last = Some(end);
        if seam {
            self.tracker.seam(None);
            self.layers.values_mut().for_each(|layer| layer.whole_from = None);
        }
        self.tracker.begin(end, later as f64 / self.rate.as_f64());
        let to_read = self.layers.keys().copied().collect();
        self.job = Some(Job { end, to_read, to_compare: self.tracker.pairs().collect() });
        changed
    }

    fn hop(&self) -> i64 {
        i64::from(self.tracker.hop())
    }

    /// Updates the pairs from the layers on the board. Returns whether they changed.
    fn choose(&mut self, board: &BoardReader, look: &Look<'_>) -> bool {
        self.chosen = Some(look.now);
        let absent = look.session.layers.iter().filter(|line| line.absent).map(|line| line.id);
        self.absent = absent.collect();
        let uncompared = self.choice.uncompared;
        let letter = look.settings.session;
        self.choice.follow(board.session(letter), self.rate, look.own, look.session);
        let here = |id: LayerId| {
            board.layer(id).is_some_and(|layer| layer.head.letter == letter && layer.head.rate == self.rate)
        };
        let pinned = match look.settings.mic_pair {
            Some([Mic::Layer(a), Mic::Layer(b)]) if a != b && here(a) && here(b) => Some(pair_of(a, b)),
            _ => None,
        };
        let chosen = &self.choice.layers;
        let below = |a: LayerId| chosen.iter().filter(move |b| a < **b).map(move |b| pair_of(a, *b));
        let pairs: Vec<[Mic; 2]> = chosen.iter().flat_map(|a| below(*a)).chain(pinned).collect();
        let mut changed = uncompared != self.choice.uncompared;
        changed |= self.tracker.set_pairs(&pairs);
        let needed: Vec<LayerId> = self.tracker.mics().filter_map(Mic::layer).collect();
        self.layers.retain(|id, _| needed.contains(id));
        for id in needed {
            let Some(layer) = board.layer(id) else { continue };
            let new = Altered { alterations: layer.alterations, whole_from: None };
            let known = self.layers.entry(id).or_insert(new);
            if std::mem::replace(&mut known.alterations, layer.alterations) != layer.alterations {
                // A hop is allowed for filling the delay line and fading.
                let sample = layer.newest.sample.saturating_add(i64::from(self.tracker.hop()));
                known.whole_from = Some(Position { sample, ..layer.newest });
                self.tracker.seam(Some(Mic::Layer(id)));
            }
        }
        changed
    }

    /// End of the next window to compare, and whether a new run begins there. `None` if no window is ready or no layer
    /// is running.
    fn due(&self, board: &BoardReader) -> Option<(Position, bool)> {
        let running = || self.layers.keys().filter_map(|id| board.layer(*id)).filter(|n| n.running);
        let grid = grid_of_most(running())?;
        let on_grid = || running().filter(|n| n.newest.grid == grid).map(|n| n.newest.sample);
        let farthest = on_grid().max()?;
        let moves = |sample: &i64| farthest.saturating_sub(*sample) <= STANDS_BEHIND * self.hop();
        let newest = on_grid().filter(moves).min()?;
        let end = newest.saturating_add(1).div_euclid(self.hop()).saturating_mul(self.hop());
        let at = |sample: i64| Position { grid, sample };
        let oldest = end.saturating_sub(MOST_BEHIND * self.hop());
        match self.last {
            Some(last) if last.grid == grid && last.sample <= end => {
                let next = last.sample.saturating_add(i64::from(self.tracker.step()));
                (next <= end).then(|| (at(next.max(oldest)), false))
            }
            Some(last) if last.grid == grid && last.sample - end < JUMPS_BACK * self.hop() => None,
            _ => Some((at(oldest), true)),
        }
    }

    /// Reads and transforms one layer's window.
    fn read(&mut self, correlator: &mut Correlator, board: &BoardReader, id: LayerId, end: Position) {
        let (Some(known), Some(layer)) = (self.layers.get_mut(&id), board.layer(id)) else { return };
        let start = end.sample.saturating_sub(i64::try_from(self.window).unwrap_or(i64::MAX));
        let mixed = |from: Position| from.grid == end.grid && start < from.sample;
        if known.whole_from.is_some_and(mixed) {
            return;
        }
        known.whole_from = None;
        let stereo = layer.head.channels > 1;
        let channels = &mut self.channels[usize::from(stereo)];
        channels.resize(1 + usize::from(stereo), vec![0.0; self.window]);
        if board.read_audio(id, end.grid, start, channels) {
            let slices: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
            self.tracker.hear(correlator, Mic::Layer(id), &slices);
        }
    }

    /// The lines of the pairs.
    pub(super) fn lines(&self) -> Vec<PairLine> {
        self.tracker.lines(|mic| mic.layer().is_some_and(|id| self.absent.contains(&id)))
    }
}

/// The grid of most running layers; the song grid if both have equally many.
fn grid_of_most<'a>(running: impl Iterator<Item = &'a BoardEntry>) -> Option<Grid> {
    let (mut song, mut clock) = (0, 0);
    running.for_each(|n| match n.newest.grid {
        Grid::Song => song += 1,
        Grid::Clock => clock += 1,
    });
    match (song, clock) {
        (0, 0) => None,
        _ => Some(if song >= clock { Grid::Song } else { Grid::Clock }),
    }
}
