//! The worker's engine of one layer: from its queues to its views.
//!
//! # Data flow
//! `intake` empties the queues into the analyser, and passes on audio and tenths in order. `Publisher` writes both to
//! the board, `record` keeps what follows from tenths, `pairs` compares microphones, `session` follows the other
//! layers, and `view` makes views of it all.

use crate::board::{BoardReader, Folder, Numbers, Publisher, State};
use crate::chunk::Chunk;
use crate::fault::{self, Stage};
use crate::marks::Marks;
use crate::measure::Measure;
use crate::panic_guard::guarded;
use crate::shared::{SharedState, lock};
use crate::stream_format::StreamFormat;
use intake::{Downstream, Intake, Readings, ResetAt};
use pairs::Pairs;
use plumbline_measure::{Digest, Position, Tenth};
use plumbline_programme::{Command, Mark, Role, Settings, Trial, View};
use record::Record;
use session::SessionFollower;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;
use view::{Context, ViewBuilder};

mod failure;
mod intake;
mod pairs;
mod record;
mod session;
mod view;

pub use record::MOST_MOMENTS;

/// How soon the next round is due, the most urgent last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Pace {
    /// No audio for a while.
    Idle,
    /// No audio, but other layers are followed.
    Listening,
    /// Audio is flowing, or work is due soon.
    Flowing,
    /// More work waits now.
    Busy,
}

/// The engine of one layer.
pub(crate) struct LayerEngine<M> {
    intake: Intake<M>,
    parts: Parts,
    /// Whether the latest view is out of date.
    stale: bool,
    /// Whether a message about a failure is shown.
    failed: bool,
    /// Rounds in a row that have failed.
    failures: u32,
}

/// The parts that take audio and tenths from the intake.
struct Parts {
    shared: Arc<SharedState>,
    /// Whether the words of a restart are shown, which stay until the user's reset.
    restarted: bool,
    settings: Settings,
    /// Whether the audio is that of an offline render.
    offline: bool,
    /// The trial last in force, and how often it has changed.
    former_trial: Option<Trial>,
    alterations: u32,
    marks: Marks,
    publisher: Publisher,
    record: Record,
    pairs: Pairs,
    session: SessionFollower,
    view: ViewBuilder,
}

impl<M: Measure> LayerEngine<M> {
    /// An engine with the marks of the layer, if it had an engine before. Clears words that said why it had none.
    pub(crate) fn new(shared: Arc<SharedState>, folder: Result<Folder, String>) -> Self {
        fault::point(Stage::Making, shared.born.id);
        shared.offer_current();
        shared.set_trouble(None);
        let marks = Marks::of(lock(&shared.marks).clone());
        Self {
            intake: Intake::new(&shared),
            parts: Parts {
                restarted: false,
                settings: Settings::default(),
                offline: false,
                former_trial: None,
                alterations: 0,
                marks,
                publisher: Publisher::new(folder, shared.born),
                record: Record::default(),
                pairs: Pairs::default(),
                session: SessionFollower::default(),
                view: ViewBuilder::after(shared.serial.load(Ordering::Acquire)),
                shared,
            },
            stale: false,
            failed: false,
            failures: 0,
        }
    }

    pub(crate) fn shared(&self) -> &Arc<SharedState> {
        &self.parts.shared
    }

    /// First part of a round: settings, commands, audio, and writing to the board. Never panics; a failure ends the
    /// measurement of this layer only.
    pub(crate) fn round(&mut self, now: Duration) -> Pace {
        match guarded(|| self.measure(now)) {
            Ok(pace) => {
                self.failures = 0;
                pace
            }
            Err(words) => {
                self.fail(&words);
                self.ask_again();
                Pace::Flowing
            }
        }
    }

    fn measure(&mut self, now: Duration) -> Pace {
        let state = self.state();
        fault::point(Stage::Publishing, self.parts.shared.born.id);
        self.parts.publisher.round(state, self.intake.clock().position, now);
        self.obey();
        let busy = self.intake.drain(now, &mut self.parts);
        self.recover();
        self.stale |= self.intake.take_news() | self.parts.pairs.take_news();
        let state = self.state();
        self.parts.publisher.show(state, self.intake.clock().position);
        let waiting = self.intake.queues.len() > 1 || (self.parts.settings.watched && self.stale);
        match (busy, state.0 || waiting) {
            (true, _) => Pace::Busy,
            (false, true) => Pace::Flowing,
            (false, false) => Pace::Idle,
        }
    }

    /// Second part, after the first part of all layers: the session, and the view. Never panics.
    pub(crate) fn attend(&mut self, now: Duration, board: &BoardReader) -> Pace {
        self.follow_session(now, board);
        self.join_record(now);
        self.compare_pairs(now, board);
        self.make_view(now);
        let Parts { record, pairs, settings, .. } = &self.parts;
        if pairs.is_busy() || record.is_behind() || (settings.watched && (self.stale || record.has_news())) {
            Pace::Flowing
        } else {
            Pace::Idle
        }
    }

    /// Last part, after the second part of all layers: notes whether all work is done.
    pub(crate) fn settle(&self) {
        let Parts { record, pairs, session, settings, shared, .. } = &self.parts;
        let shows =
            settings.watched && (self.stale || session.has_news() || pairs.is_busy() || record.has_news());
        // Commands of a failed round wait for the next request.
        let waits = shared.look(|inbox| !inbox.commands.is_empty());
        if self.intake.queues.is_empty() && !record.is_behind() && !shows && !waits {
            shared.settle();
        }
    }

    /// Whether the layer follows others: it may hold the mix, or it is watched.
    pub(crate) fn listens(&self) -> bool {
        self.parts.settings.watched || self.parts.settings.identity.role == Role::Mix
    }

    /// Whether the layer needs a number in its session, or may have to change it.
    pub(crate) fn wants_number(&self, now: Duration) -> bool {
        self.parts.publisher.wants_number(now)
    }

    /// Takes a number in its session, if it needs one. Never panics; after a failure the layer has no number.
    pub(crate) fn take_number(&mut self, now: Duration, board: &BoardReader, numbers: &mut Numbers) {
        let publisher = &mut self.parts.publisher;
        let _ = guarded(|| {
            fault::point(Stage::Number, publisher.id());
            publisher.take_number(board, numbers, now);
        });
    }

    /// Takes settings and commands.
    fn obey(&mut self) {
        let Self { parts, intake, .. } = self;
        let shared = Arc::clone(&parts.shared);
        let asked = shared.take(|inbox| {
            intake.take_queues(inbox.opened.drain(..));
            let mut marks = parts.marks.clone();
            for command in &inbox.commands {
                match command {
                    Command::Mark => intake.tenth().into_iter().for_each(|at| marks.put(at)),
                    _ => marks.obey(command),
                }
            }
            fault::point(Stage::Commands, shared.born.id);
            // Still with the inbox locked: a reader finds each mark in the list or in a command. The commands are taken
            // last, and on a copy of the marks: a failure before this loses none and does none twice.
            *lock(&shared.marks) = marks.list().to_vec();
            parts.marks = marks;
            (inbox.settings.clone(), std::mem::take(&mut inbox.commands))
        });
        let Some((settings, commands)) = asked else { return };
        self.stale = true;
        for command in commands {
            match command {
                Command::Reset => intake.ask_reset(),
                Command::SetDone(finding, done) => parts.record.set_done(finding, done),
                _ => {}
            }
        }
        if settings.band_edges != parts.settings.band_edges {
            lock(&shared.history).forget_sums();
        }
        parts.settings = settings;
        parts.record.set(&parts.settings);
        parts.session.set(&parts.settings);
        parts.publisher.introduce(&parts.settings.identity, parts.settings.session);
        parts.take_marks();
        intake.set_edges(parts.settings.band_edges, parts);
    }

    /// Whether audio is running, whether a trial alters it, and how often the trial has changed.
    fn state(&mut self) -> State {
        self.parts.offline = self.intake.format().is_some_and(|format| format.offline);
        let trial = self.parts.trial();
        if trial != self.parts.former_trial {
            self.parts.former_trial = trial;
            self.parts.alterations = self.parts.alterations.wrapping_add(1);
        }
        (self.intake.clock().running, trial.is_some(), self.parts.alterations)
    }

    fn follow_session(&mut self, now: Duration, board: &BoardReader) {
        let Self { intake, parts, .. } = self;
        let look = session::Look {
            own: parts.publisher.id(),
            settings: &parts.settings,
            marks: parts.marks.list(),
            alone: parts.publisher.alone(),
            glance: &|| intake.readings().glance,
            channels: intake.clock().channels,
            now,
        };
        let answered = parts.session.follow(board, &look);
        self.stale |= answered;
        if parts.settings.watched && (answered || parts.session.has_news()) {
            parts.shared.unsettle();
        }
    }

    fn join_record(&mut self, now: Duration) {
        let Parts { record, session, settings, marks, publisher, .. } = &mut self.parts;
        let joined = guarded(|| {
            fault::point(Stage::Record, publisher.id());
            record.join(session, publisher.id(), (settings, marks.list()), now);
        });
        if let Err(words) = joined {
            session.fail(&words);
        }
        self.stale |= self.parts.settings.watched && self.parts.record.is_due(now);
    }

    fn compare_pairs(&mut self, now: Duration, board: &BoardReader) {
        let Parts { pairs, session, settings, publisher, .. } = &mut self.parts;
        if settings.watched {
            let own = publisher.id();
            pairs.step(board, &pairs::Look { own, settings, session: &session.shown, now });
            self.stale |= pairs.take_news();
        } else {
            pairs.stop();
        }
    }

    /// Makes a view if the layer is watched, something is new, and the last view is old enough.
    fn make_view(&mut self, now: Duration) {
        if !self.parts.settings.watched || !self.stale || !self.parts.view.is_due(now) {
            return;
        }
        self.stale = false;
        let view = guarded(|| self.view(now)).or_else(|words| {
            self.fail(&words);
            guarded(|| self.view(now))
        });
        let view = view.unwrap_or_else(|_| self.parts.view.empty(self.intake.clock()));
        let shared = &self.parts.shared;
        *lock(&shared.view) = Arc::new(view);
        shared.serial.store(self.parts.view.serial, Ordering::Release);
        let Some(notify) = shared.notify() else { return };
        if let Err(words) = guarded(|| notify()) {
            shared.ask(|inbox| inbox.notify = None);
            shared.set_trouble(Some(format!(
                "updating the window failed ({words}). Measuring goes on. Close the window and open it again"
            )));
        }
    }

    fn view(&mut self, now: Duration) -> View {
        fault::point(Stage::View, self.parts.shared.born.id);
        let mut view = self.parts.figures(self.intake.readings());
        let Parts { view: builder, record, session, settings, marks, shared, .. } = &mut self.parts;
        builder.verdicts = view.verdicts;
        view.serial = builder.serial;
        view.session = Arc::clone(&session.shown);
        record.show(&mut view, &shared.history, session, (settings, marks.list()), now);
        view
    }
}

impl Parts {
    /// The trial in force: in an offline render, only one meant for renders.
    fn trial(&self) -> Option<Trial> {
        self.settings.trial.filter(|trial| trial.in_renders || !self.offline)
    }

    /// A view of readings and verdicts.
    fn figures(&mut self, readings: Readings) -> View {
        let trial = self.trial();
        let context = Context {
            edges: self.settings.band_edges,
            delivery: &self.settings.delivery,
            programme: &mut self.record.programme,
            mics: self.pairs.shown(),
            trial,
            recording: self.settings.recording,
            balance: self.session.verdict,
        };
        self.view.figures(readings, context)
    }

    /// Passes on the marks, if they changed.
    fn take_marks(&mut self) {
        if self.marks.take_changed() {
            self.record.marks_changed();
            *lock(&self.shared.marks) = self.marks.list().to_vec();
        }
    }
}

impl Downstream for Parts {
    fn open(&mut self, format: StreamFormat, now: Duration) {
        self.publisher.open(format.rate, format.channels, now);
        self.record.open(format.rate);
    }

    fn audio(&mut self, at: Position, channels: &[&[f32]], format: StreamFormat) {
        fault::point(Stage::Intake, self.shared.born.id);
        self.offline = format.offline;
        if self.settings.watched {
            let trial = self.trial();
            self.pairs.audio(at, channels, format, (trial, &self.settings.recording));
        }
        self.publisher.audio(at, channels);
    }

    fn side_audio(&mut self, chunk: &Chunk) {
        self.pairs.side_audio(chunk);
    }

    fn tenth(&mut self, tenth: &Tenth, since_reset: bool) {
        self.record.push(&mut lock(&self.shared.history), tenth, since_reset);
        self.publisher.digest(&Digest::from(tenth));
    }

    fn ended(&mut self, at: Mark, readings: impl FnOnce() -> Readings) {
        if self.settings.watched {
            let view = self.figures(readings());
            self.record.remember(at, &view);
        }
    }

    fn mark(&mut self, mark: Mark) {
        self.marks.put(mark);
        self.take_marks();
    }

    fn reset(&mut self, at: ResetAt) {
        if std::mem::take(&mut self.restarted) {
            self.shared.set_trouble(None);
        }
        lock(&self.shared.history).mark_reset();
        self.record.clear();
        self.session.clear(at);
        self.pairs.clear();
        self.view.clear();
    }
}

#[cfg(test)]
mod tests;
