//! The stretches of a programme in which a pair has one delay, and the gain of a move in each of them.

use crate::pair::{Agreed, Blend, CannotTell, Drift, Found, Polarity, Reading, VOTE_SECS, WINDOW_SECS};
use plumbline_measure::cross::power_db;
use serde::{Deserialize, Serialize};
use std::collections::VecDeque;

/// Difference of two delays, seconds, from which they are not the same: 5 cm of path, and as much again for drift.
const ANOTHER_SECS: f64 = 0.3e-3;
/// Difference of two delays, seconds, up to which the gain of one holds for the other: 2 cm of path.
const SAME_SECS: f64 = 0.05e-3;
/// Seconds from one rehearsal of a move to the next: windows of 2 s still cover all sound twice.
const EVERY_SECS: f64 = 1.0;
/// Shortest stretch that counts, seconds: less is one event that reached the vote.
pub const LEAST_STRETCH_SECS: f64 = 5.0;
/// Distance of a window's delay from the agreed one, seconds, up to which it is the same sound on the move; further off
/// is another sound or an echo.
const OFF_SECS: f64 = 1.5e-3;
/// One window in this many may be off; with more, the delay is moving.
const OFF_PART: u32 = 3;
/// One reading in this many must have a second delay for the stretch to have it.
const SECOND_PART: u32 = 5;
/// How much later than the sound a stretch may begin and still cover all of it, seconds: the vote takes a few windows.
const LATE_SECS: f64 = 4.0;
/// Most stretches kept; a pair with more is moving.
const MOST_STRETCHES: usize = 64;

/// One stretch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Stretch {
    /// First second.
    pub start_secs: f64,
    /// Second after the last.
    pub end_secs: f64,
    /// Whether it covers all the sound there was.
    pub whole: bool,
    /// Its reading with the strongest evidence. The net gain is that of the whole stretch.
    pub reading: Reading,
    /// Evidence of that reading.
    evidence: f64,
    /// The delay agreed on last, its time, and the smallest and largest so far.
    latest_secs: f64,
    latest_at_secs: f64,
    range_secs: [f64; 2],
    /// Windows at that delay, and windows a little off it.
    windows: [u32; 2],
    /// The latest clear drift.
    drift: Option<Drift>,
    /// A second delay; the number of readings that had one, and of all readings.
    second_secs: Option<f64>,
    seconds: [u32; 2],
    /// Energies of the sum: alone, as recorded, and after the move.
    blend: Blend,
}

impl Stretch {
    /// Length in seconds.
    pub fn secs(&self) -> f64 {
        self.end_secs - self.start_secs
    }

    /// Whether the delay moved by more than one move tolerates, or too many windows are off it.
    pub(super) fn moves(&self) -> bool {
        let [at, off] = self.windows;
        self.range_secs[1] - self.range_secs[0] > ANOTHER_SECS || off > (at.saturating_add(off)) / OFF_PART
    }

    /// Counts a window with a delay of its own.
    fn count(&mut self, found: Found) {
        let off = (found.delay_secs - self.latest_secs).abs();
        if off <= ANOTHER_SECS / 2.0 {
            self.windows[0] = self.windows[0].saturating_add(1);
        } else if off <= OFF_SECS {
            self.windows[1] = self.windows[1].saturating_add(1);
        }
    }

    fn follow(&mut self, agreed: &Agreed) {
        self.latest_secs = agreed.delay_secs;
        self.drift = agreed.drift.filter(|drift| drift.plain).or(self.drift);
        let [low, high] = self.range_secs;
        self.range_secs = [low.min(agreed.delay_secs), high.max(agreed.delay_secs)];
        self.second_secs = agreed.second_secs.or(self.second_secs);
        let [with, all] = self.seconds;
        self.seconds = [with.saturating_add(u32::from(agreed.second_secs.is_some())), all.saturating_add(1)];
    }

    /// The reading, with its second delay if the stretch had one often enough. A delay that moved without a clear drift
    /// becomes unknown.
    fn settled(mut self) -> Self {
        if self.moves() {
            match (&mut self.reading.outcome, self.drift) {
                (Ok(agreed), Some(drift)) => agreed.drift = Some(drift),
                (outcome, _) => *outcome = Err(CannotTell::Moving),
            }
        }
        let often = self.seconds[0] >= self.seconds[1] / SECOND_PART;
        let second_secs = self.second_secs.filter(|_| often);
        if let Ok(agreed) = &mut self.reading.outcome {
            agreed.second_secs = second_secs;
        }
        self
    }

    /// Computes the gain of the move from the energies.
    fn judge(&mut self) {
        let Blend { alone, before, after } = self.blend;
        self.reading.net_gain_db = net_gain_db(&self.blend);
        self.reading.won = Some((after - before) / alone).filter(|won| won.is_finite());
    }

    fn has(&self, agreed: &Agreed) -> bool {
        self.is_at(agreed.delay_secs, agreed.polarity)
    }

    /// Whether the drift of this stretch leads back to the moving delay before it: a drift is clear only after some
    /// seconds, and until then the vote takes the middle of its time.
    fn drifts_from(&self, before: &Self) -> bool {
        let Some(slope) = self.drift.map(|drift| drift.ppm * 1e-6) else { return false };
        let back = self.latest_secs - slope * (self.latest_at_secs - before.latest_at_secs);
        let same = self.reading.outcome.ok().map(|own| own.polarity)
            == before.reading.outcome.ok().map(|own| own.polarity);
        same && before.moves()
            && before.drift.is_none()
            && (back - before.latest_secs).abs() <= slope.abs() * VOTE_SECS + ANOTHER_SECS
    }

    /// Whether the delay agreed on at `at_secs` goes on from this stretch, its drift included.
    fn goes_on(&self, agreed: &Agreed, at_secs: f64) -> bool {
        let slope = agreed.drift.filter(|drift| drift.plain).map_or(0.0, |drift| drift.ppm * 1e-6);
        self.is_at(agreed.delay_secs - slope * (at_secs - self.latest_at_secs), agreed.polarity)
    }

    fn is_at(&self, delay_secs: f64, polarity: Polarity) -> bool {
        self.reading.outcome.is_ok_and(|own| own.polarity == polarity)
            && (self.latest_secs - delay_secs).abs() <= ANOTHER_SECS
    }
}

/// A window with a delay of its own, and the energies of its sum at that delay.
#[derive(Clone, Copy, Debug)]
struct Pending {
    at_secs: f64,
    delay_secs: f64,
    polarity: Polarity,
    blend: Blend,
}

/// The stretches of one pair so far.
#[derive(Clone, Debug, Default)]
pub(super) struct Stretches {
    list: Vec<Stretch>,
    rehearsed_secs: f64,
    /// Seconds of stretches that were too short, and the delay of the latest of them.
    short: (f64, f64),
    /// The latest rehearsals, which a new stretch may take from the one before it.
    latest: VecDeque<(f64, Blend)>,
    /// The latest windows with another delay than the stretch, rehearsed at their own: a new stretch begins with them.
    pending: VecDeque<Pending>,
    /// Factor by which energies fall from one rehearsal to the next; 1 keeps everything.
    kept: f64,
}

/// Gain in dB of a move. `None` without sound.
fn net_gain_db(blend: &Blend) -> Option<f64> {
    // Total cancellation counts as 120 dB down.
    let least = blend.alone * 1e-12;
    (blend.alone > 0.0 && blend.alone.is_finite())
        .then(|| power_db(blend.after.max(least) / blend.before.max(least)))
}

impl Stretches {
    /// The stretches of a whole programme, or of the last `forgets_secs`.
    pub(super) fn new(forgets_secs: Option<f64>) -> Self {
        Self { kept: forgets_secs.map_or(1.0, |secs| (-EVERY_SECS / secs).exp()), ..Self::default() }
    }

    /// Takes the reading after a window that ends at `at_secs`, agreed since `since_secs`, and the delay `found` in
    /// that window alone. `rehearse` returns the energies of the window's sum for a delay in seconds and a polarity.
    pub(super) fn take(
        &mut self,
        reading: &Reading,
        found: Option<Found>,
        (since_secs, at_secs): (f64, f64),
        evidence: f64,
        mut rehearse: impl FnMut(f64, Polarity) -> Option<Blend>,
    ) {
        if let Ok(agreed) = reading.outcome {
            match self.list.last_mut().filter(|last| last.goes_on(&agreed, at_secs)) {
                Some(last) => {
                    last.follow(&agreed);
                    last.latest_at_secs = at_secs;
                    if evidence >= last.evidence || self.kept < 1.0 {
                        let Reading { net_gain_db, won, .. } = last.reading;
                        (last.reading, last.evidence) = (*reading, evidence);
                        // The gain over the whole stretch stays until the next rehearsal.
                        if net_gain_db.is_some() {
                            (last.reading.net_gain_db, last.reading.won) = (net_gain_db, won);
                        }
                    }
                }
                None => {
                    if self.kept < 1.0 {
                        self.list.clear();
                    }
                    if let Some(last) = self.list.last_mut() {
                        last.end_secs = since_secs.clamp(last.start_secs, at_secs);
                        // Rehearsals since then were of another delay.
                        let another = |(at, _): &&(f64, Blend)| *at > since_secs + WINDOW_SECS / 2.0;
                        for (_, blend) in self.latest.iter().filter(another) {
                            last.blend.alone = (last.blend.alone - blend.alone).max(0.0);
                            last.blend.before = (last.blend.before - blend.before).max(0.0);
                            last.blend.after = (last.blend.after - blend.after).max(0.0);
                        }
                        last.judge();
                    }
                    self.latest.clear();
                    // A short move by one event is not a stretch; a delay that returns repeatedly is a second sound.
                    for short in self.list.iter().filter(|stretch| stretch.secs() < LEAST_STRETCH_SECS) {
                        self.short.0 += short.secs();
                        self.short.1 = short.latest_secs;
                    }
                    self.list.retain(|stretch| stretch.secs() >= LEAST_STRETCH_SECS);
                    if self.list.len() == MOST_STRETCHES {
                        self.list.remove(0);
                    }
                    let blend = self.begun(&agreed, since_secs);
                    self.list.push(Stretch {
                        start_secs: since_secs.min(at_secs),
                        end_secs: at_secs,
                        whole: false,
                        reading: *reading,
                        evidence,
                        latest_secs: agreed.delay_secs,
                        latest_at_secs: at_secs,
                        range_secs: [agreed.delay_secs; 2],
                        windows: [0, 0],
                        drift: agreed.drift.filter(|drift| drift.plain),
                        second_secs: agreed.second_secs,
                        seconds: [u32::from(agreed.second_secs.is_some()), 1],
                        blend,
                    });
                }
            }
        }
        if let Some(last) = self.list.last_mut() {
            last.end_secs = at_secs;
            found.into_iter().for_each(|found| last.count(found));
        }
        if (at_secs - self.rehearsed_secs).abs() < EVERY_SECS - 1e-6 {
            return;
        }
        self.rehearsed_secs = at_secs;
        if let Some(Found { delay_secs, polarity, .. }) = found
            && !self.list.last().is_some_and(|last| last.is_at(delay_secs, polarity))
            && let Some(blend) = rehearse(delay_secs, polarity)
        {
            self.pending.push_back(Pending { at_secs, delay_secs, polarity, blend });
        }
        while self.pending.front().is_some_and(|first| first.at_secs < at_secs - VOTE_SECS) {
            self.pending.pop_front();
        }
        let Some(last) = self.list.last_mut() else { return };
        let Ok(own) = last.reading.outcome else { return };
        if let Some(blend) = rehearse(last.latest_secs, own.polarity) {
            self.latest.push_back((at_secs, blend));
            while self.latest.front().is_some_and(|(at, _)| *at < at_secs - VOTE_SECS) {
                self.latest.pop_front();
            }
            let add = |sum: &mut f64, more: f64| {
                *sum = *sum * self.kept + if more.is_finite() { more.max(0.0) } else { 0.0 };
            };
            add(&mut last.blend.alone, blend.alone);
            add(&mut last.blend.before, blend.before);
            add(&mut last.blend.after, blend.after);
            last.judge();
        }
    }

    /// Energies of the pending windows since `since_secs` at the delay of a new stretch.
    fn begun(&mut self, agreed: &Agreed, since_secs: f64) -> Blend {
        let near = |pending: &&Pending| {
            pending.polarity == agreed.polarity
                && (pending.delay_secs - agreed.delay_secs).abs() <= SAME_SECS
                && pending.at_secs > since_secs
        };
        let sum = self.pending.iter().filter(near).fold(Blend::default(), |sum, pending| Blend {
            alone: sum.alone + pending.blend.alone,
            before: sum.before + pending.blend.before,
            after: sum.after + pending.blend.after,
        });
        self.pending.clear();
        sum
    }

    /// Net gain and power won of the latest stretch, if it has this delay.
    pub(super) fn latest(&self, agreed: &Agreed) -> Option<(Option<f64>, Option<f64>)> {
        let last = self.list.last().filter(|last| last.has(agreed))?;
        last.reading.net_gain_db.is_some().then_some((last.reading.net_gain_db, last.reading.won))
    }

    /// The stretches that count, ascending, of sound from `from_secs` on. Neighbours with one delay are merged,
    /// whatever was between them.
    pub(super) fn all(&self, from_secs: f64) -> Vec<Stretch> {
        let long = self.list.iter().filter(|stretch| stretch.secs() >= LEAST_STRETCH_SECS);
        let mut all: Vec<Stretch> = Vec::new();
        for stretch in long {
            let joins = |last: &&mut Stretch| {
                stretch.reading.outcome.is_ok_and(|agreed| last.has(&agreed)) || stretch.drifts_from(last)
            };
            match all.last_mut().filter(joins) {
                Some(last) => {
                    last.end_secs = stretch.end_secs;
                    last.latest_secs = stretch.latest_secs;
                    last.latest_at_secs = stretch.latest_at_secs;
                    last.drift = stretch.drift.or(last.drift);
                    for (sum, more) in last.windows.iter_mut().zip(stretch.windows) {
                        *sum = sum.saturating_add(more);
                    }
                    let [(low, high), (l, h)] = [last.range_secs, stretch.range_secs].map(|r| (r[0], r[1]));
                    last.range_secs = [low.min(l), high.max(h)];
                    last.second_secs = stretch.second_secs.or(last.second_secs);
                    for (sum, more) in last.seconds.iter_mut().zip(stretch.seconds) {
                        *sum = sum.saturating_add(more);
                    }
                    last.blend.alone += stretch.blend.alone;
                    last.blend.before += stretch.blend.before;
                    last.blend.after += stretch.blend.after;
                    if stretch.evidence > last.evidence {
                        (last.reading, last.evidence) = (stretch.reading, stretch.evidence);
                    }
                    last.judge();
                }
                None => all.push(stretch.clone()),
            }
        }
        let mut all: Vec<Stretch> = all.into_iter().map(Stretch::settled).collect();
        if let [only] = all.as_mut_slice()
            && self.short.0 >= only.secs() / f64::from(SECOND_PART)
            && let Ok(agreed) = &mut only.reading.outcome
        {
            agreed.second_secs.get_or_insert(self.short.1);
        }
        if let [only] = all.as_mut_slice() {
            only.whole = only.start_secs <= from_secs + LATE_SECS;
        }
        all
    }
}
