//! The pairs among the layers of a session, in their audio on the board.

use super::Wanted;
use super::choice::Choice;
use super::follow::Followed;
use crate::board::{Board, Neighbour};
use plumbline_measure::{Grid, Position, SampleRate};
use plumbline_programme::mics::SlowPower;
use plumbline_programme::pair::{Correlator, Spectrum, fold};
use plumbline_programme::{LayerId, Mic, PairLine};
use std::collections::BTreeMap;
use std::time::Duration;

/// Pairs compared in one step: about as much work as one transform.
const PAIRS_A_STEP: usize = 3;
/// Hops that may lie between the newest window there is and the one compared: a file keeps 4 s, a window takes 2 s, and
/// a round over all pairs less than one.
const MOST_BEHIND: i64 = 5;
/// A layer whose newest sample lies so many hops behind that of the others stands, and is not waited for.
const STANDS_BEHIND: i64 = 2;
/// A position that goes back by so many hops is a jump; less is a layer that lags.
const JUMPS_BACK: i64 = 2;
/// Pause between two choices of the layers: a tenth of a second, as sessions are made.
const CHOOSE_STEP: Duration = Duration::from_millis(100);

/// What is known of one layer.
#[derive(Default)]
struct Heard {
    spectrum: Spectrum,
    /// Whether the spectrum is of the window under way.
    current: bool,
    power: SlowPower,
    /// How often a trial on it changed, and from where on what it plays is all of one kind since.
    alterations: u32,
    whole_from: Option<Position>,
}

/// A window that is being compared.
struct Job {
    end: Position,
    later_secs: f64,
    to_read: Vec<LayerId>,
    to_compare: Vec<[LayerId; 2]>,
}

/// All pairs of the session.
pub(super) struct Among {
    rate: SampleRate,
    window: usize,
    hop: i64,
    choice: Choice,
    pinned: Option<[LayerId; 2]>,
    heard: BTreeMap<LayerId, Heard>,
    pairs: BTreeMap<[LayerId; 2], Followed>,
    job: Option<Job>,
    /// End of the newest window, compared or not there.
    last: Option<Position>,
    /// Whether a further window can be compared already.
    waits: bool,
    /// Layers that the mix does not hold: what they cost nobody hears.
    absent: Vec<LayerId>,
    /// When the layers to compare were chosen last.
    chosen: Option<Duration>,
    /// A window of one channel, and of two: made with the first that is read.
    channels: [Vec<Vec<f32>>; 2],
    folded: Vec<f32>,
}

impl Among {
    pub(super) fn new(rate: SampleRate, window: usize) -> Self {
        Self {
            rate,
            window,
            hop: i64::from((rate.hz() / 4).max(1)),
            choice: Choice::default(),
            pinned: None,
            heard: BTreeMap::new(),
            pairs: BTreeMap::new(),
            job: None,
            last: None,
            waits: false,
            absent: Vec::new(),
            chosen: None,
            channels: Default::default(),
            folded: Vec::new(),
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

    /// Goes on by a step. Returns whether there is anything new to show.
    pub(super) fn step(&mut self, correlator: &mut Correlator, board: &Board, wanted: &Wanted<'_>) -> bool {
        let Some(job) = &mut self.job else {
            return self.begin(board, wanted);
        };
        if let Some(id) = job.to_read.pop() {
            let end = job.end;
            self.read(correlator, board, id, end);
            return false;
        }
        let left = job.to_compare.len().saturating_sub(PAIRS_A_STEP);
        for pair in job.to_compare.split_off(left) {
            let [first, second] = pair.map(|id| self.heard.get(&id).filter(|heard| heard.current));
            if let (Some(first), Some(second), Some(followed)) = (first, second, self.pairs.get_mut(&pair)) {
                let window = correlator.compare(&first.spectrum, &second.spectrum);
                followed.take(&window, correlator, job.end, job.later_secs);
            }
        }
        let done = job.to_compare.is_empty();
        if done {
            self.job = None;
            self.waits = self.due(board).is_some();
        }
        done
    }

    /// Begins a window, if one is due. Returns whether the pairs are others now.
    fn begin(&mut self, board: &Board, wanted: &Wanted<'_>) -> bool {
        let due = self.chosen.is_none_or(|t| wanted.now.saturating_sub(t) >= CHOOSE_STEP);
        let changed = due && self.choose(board, wanted);
        self.waits = false;
        let Some((end, seam)) = self.due(board) else { return changed };
        let hop_secs = self.hop as f64 / self.rate.as_f64();
        let later_secs = match self.last {
            Some(last) if !seam => end.sample.saturating_sub(last.sample) as f64 / self.rate.as_f64(),
            _ => hop_secs,
        };
        self.last = Some(end);
        if seam {
            self.pairs.values_mut().for_each(Followed::seam);
            self.heard.values_mut().for_each(|heard| heard.whole_from = None);
        }
        self.heard.values_mut().for_each(|heard| heard.current = false);
        let to_compare = self.pairs.keys().copied().collect();
        let to_read = self.heard.keys().copied().collect();
        self.job = Some(Job { end, later_secs, to_read, to_compare });
        changed
    }

    /// Brings the pairs in line with the layers there are. Returns whether they changed.
    fn choose(&mut self, board: &Board, wanted: &Wanted<'_>) -> bool {
        self.chosen = Some(wanted.now);
        let absent = wanted.session.layers.iter().filter(|line| line.absent).map(|line| line.id);
        self.absent = absent.collect();
        let uncompared = self.choice.uncompared;
        self.choice.follow(board.session(wanted.letter), self.rate, wanted.own, wanted.session);
        let here = |id: LayerId| {
            board.layer(id).is_some_and(|n| n.head.letter == wanted.letter && n.head.rate == self.rate)
        };
        self.pinned = match wanted.pinned {
            Some([Mic::Layer(a), Mic::Layer(b)]) if a != b && here(a) && here(b) => {
                Some([a.min(b), a.max(b)])
            }
            _ => None,
        };
        let chosen = &self.choice.layers;
        let mut pairs: Vec<[LayerId; 2]> = chosen
            .iter()
            .flat_map(|a| chosen.iter().filter(move |b| a < *b).map(move |b| [*a, *b]))
            .collect();
        pairs.extend(self.pinned);
        let before = self.pairs.len();
        self.pairs.retain(|pair, _| pairs.contains(pair));
        let mut changed = self.pairs.len() != before || uncompared != self.choice.uncompared;
        for pair in &pairs {
            if !self.pairs.contains_key(pair) {
                self.pairs.insert(*pair, Followed::new(pair.map(Mic::Layer)));
                changed = true;
            }
        }
        let needed = |id: &LayerId| pairs.iter().any(|pair| pair.contains(id));
        self.heard.retain(|id, _| needed(id));
        for id in pairs.iter().flatten() {
            let alterations = || board.layer(*id).map_or(0, |layer| layer.alterations);
            self.heard.entry(*id).or_insert_with(|| Heard { alterations: alterations(), ..Heard::default() });
        }
        for (id, heard) in &mut self.heard {
            let Some(layer) = board.layer(*id) else { continue };
            let changed = std::mem::replace(&mut heard.alterations, layer.alterations) != layer.alterations;
            if changed {
                // A hop of room: the delay line fills and fades first.
                let sample = layer.newest.sample.saturating_add(self.hop);
                heard.whole_from = Some(Position { sample, ..layer.newest });
                let of_it = self.pairs.iter_mut().filter(|(pair, _)| pair.contains(id));
                of_it.for_each(|(_, followed)| followed.seam());
            }
        }
        changed
    }

    /// End of the window to be compared next, and whether it does not continue the last one. None while there is nothing
    /// new, or fewer than two layers sound.
    fn due(&self, board: &Board) -> Option<(Position, bool)> {
        let running = || self.heard.keys().filter_map(|id| board.layer(*id)).filter(|n| n.running);
        let grid = grid_of_most(running())?;
        let on_grid = || running().filter(|n| n.newest.grid == grid).map(|n| n.newest.sample);
        let farthest = on_grid().max()?;
        let moves = |sample: &i64| farthest.saturating_sub(*sample) <= STANDS_BEHIND * self.hop;
        let newest = on_grid().filter(moves).min()?;
        let end = newest.saturating_add(1).div_euclid(self.hop).saturating_mul(self.hop);
        let at = |sample: i64| Position { grid, sample };
        let oldest = end.saturating_sub(MOST_BEHIND * self.hop);
        match self.last {
            Some(last) if last.grid == grid && last.sample <= end => {
                // While every pair is known, half as often will do.
                let known = !self.pairs.is_empty() && self.pairs.values().all(Followed::is_known);
                let step = if known { 2 * self.hop } else { self.hop };
                let next = last.sample.saturating_add(step);
                (next <= end).then(|| (at(next.max(oldest)), false))
            }
            Some(last) if last.grid == grid && last.sample - end < JUMPS_BACK * self.hop => None,
            _ => Some((at(oldest), true)),
        }
    }

    /// Reads and transforms one layer's window.
    fn read(&mut self, correlator: &mut Correlator, board: &Board, id: LayerId, end: Position) {
        let (Some(heard), Some(layer)) = (self.heard.get_mut(&id), board.layer(id)) else { return };
        let start = end.sample.saturating_sub(i64::try_from(self.window).unwrap_or(i64::MAX));
        let mixed = |from: Position| from.grid == end.grid && start < from.sample;
        if heard.whole_from.is_some_and(mixed) {
            return;
        }
        heard.whole_from = None;
        let stereo = layer.head.channels > 1;
        let channels = &mut self.channels[usize::from(stereo)];
        channels.resize(1 + usize::from(stereo), vec![0.0; self.window]);
        if !board.read_audio(id, end.grid, start, channels) {
            return;
        }
        let slices: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
        fold(&slices, &mut self.folded);
        correlator.spectrum(&self.folded, &mut heard.spectrum);
        heard.current = true;
        let hop_secs = self.hop as f64 / self.rate.as_f64();
        heard.power.take(heard.spectrum.mean_square(), hop_secs);
    }

    /// The lines of the pairs.
    pub(super) fn lines(&self, rate_hz: u32) -> impl Iterator<Item = PairLine> {
        let power = |id: &LayerId| self.heard.get(id).map(|heard| heard.power).unwrap_or_default();
        let total: f64 = self.choice.layers.iter().map(|id| power(id).get()).sum();
        self.pairs.iter().map(move |(pair, followed)| {
            let part = SlowPower::part([power(&pair[0]), power(&pair[1])], total);
            let mut line = followed.line(rate_hz, part);
            if pair.iter().any(|id| self.absent.contains(id)) {
                line.cost_db = None;
            }
            line
        })
    }
}

/// The grid that most layers are on; of two alike the song's.
fn grid_of_most<'a>(running: impl Iterator<Item = &'a Neighbour>) -> Option<Grid> {
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
