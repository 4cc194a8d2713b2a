//! From the queues to the analyser: all audio and events of one layer, in order.

use crate::audio_queue::{AudioQueue, Counts};
use crate::chunk::{Bus, Chunk};
use crate::clock::Anchor;
use crate::measure::Measure;
use crate::shared::SharedState;
use crate::since_reset::SinceReset;
use crate::stream_format::StreamFormat;
use plumbline_measure::{BandEdges, Glance, Grid, Position, Tenth};
use plumbline_programme::{Clock, Health, Mark};
use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

/// The most chunks taken from one layer in a round, so that an offline render does not keep other layers waiting.
pub(super) const CHUNKS_A_ROUND: usize = 512;
/// Time without a chunk after which audio counts as stopped.
pub(super) const STANDING_AFTER: Duration = Duration::from_millis(300);
/// How long a retired tap may take to be dropped before its queue is given up.
pub(super) const GRACE: Duration = Duration::from_millis(250);

/// Losses and jumps, counted in the order of the audio.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Counted {
    gaps: u64,
    lost_frames: u64,
    jumps: u64,
}

/// The first tenth after a reset, if known.
pub(super) type ResetAt = Option<(Grid, i64)>;

/// Takes the audio and the tenths of one layer, in order.
pub(super) trait Downstream {
    /// Takes a new sample rate or channel count.
    fn open(&mut self, format: StreamFormat, now: Duration);
    /// Takes audio of the main bus before it is measured; `at` is the position of its first frame.
    fn audio(&mut self, at: Position, channels: &[&[f32]], format: StreamFormat);
    /// Takes audio of the side-chain, after that of the main bus for the same frames.
    fn side_audio(&mut self, chunk: &Chunk);
    /// Takes the next tenth.
    fn tenth(&mut self, tenth: &Tenth, since_reset: bool);
    /// Takes the end of a tenth of audio.
    fn ended(&mut self, at: Mark, readings: impl FnOnce() -> Readings);
    /// Takes a mark of the host.
    fn mark(&mut self, mark: Mark);
    /// Takes the user's reset.
    fn reset(&mut self, at: ResetAt);
}

/// The readings of one moment.
#[derive(Debug)]
pub(super) struct Readings {
    pub(super) glance: Glance,
    pub(super) clock: Clock,
    pub(super) health: Health,
}

/// The queues of one layer, and its analyser.
pub(super) struct Intake<M> {
    counts: Arc<Counts>,
    /// Queues not finished, oldest first; the first one is being emptied.
    pub(super) queues: VecDeque<Arc<AudioQueue>>,
    /// When the first queue's tap was found retired.
    retired: Option<Duration>,
    format: Option<StreamFormat>,
    /// `None` before the first opening, and after a failure until measuring starts again.
    measure: Option<M>,
    broken: bool,
    edges: BandEdges,
    anchor: Anchor,
    since_reset: SinceReset,
    /// Losses and jumps in the audio taken so far, and up to the last reset.
    seen: Counted,
    at_reset: Counted,
    /// Frames of the chunk being measured: lost if measuring fails.
    in_hand: u32,
    /// Chunks left until the user's reset takes effect.
    reset_after: Option<usize>,
    /// First tenth after the last reset, until it comes out. The analyser delivers tenths late; those from before the
    /// reset are not part of the programme.
    reset_at: ResetAt,
    tenths: Vec<Tenth>,
    clock: Clock,
    /// Tenth of the latest sample: of its own rate, also when another opening follows.
    latest: Option<Mark>,
    last_audio: Option<Duration>,
    /// Whether anything came since the last call of `take_news`.
    news: bool,
}

impl<M: Measure> Intake<M> {
    pub(super) fn new(shared: &SharedState) -> Self {
        Self {
            counts: Arc::clone(&shared.counts),
            queues: VecDeque::new(),
            retired: None,
            format: None,
            measure: None,
            broken: false,
            edges: BandEdges::default(),
            anchor: Anchor::default(),
            since_reset: SinceReset::default(),
            seen: Counted::default(),
            at_reset: Counted::default(),
            in_hand: 0,
            reset_after: None,
            reset_at: None,
            tenths: Vec::new(),
            clock: Clock::default(),
            latest: None,
            last_audio: None,
            news: false,
        }
    }

    /// Continues the counts of losses of a former intake of the same layer, and its place in time.
    pub(super) fn continue_from(&mut self, former: &Self) {
        (self.seen, self.at_reset) = (former.seen, former.at_reset);
        self.latest = former.latest;
    }

    pub(super) fn clock(&self) -> Clock {
        self.clock
    }

    pub(super) fn format(&self) -> Option<StreamFormat> {
        self.format
    }

    /// The tenth of the latest sample; `None` before the first.
    pub(super) fn tenth(&self) -> Option<Mark> {
        self.latest
    }

    /// Whether anything came since the last call.
    pub(super) fn take_news(&mut self) -> bool {
        std::mem::take(&mut self.news)
    }

    /// Whether a failure has ended the measurement, which has not restarted.
    pub(super) fn is_broken(&self) -> bool {
        self.broken
    }

    /// Takes newly opened queues.
    pub(super) fn take_queues(&mut self, opened: impl Iterator<Item = Arc<AudioQueue>>) {
        self.queues.extend(opened);
    }

    /// Sets the edges of the named bands; a change replaces the analyser.
    pub(super) fn set_edges(&mut self, edges: BandEdges, down: &mut impl Downstream) {
        if edges != self.edges {
            self.edges = edges;
            self.replace(down);
        }
    }

    /// Requests the user's reset. Audio already in the queues still belongs to the time before it.
    pub(super) fn ask_reset(&mut self) {
        self.reset_after = Some(self.queues.iter().map(|queue| queue.chunks.len()).sum());
    }

    /// Empties the queues in order. Returns whether chunks are left for the next round.
    pub(super) fn drain(&mut self, now: Duration, down: &mut impl Downstream) -> bool {
        let busy = self.take_all(now, down);
        self.count_down(0, down);
        let running = self.last_audio.is_some_and(|t| now.saturating_sub(t) < STANDING_AFTER);
        self.news |= std::mem::replace(&mut self.clock.running, running) != running;
        busy
    }

    fn take_all(&mut self, now: Duration, down: &mut impl Downstream) -> bool {
        let mut budget = CHUNKS_A_ROUND;
        while let Some(queue) = self.queues.front().cloned() {
            // Read before the queue is emptied, so that everything pushed before the close is taken below.
            let closed = queue.closed.load(Ordering::Acquire);
            let retired = queue.retired.load(Ordering::Acquire);
            self.open(queue.format, now, down);
            while let Some(chunk) = (budget > 0).then(|| queue.chunks.pop()).flatten() {
                budget -= 1;
                self.last_audio = Some(now);
                self.take(&chunk, now, down);
            }
            if budget == 0 {
                return true;
            }
            let standing = self.last_audio.is_none_or(|t| now.saturating_sub(t) >= STANDING_AFTER);
            if standing && queue.reset.swap(false, Ordering::AcqRel) {
                self.reset(down);
            }
            let given_up = retired && now.saturating_sub(*self.retired.get_or_insert(now)) >= GRACE;
            if !closed && !given_up {
                break;
            }
            // Removed first: a failure in `finish` must not recur in every later round.
            self.queues.pop_front();
            self.retired = None;
            self.finish(&queue, down);
        }
        false
    }

    /// Prepares for an opening. The analyser continues if rate and channels are the same.
    fn open(&mut self, format: StreamFormat, now: Duration, down: &mut impl Downstream) {
        let same = self.format.is_some_and(|f| (f.rate, f.channels) == (format.rate, format.channels));
        self.format = Some(format);
        self.clock.rate_hz = format.rate.hz();
        self.clock.channels = format.channels;
        if !same {
            self.news = true;
            // The last tenths of the old analyser belong to the board file of the old format.
            self.replace(down);
            down.open(format, now);
        }
    }

    /// Replaces the analyser, and keeps the tenths and maxima of the old one.
    fn replace(&mut self, down: &mut impl Downstream) {
        if let Some(mut old) = self.measure.take() {
            old.flush(&mut self.tenths);
            self.hand_on(down);
            let mut glance = Glance::default();
            old.fill(&mut glance);
            self.since_reset.take(glance);
        }
        self.start();
    }

    /// Makes a new analyser, if the format is known.
    fn start(&mut self) {
        self.measure = self.format.map(|f| M::open(f.rate, usize::from(f.channels), self.edges));
        self.broken = false;
    }

    fn take(&mut self, chunk: &Chunk, now: Duration, down: &mut impl Downstream) {
        let frames = u32::from(chunk.frames);
        self.count_down(1, down);
        if chunk.bus == Bus::Side {
            Counts::add(&self.counts.side_frames, u64::from(frames));
            down.side_audio(chunk);
            return;
        }
        if chunk.reset {
            self.reset(down);
        }
        self.news = true;
        self.in_hand = frames;
        self.meet_loss(u64::from(chunk.lost));
        self.seen.jumps += u64::from(chunk.jumps);
        if chunk.start {
            self.anchor.lift();
        }
        let Some(format) = self.format else { return };
        let n = chunk.len();
        let position = if chunk.on_song {
            Position { grid: Grid::Song, sample: chunk.position }
        } else {
            Position { grid: Grid::Clock, sample: self.anchor.place(chunk.position, n, format.rate, now) }
        };
        let last = position.sample.saturating_add(i64::from(frames)).saturating_sub(1);
        self.clock.position = Position { sample: last, ..position };
        self.latest = Some(Mark { grid: position.grid, index: format.rate.tenth_of(last) });
        self.clock.playing = chunk.playing;
        if chunk.mark {
            down.mark(Mark { grid: position.grid, index: format.rate.tenth_of(position.sample) });
        }
        let [left, right] = &chunk.samples;
        let both = [&left[..n], &right[..n]];
        let heard = &both[..usize::from(format.channels)];
        let Some(measure) = &mut self.measure else {
            self.lose_in_hand();
            return;
        };
        down.audio(position, heard, format);
        measure.push(position, heard, &mut self.tenths);
        self.hand_on(down);
        let ended = format.rate.tenth_of(position.sample);
        if format.rate.tenth_of(last.saturating_add(1)) != ended {
            down.ended(Mark { grid: position.grid, index: ended }, || self.readings());
        }
        self.in_hand = 0;
    }

    /// Notes frames that the audio thread had to drop.
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

    /// Finishes an opening.
    fn finish(&mut self, queue: &AudioQueue, down: &mut impl Downstream) {
        self.news = true;
        self.last_audio = None;
        self.meet_loss(queue.lost_at_end.load(Ordering::Acquire));
        self.seen.jumps += queue.jumps_at_end.load(Ordering::Acquire);
        if let Some(measure) = &mut self.measure {
            measure.flush(&mut self.tenths);
            self.hand_on(down);
        }
        if queue.reset.load(Ordering::Acquire) {
            self.reset(down);
        }
    }

    /// Passes on new tenths.
    fn hand_on(&mut self, down: &mut impl Downstream) {
        for tenth in self.tenths.drain(..) {
            self.reset_at = self.reset_at.filter(|(grid, first)| tenth.grid == *grid && tenth.index < *first);
            down.tenth(&tenth, self.reset_at.is_none());
        }
    }

    /// Counts down to a requested reset, and carries it out once all earlier audio is measured.
    fn count_down(&mut self, chunks: usize, down: &mut impl Downstream) {
        match self.reset_after {
            Some(0) => {
                self.reset_after = None;
                self.reset(down);
            }
            Some(left) => self.reset_after = Some(left - chunks),
            None => {}
        }
    }

    /// Resets. Unfinished cells and tenths belong to the time after the reset.
    fn reset(&mut self, down: &mut impl Downstream) {
        self.news = true;
        self.at_reset = self.seen;
        self.since_reset = SinceReset::default();
        let next = self.clock.position.sample.saturating_add(1);
        self.reset_at = self.format.map(|f| (self.clock.position.grid, f.rate.tenth_of(next)));
        if self.broken {
            self.start();
        } else if let Some(measure) = &mut self.measure {
            measure.forget();
        }
        down.reset(self.reset_at);
    }

    /// Ends the measurement after a failure, until a reset or a new analyser.
    pub(super) fn fail(&mut self) {
        self.measure = None;
        self.tenths.clear();
        self.broken = true;
        self.news = true;
        Counts::add(&self.counts.gaps, 1);
        self.seen.gaps += 1;
        self.lose_in_hand();
    }

    fn lose_in_hand(&mut self) {
        let frames = u64::from(std::mem::take(&mut self.in_hand));
        Counts::add(&self.counts.lost_frames, frames);
        self.seen.lost_frames += frames;
    }

    /// The present readings.
    pub(super) fn readings(&self) -> Readings {
        let mut glance = Glance::default();
        if let Some(measure) = &self.measure {
            measure.fill(&mut glance);
        }
        self.since_reset.add_to(&mut glance);
        let health = self.health(glance.not_finite);
        Readings { glance, clock: self.clock, health }
    }

    /// Faults since reset as counted by the audio thread, including those of chunks still in the queue.
    fn health(&self, not_finite: u64) -> Health {
        let since = |counter: &AtomicU64, before: u64| counter.load(Ordering::Relaxed).saturating_sub(before);
        Health {
            gaps: since(&self.counts.gaps, self.at_reset.gaps),
            lost_frames: since(&self.counts.lost_frames, self.at_reset.lost_frames),
            not_finite,
            jumps: since(&self.counts.jumps, self.at_reset.jumps),
        }
    }
}
