//! One layer at the worker: from its chunks to its history and its views.

use crate::board::{Board, Folder, State};
use crate::carried::Carried;
use crate::chunk::{Bus, Chunk};
use crate::clock::Anchor;
use crate::desk::{Desk, lock};
use crate::guard::guarded;
use crate::link::{Counts, Lane, Link};
use crate::measure::Measure;
use annals::{Annals, Wishes};
use company::Company;
use mics::Microphones;
use plumbline_measure::{BandEdges, Digest, Glance, Grid, Position, Tenth};
use plumbline_programme::delivery::Target;
use plumbline_programme::verdict::Verdicts;
use plumbline_programme::{Clock, Mark, Programme, Trial};
use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

/// Chunks taken from one layer in one round, so that an offline render of one does not keep the others waiting.
const CHUNKS_A_ROUND: usize = 512;
/// After this long without a chunk the audio counts as standing.
const STANDING_AFTER: Duration = Duration::from_millis(300);
/// How long a tap that another opening replaced may take to be dropped before its queue is given up.
const GRACE: Duration = Duration::from_millis(250);

/// How soon the next round should come, most urgent last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Pace {
    /// Nothing came for a while.
    Idle,
    /// Nothing came, but other layers may speak.
    Listening,
    /// Audio flows, or something waits for its time.
    Flowing,
    /// There is more to do now.
    Busy,
}

/// Losses and jumps, counted in the order of the audio.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Tally {
    gaps: u64,
    lost_frames: u64,
    jumps: u64,
}

/// The worker's state of one layer.
pub(crate) struct Seat<M> {
    desk: Arc<Desk>,
    /// Queues with audio to come; the first is the one being emptied.
    links: VecDeque<Arc<Link>>,
    /// Since when the first queue's tap is retired.
    retired: Option<Duration>,
    lane: Option<Lane>,
    /// Absent before the first opening, and after a failure until something starts it again.
    measure: Option<M>,
    broken: bool,
    edges: BandEdges,
    target: Target,
    watched: bool,
    /// The repair that the user tries out.
    trial: Option<Trial>,
    /// The one that was in force last, and how often it changed.
    altered: Option<Trial>,
    alterations: u32,
    anchor: Anchor,
    programme: Programme,
    carried: Carried,
    /// Losses and jumps met in the audio so far, and those at the last reset.
    seen: Tally,
    at_reset: Tally,
    /// Frames of the chunk being measured: lost, should that fail.
    in_hand: u32,
    /// The user's reset takes effect after so many chunks more.
    reset_after: Option<usize>,
    /// Where the last reset fell, until the first tenth from there comes out: the analyser hands tenths out later
    /// than the audio they are of, and those from before belong to no programme.
    reset_at: Option<(Grid, i64)>,
    tenths: Vec<Tenth>,
    clock: Clock,
    last_audio: Option<Duration>,
    last_view: Option<Duration>,
    /// Whether the newest view is out of date.
    stale: bool,
    serial: u64,
    /// The newest verdicts: those to come give way to them a little.
    verdicts: Verdicts,
    /// The layer among others.
    company: Company,
    /// The pairs of microphones, while somebody looks.
    mics: Option<Box<Microphones>>,
    /// Why no pairs are compared any more.
    mics_broken: Option<String>,
    /// What is kept of time.
    annals: Annals,
}

impl<M: Measure> Seat<M> {
    pub(crate) fn new(desk: Arc<Desk>, folder: Result<Folder, String>) -> Self {
        Self {
            company: Company::new(folder, desk.born),
            desk,
            links: VecDeque::new(),
            retired: None,
            lane: None,
            measure: None,
            broken: false,
            edges: BandEdges::default(),
            target: Target::default(),
            watched: false,
            trial: None,
            altered: None,
            alterations: 0,
            anchor: Anchor::default(),
            programme: Programme::default(),
            carried: Carried::default(),
            seen: Tally::default(),
            at_reset: Tally::default(),
            in_hand: 0,
            reset_after: None,
            reset_at: None,
            tenths: Vec::new(),
            clock: Clock::default(),
            last_audio: None,
            last_view: None,
            stale: false,
            serial: 0,
            verdicts: Verdicts::default(),
            mics: None,
            mics_broken: None,
            annals: Annals::default(),
        }
    }

    pub(crate) fn desk(&self) -> &Arc<Desk> {
        &self.desk
    }

    /// First part of a round: orders and audio, and what others are to know of it. Never panics; a failure stops
    /// the measurement of this layer only.
    pub(crate) fn round(&mut self, now: Duration) -> Pace {
        match guarded(|| self.work(now)) {
            Ok(pace) => pace,
            Err(words) => {
                self.fail(&words);
                Pace::Flowing
            }
        }
    }

    /// Second part, after all layers had their first: what others said, and the view. Never panics either.
    pub(crate) fn attend(&mut self, now: Duration, board: &Board) -> Pace {
        self.meet(now, board);
        self.chronicle(now);
        let compares = self.compare(now, board);
        self.stale |= self.watched && self.annals.is_due(now);
        self.show(now);
        if compares || self.annals.is_behind() || (self.watched && (self.stale || self.annals.has_news())) {
            Pace::Flowing
        } else {
            Pace::Idle
        }
    }

    /// Last part, after all layers had their second: tells whether nothing is left to do.
    pub(crate) fn settle(&self) {
        if self.links.is_empty()
            && !self.annals.is_behind()
            && !(self.watched
                && (self.stale || self.company.has_news() || self.compares() || self.annals.has_news()))
        {
            self.desk.settle();
        }
    }

    /// The repair that alters what is heard and measured.
    fn trial(&self) -> Option<Trial> {
        let offline = self.lane.is_some_and(|lane| lane.offline);
        self.trial.filter(|trial| trial.in_renders || !offline)
    }

    /// Whether audio runs, and whether and how often a repair altered it.
    fn state(&mut self) -> State {
        let trial = self.trial();
        if trial != self.altered {
            self.altered = trial;
            self.alterations = self.alterations.wrapping_add(1);
        }
        (self.clock.running, trial.is_some(), self.alterations)
    }

    fn work(&mut self, now: Duration) -> Pace {
        let state = self.state();
        self.company.stand.round(state, self.clock.position, now);
        self.hear();
        let busy = self.drain(now);
        self.count_down(0);
        let flowing = self.last_audio.is_some_and(|t| now.saturating_sub(t) < STANDING_AFTER);
        if self.clock.running != flowing {
            self.clock.running = flowing;
            self.stale = true;
        }
        let state = self.state();
        self.company.stand.show(state, self.clock.position);
        match (busy, flowing || self.links.len() > 1 || (self.watched && self.stale)) {
            (true, _) => Pace::Busy,
            (false, true) => Pace::Flowing,
            (false, false) => Pace::Idle,
        }
    }

    /// Takes the orders.
    fn hear(&mut self) {
        let desk = Arc::clone(&self.desk);
        let heard = desk.read(|o| {
            self.links.extend(o.opened.drain(..));
            self.target = o.target;
            self.watched = o.watched;
            self.trial = o.trial;
            self.company.hear(o, self.clock, self.lane);
            // Still with the orders locked: whoever saves finds each mark here or there.
            (*lock(&desk.marks)).clone_from(&self.company.marks);
            let seen = std::mem::take(&mut o.seen);
            let wishes = Wishes { rules: o.rules, lens: o.lens, rewound: o.rewound, seen };
            (o.edges, std::mem::take(&mut o.reset), wishes)
        });
        let Some((edges, reset, wishes)) = heard else { return };
        self.stale = true;
        self.annals.hear(wishes, &self.target, edges);
        self.take_marks();
        if edges != self.edges {
            self.edges = edges;
            lock(&self.desk.history).forget_sums();
            self.replace();
        }
        if reset {
            // What was handed over before the user asked still belongs to the time before.
            self.reset_after = Some(self.links.iter().map(|l| l.queue.len()).sum());
        }
    }

    /// Empties the queues in order. Returns whether there is more than one round may take.
    fn drain(&mut self, now: Duration) -> bool {
        let mut budget = CHUNKS_A_ROUND;
        while let Some(link) = self.links.front().cloned() {
            // Read before the queue is emptied: what was pushed before the end is then seen below.
            let closed = link.closed.load(Ordering::Acquire);
            let retired = link.retired.load(Ordering::Acquire);
            self.open(link.lane, now);
            while let Some(chunk) = (budget > 0).then(|| link.queue.pop()).flatten() {
                budget -= 1;
                self.last_audio = Some(now);
                self.take(&chunk, now);
            }
            if budget == 0 {
                return true;
            }
            let standing = self.last_audio.is_none_or(|t| now.saturating_sub(t) >= STANDING_AFTER);
            if standing && link.reset.swap(false, Ordering::AcqRel) {
                self.forget();
            }
            let given_up = retired && now.saturating_sub(*self.retired.get_or_insert(now)) >= GRACE;
            if !closed && !given_up {
                break;
            }
            // Off the list first: a failure in there must not be met again in every round to come.
            self.links.pop_front();
            self.retired = None;
            self.finish(&link);
        }
        false
    }

    /// Makes ready for an opening. The analyser goes on where rate and channels are the same.
    fn open(&mut self, lane: Lane, now: Duration) {
        let same = self.lane.is_some_and(|l| (l.rate, l.channels) == (lane.rate, lane.channels));
        self.lane = Some(lane);
        self.clock.rate_hz = lane.rate.hz();
        self.clock.channels = lane.channels;
        if !same {
            self.stale = true;
            // Its last tenths belong to the file of the former format.
            self.replace();
            self.company.stand.open(lane.rate, lane.channels, now);
            self.annals.open(lane.rate);
        }
    }

    /// A new analyser in the place of the old one, whose tenths and maxima are kept.
    fn replace(&mut self) {
        if let Some(mut old) = self.measure.take() {
            old.flush(&mut self.tenths);
            self.keep();
            let mut glance = Glance::default();
            old.fill(&mut glance);
            self.carried.take(glance);
        }
        self.start();
    }

    /// A new analyser, if the format is known.
    fn start(&mut self) {
        self.measure = self.lane.map(|l| M::open(l.rate, usize::from(l.channels), self.edges));
        if std::mem::take(&mut self.broken) {
            *lock(&self.desk.trouble) = None;
        }
    }

    fn take(&mut self, chunk: &Chunk, now: Duration) {
        let frames = u32::from(chunk.frames);
        self.count_down(1);
        if chunk.bus == Bus::Side {
            Counts::add(&self.desk.counts.side_frames, u64::from(frames));
            self.hear_side(chunk);
            return;
        }
        if chunk.reset {
            self.forget();
        }
        self.stale = true;
        self.in_hand = frames;
        self.meet_loss(u64::from(chunk.lost));
        self.seen.jumps += u64::from(chunk.jumps);
        if chunk.start {
            self.anchor.lift();
        }
        let Some(lane) = self.lane else { return };
        let n = chunk.len();
        let position = if chunk.on_song {
            Position { grid: Grid::Song, sample: chunk.position }
        } else {
            Position { grid: Grid::Clock, sample: self.anchor.place(chunk.position, n, lane.rate, now) }
        };
        let last = position.sample.saturating_add(i64::from(frames)).saturating_sub(1);
        self.clock.position = Position { sample: last, ..position };
        self.clock.playing = chunk.playing;
        if chunk.mark {
            self.company.mark(Mark { grid: position.grid, index: lane.rate.tenth_of(position.sample) });
            self.take_marks();
        }
        let [left, right] = &chunk.samples;
        let both = [&left[..n], &right[..n]];
        let heard = &both[..usize::from(lane.channels)];
        self.hear_pairs(position, heard);
        if let Some(measure) = &mut self.measure {
            self.company.stand.audio(position, heard);
            measure.push(position, heard, &mut self.tenths);
            self.keep();
            self.remember(position.sample, last);
        } else {
            self.lose_in_hand();
        }
        self.in_hand = 0;
    }

    /// Tells the analyser of audio that the audio thread had to drop.
    fn meet_loss(&mut self, frames: u64) {
        if frames == 0 {
            return;
        }
        self.seen.gaps += 1;
        self.seen.lost_frames += frames;
        if let Some(measure) = &mut self.measure {
            measure.note_loss(u32::try_from(frames).unwrap_or(u32::MAX));
        }
    }

    fn flush(&mut self) {
        if let Some(measure) = &mut self.measure {
            measure.flush(&mut self.tenths);
            self.keep();
        }
    }

    /// Ends an opening.
    fn finish(&mut self, link: &Link) {
        self.stale = true;
        self.last_audio = None;
        self.meet_loss(link.lost_at_end.load(Ordering::Acquire));
        self.seen.jumps += link.jumps_at_end.load(Ordering::Acquire);
        self.flush();
        if link.reset.load(Ordering::Acquire) {
            self.forget();
        }
    }

    /// Puts the tenths that came out where they belong.
    fn keep(&mut self) {
        if self.tenths.is_empty() {
            return;
        }
        {
            let mut history = lock(&self.desk.history);
            for tenth in &self.tenths {
                if history.push(tenth) {
                    self.annals.keep(tenth);
                }
            }
        }
        for tenth in self.tenths.drain(..) {
            self.company.stand.digest(&Digest::from(&tenth));
            self.reset_at = self.reset_at.filter(|(grid, first)| tenth.grid == *grid && tenth.index < *first);
            if self.reset_at.is_none() {
                self.programme.push(&tenth);
            }
        }
    }

    /// Tells of marks that were set or taken away.
    fn take_marks(&mut self) {
        if self.company.take_marks_changed() {
            self.annals.marks_changed();
            (*lock(&self.desk.marks)).clone_from(&self.company.marks);
        }
    }

    fn count_down(&mut self, chunks: usize) {
        if let Some(left) = self.reset_after {
            if left == 0 {
                self.reset_after = None;
                self.forget();
            } else {
                self.reset_after = Some(left - chunks);
            }
        }
    }

    /// The user's reset. Cells and tenths that are under way belong to the time after it.
    fn forget(&mut self) {
        self.stale = true;
        self.at_reset = self.seen;
        self.carried = Carried::default();
        self.verdicts = Verdicts::default();
        self.programme.clear();
        let next = self.clock.position.sample.saturating_add(1);
        self.reset_at = self.lane.map(|l| (self.clock.position.grid, l.rate.tenth_of(next)));
        self.company.forget_before(self.reset_at);
        self.forget_pairs();
        self.annals.clear();
        lock(&self.desk.history).mark_reset();
        if self.broken {
            self.start();
        } else if let Some(measure) = &mut self.measure {
            measure.forget();
        }
    }

    /// Ends the measurement of this layer after a failure inside it, until a reset or a new format.
    fn fail(&mut self, words: &str) {
        self.measure = None;
        self.tenths.clear();
        self.broken = true;
        self.stale = true;
        Counts::add(&self.desk.counts.gaps, 1);
        self.seen.gaps += 1;
        self.lose_in_hand();
        *lock(&self.desk.trouble) = Some(format!(
            "the measurement of this layer failed inside ({words}); audio passes on, what comes now is \
             counted as lost. Reset starts it again"
        ));
    }

    fn lose_in_hand(&mut self) {
        let frames = u64::from(std::mem::take(&mut self.in_hand));
        Counts::add(&self.desk.counts.lost_frames, frames);
        self.seen.lost_frames += frames;
    }
}

mod account;
mod annals;
pub use annals::MOST_MOMENTS;
mod company;
mod in_mix;
mod loss;
mod mics;
mod show;
#[cfg(test)]
mod tests;
