//! Compares microphones window by window, and keeps the history of each pair.

use super::pair_history::{PairHistory, Whole};
use super::{Mic, PairLine};
use crate::arrival::SPACED_SECS;
use crate::pair::{Correlator, Spectrum, downmix};
use crate::recording::Recording;
use plumbline_measure::{Position, SampleRate};
use std::collections::BTreeMap;

/// Windows per second while a pair is not known yet.
const WINDOWS_A_SEC: u32 = 4;
/// Hops from one window to the next once every pair is known: each sound is still in two windows.
const STEPS_ONCE_KNOWN: u32 = 4;

/// Power of a microphone as a slow average: it falls to 1/e in 5 s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct SlowPower(f64);

impl SlowPower {
    /// Takes the mean square of the next window, `hop_secs` after the previous one.
    fn take(&mut self, mean_square: f64, hop_secs: f64) {
        let kept = (-hop_secs / 5.0).exp();
        self.0 = if self.0 > 0.0 { kept * self.0 + (1.0 - kept) * mean_square } else { mean_square };
    }

    /// The average.
    fn get(self) -> f64 {
        self.0
    }

    /// The share of two in the power of all, 0…1; 0 if nothing sounds.
    fn part(two: [Self; 2], all: f64) -> f64 {
        let both = two[0].0 + two[1].0;
        if both > 0.0 { both / all.max(both) } else { 0.0 }
    }
}

/// One microphone and its latest window.
#[derive(Debug, Default)]
struct Heard {
    spectrum: Spectrum,
    /// Whether the spectrum is that of the current window.
    current: bool,
    power: SlowPower,
}

/// Pairs of microphones at one sample rate.
///
/// # Shape
/// One [`Correlator`] of the same rate serves all calls. For each window call [`begin`](Self::begin), then
/// [`hear`](Self::hear) for each microphone with a full window, then [`compare`](Self::compare) for each pair.
pub struct PairTracker {
    rate: SampleRate,
    heard: BTreeMap<Mic, Heard>,
    pairs: BTreeMap<[Mic; 2], PairHistory>,
    whole: bool,
    spaced_secs: f64,
    end: Position,
    later_secs: f64,
    folded: Vec<f32>,
}

impl PairTracker {
    /// A tracker without pairs. `whole` also keeps what a report of a whole programme needs.
    pub fn new(rate: SampleRate, whole: bool) -> Self {
        Self {
            rate,
            heard: BTreeMap::new(),
            pairs: BTreeMap::new(),
            whole,
            spaced_secs: SPACED_SECS,
            end: Position::default(),
            later_secs: 0.0,
            folded: Vec::new(),
        }
    }

    /// The sample rate.
    pub fn rate(&self) -> SampleRate {
        self.rate
    }

    /// The shortest step from one window to the next, samples.
    pub fn hop(&self) -> u32 {
        (self.rate.hz() / WINDOWS_A_SEC).max(1)
    }

    /// Samples from the latest window to the next: [`hop`](Self::hop), or four times that once every pair is known.
    pub fn step(&self) -> u32 {
        let known = !self.pairs.is_empty() && self.pairs.values().all(PairHistory::is_known);
        if known { STEPS_ONCE_KNOWN * self.hop() } else { self.hop() }
    }

    /// Sets the pairs. Those that stay keep their history. Returns whether anything changed.
    pub fn set_pairs(&mut self, pairs: &[[Mic; 2]]) -> bool {
        let before = self.pairs.len();
        self.pairs.retain(|pair, _| pairs.contains(pair));
        let mut changed = self.pairs.len() != before;
        for pair in pairs {
            if !self.pairs.contains_key(pair) {
                self.pairs.insert(*pair, PairHistory::new(*pair, self.whole));
                changed = true;
            }
        }
        self.heard.retain(|mic, _| pairs.iter().any(|pair| pair.contains(mic)));
        for mic in pairs.iter().flatten() {
            self.heard.entry(*mic).or_default();
        }
        changed
    }

    /// Sets how left and right were recorded: a delay of their spacing is made on purpose.
    pub fn set_recording(&mut self, recording: &Recording) {
        self.spaced_secs = recording.spaced_secs();
    }

    /// The pairs.
    pub fn pairs(&self) -> impl Iterator<Item = [Mic; 2]> + '_ {
        self.pairs.keys().copied()
    }

    /// The microphones of the pairs.
    pub fn mics(&self) -> impl Iterator<Item = Mic> + '_ {
        self.heard.keys().copied()
    }

    /// Notes that what follows from `mic` may differ from what came before; `None` means every microphone.
    pub fn seam(&mut self, mic: Option<Mic>) {
        let concerned = |pair: &[Mic; 2]| mic.is_none_or(|mic| pair.contains(&mic));
        self.pairs.iter_mut().filter(|(pair, _)| concerned(pair)).for_each(|(_, history)| history.seam());
    }

    /// Discards everything except the choice of pairs.
    pub fn clear(&mut self) {
        let pairs: Vec<[Mic; 2]> = self.pairs().collect();
        self.pairs.clear();
        self.heard.clear();
        self.set_pairs(&pairs);
    }

    /// Begins a window that ends at `end`, `later_secs` after the previous one.
    pub fn begin(&mut self, end: Position, later_secs: f64) {
        (self.end, self.later_secs) = (end, later_secs);
        self.heard.values_mut().for_each(|heard| heard.current = false);
    }

    /// Takes the window of one microphone, one slice per channel; two channels are mixed to one.
    pub fn hear(&mut self, correlator: &mut Correlator, mic: Mic, channels: &[&[f32]]) {
        let Self { heard, folded, later_secs, .. } = self;
        let Some(heard) = heard.get_mut(&mic) else { return };
        let one = match channels {
            [one] => one,
            _ => {
                downmix(channels, folded);
                &folded[..]
            }
        };
        correlator.spectrum(one, &mut heard.spectrum);
        heard.current = true;
        heard.power.take(heard.spectrum.mean_square(), *later_secs);
    }

    /// Compares a pair, if both microphones were heard in this window.
    pub fn compare(&mut self, correlator: &mut Correlator, pair: [Mic; 2]) {
        let part = self.part(pair, self.total());
        let Self { heard, pairs, end, later_secs, .. } = self;
        let [first, second] = pair.map(|mic| heard.get(&mic).filter(|heard| heard.current));
        if let (Some(first), Some(second), Some(history)) = (first, second, pairs.get_mut(&pair)) {
            let window = correlator.compare(&first.spectrum, &second.spectrum);
            let spectra = [&first.spectrum, &second.spectrum];
            history.push(&window, (correlator, spectra), *end, *later_secs, part);
        }
    }

    /// Power of all layers together.
    fn total(&self) -> f64 {
        let layers = self.heard.iter().filter(|(mic, _)| mic.layer().is_some());
        layers.map(|(_, heard)| heard.power.get()).sum()
    }

    /// The share of a pair in the power of everything compared with it, 0…1. Channels and side-chain are compared
    /// only with each other, so their share is 1.
    fn part(&self, pair: [Mic; 2], total: f64) -> f64 {
        if !pair.iter().all(|mic| mic.layer().is_some()) {
            return 1.0;
        }
        SlowPower::part(
            pair.map(|mic| self.heard.get(&mic).map(|heard| heard.power).unwrap_or_default()),
            total,
        )
    }

    /// The pairs as they are now. A pair has no cost if `unheard` is true for one of its microphones.
    pub fn lines(&self, unheard: impl Fn(Mic) -> bool) -> Vec<PairLine> {
        let total = self.total();
        let line = |(pair, history): (&[Mic; 2], &PairHistory)| {
            let mut line = history.line(self.rate.hz(), self.part(*pair, total));
            line.spaced_secs = self.spaced_secs;
            if pair.iter().any(|mic| unheard(*mic)) {
                line.cost_db = None;
            }
            line
        };
        self.pairs.iter().map(line).collect()
    }

    /// Each pair over the whole programme, the costliest first: the line with the strongest evidence, and the record of
    /// the pair.
    pub fn whole(&self) -> Vec<(PairLine, Whole)> {
        let of = |(pair, history): (&[Mic; 2], &PairHistory)| {
            let whole = history.whole().cloned().unwrap_or_default();
            let newest = history.line(self.rate.hz(), 0.0);
            let (reading, cost_db, trace) = match &whole.best {
                Some(best) => (best.reading, best.cost_db, best.trace.clone()),
                None => (newest.reading, None, newest.trace),
            };
            let line = PairLine {
                mics: *pair,
                reading,
                cost_db,
                rate_hz: self.rate.hz(),
                spaced_secs: self.spaced_secs,
                trace,
                delays: Vec::new(),
                heard: None,
                quiet_secs: 0.0,
                stretches: history.stretches(),
            };
            let line = line.of_stretches();
            (line, whole)
        };
        let mut all: Vec<(PairLine, Whole)> = self.pairs.iter().map(of).collect();
        all.sort_by(|a, b| a.0.rank().total_cmp(&b.0.rank()));
        all
    }
}
