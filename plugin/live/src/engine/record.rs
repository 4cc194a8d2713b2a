//! A layer's record over time: loudness of the programme, lanes, findings and joins, statistics, and moments as they
//! were shown.

mod joint_cursor;
mod kept_moments;
mod statistics;

use super::session::SessionFollower;
use crate::shared::lock;
use joint_cursor::Cursor;
pub use kept_moments::MOST_MOMENTS;
use kept_moments::Moments;
use plumbline_measure::reading::Maybe;
use plumbline_measure::{SampleRate, Tenth};
use plumbline_programme::moment::{self, Moment, REBUILT_FROM};
use plumbline_programme::verdict::Channels;
use plumbline_programme::{
    Balance, Events, History, Lanes, LayerId, Log, Mark, PassageLine, Past, Programme, Settings, TimeWindow,
    Timeline, View,
};
use std::ops::RangeInclusive;
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// Shortest time between two computations of statistics.
const STATISTICS_STEP: Duration = Duration::from_secs(1);
/// Shortest time between two logs.
const LOG_STEP: Duration = Duration::from_millis(100);
/// Tenths in a view for the time lanes: 10 s. The history has more.
const RECENT_TENTHS: usize = 100;
/// How many tenths before the chosen moment the moment shown may be, if the audio has a gap.
const NEAR: i64 = 5;

/// A layer's record over time.
#[derive(Debug, Default)]
pub(super) struct Record {
    pub(super) programme: Programme,
    timeline: Timeline,
    events: Events,
    moments: Moments,
    statistics: Vec<PassageLine>,
    /// The tenths that were joined with those of other layers.
    cursor: Cursor,
    window: TimeWindow,
    lanes: Arc<Lanes>,
    log: Arc<Log>,
    lanes_current: bool,
    log_current: bool,
    statistics_current: bool,
    logged: Option<Duration>,
    summed: Option<Duration>,
    /// The past moment shown, when its session was computed, and the session.
    past_session: Option<(Mark, Duration, Arc<plumbline_programme::Session>)>,
}

fn is_due(last: Option<Duration>, step: Duration, now: Duration) -> bool {
    last.is_none_or(|t| now.saturating_sub(t) >= step)
}

impl Record {
    /// Takes the settings.
    pub(super) fn set(&mut self, settings: &Settings) {
        self.events.set(settings.rules, &settings.delivery, settings.band_edges);
        self.events.set_recording(&settings.recording);
        self.lanes_current &= settings.window == self.window;
        self.window = settings.window;
    }

    /// Marks a finding as done or not.
    pub(super) fn set_done(&mut self, finding: u64, done: bool) {
        self.events.set_done(finding, done);
    }

    /// Takes a new sample rate. Later positions in samples follow it; tenths do not depend on it.
    pub(super) fn open(&mut self, rate: SampleRate) {
        self.events.set_rate(rate);
    }

    /// Takes the next tenth. One with less audio than an earlier pass changes at most the programme's loudness.
    pub(super) fn push(&mut self, history: &mut History, tenth: &Tenth, since_reset: bool) {
        if history.push(tenth) {
            self.timeline.push(tenth);
            self.events.push(tenth);
            (self.lanes_current, self.statistics_current) = (false, false);
        }
        if since_reset {
            self.programme.push(tenth);
        }
    }

    /// Keeps a moment as shown.
    pub(super) fn remember(&mut self, at: Mark, view: &View) {
        self.moments.keep(at, Moment::of(view));
    }

    /// Notes that marks were set or removed.
    pub(super) fn marks_changed(&mut self) {
        (self.log_current, self.statistics_current) = (false, false);
        self.summed = None;
    }

    /// Clears the programme and the events, for the user's reset. Lanes, moments and history stay.
    pub(super) fn clear(&mut self) {
        self.programme.clear();
        self.events.clear();
        self.marks_changed();
    }

    /// Joins the tenths that all layers have reported by now, or the first of them.
    pub(super) fn join(
        &mut self,
        session: &SessionFollower,
        own: LayerId,
        (settings, marks): (&Settings, &[Mark]),
        now: Duration,
    ) {
        self.cursor.behind = false;
        let Some(feed) = session.feed() else { return };
        let Some(reported) = feed.reported(own) else { return };
        let Some((grid, span)) = self.cursor.next(feed.number(), reported, now) else { return };
        let name = |id| feed.name(id);
        for index in span {
            let Some(together) = feed.together(grid, index) else { continue };
            self.timeline.set_energies(grid, index, together.energies);
            self.events.push_together(&together, (&settings.balance, marks), &name);
            self.lanes_current = false;
        }
        if let Some(loss) = &session.shown.loss {
            self.events.attribute_loss(loss, &name);
        }
    }

    /// Whether tenths are waiting to be joined.
    pub(super) fn is_behind(&self) -> bool {
        self.cursor.behind
    }

    /// Whether anything is new since the latest view.
    pub(super) fn has_news(&self) -> bool {
        !(self.lanes_current && self.log_current && self.statistics_current)
    }

    /// Whether a view is due to show anything new.
    pub(super) fn is_due(&self, now: Duration) -> bool {
        !self.lanes_current
            || (!self.log_current && is_due(self.logged, LOG_STEP, now))
            || (!self.statistics_current && is_due(self.summed, STATISTICS_STEP, now))
    }

    /// Writes lanes and log into a view, and rewinds the view to a past moment if one is chosen.
    pub(super) fn show(
        &mut self,
        view: &mut View,
        history: &Mutex<History>,
        session: &mut SessionFollower,
        (settings, marks): (&Settings, &[Mark]),
        now: Duration,
    ) {
        let mut history = lock(history);
        view.recent = history.newest(RECENT_TENTHS).copied().collect();
        self.refresh(&mut history, session, (settings, marks), now);
        view.lanes = Arc::clone(&self.lanes);
        view.log = Arc::clone(&self.log);
        let Some(asked) = settings.rewound else { return };
        let near = history.near(asked, NEAR);
        let at = near.unwrap_or(asked);
        let shown = near.and_then(|at| self.moments.get(at));
        let is_kept = shown.is_some();
        match shown {
            Some(moment) => moment.show(view),
            None => {
                let from = at.index.saturating_sub(REBUILT_FROM as i64 - 1);
                let span = if near.is_some() { from..at.index.saturating_add(1) } else { 0..0 };
                let tenths: Vec<Tenth> = history.range(at.grid, span).copied().collect();
                let channels =
                    Channels { recording: settings.recording, ..Channels::of(view.clock.channels) };
                moment::rebuild(tenths.iter(), &settings.band_edges, channels, view);
            }
        }
        drop(history);
        let (rebuilt, absent) = (near.is_some() && !is_kept, near.is_none());
        self.show_past_session(view, at, session, (settings, marks), now);
        if !is_kept {
            let before = view.verdicts.balance;
            view.verdicts.balance = Balance::verdict(&view.session, &settings.balance, before);
        }
        #[expect(clippy::cast_precision_loss, reason = "a tenth, for a difference of time")]
        let newest = self.lanes.newest as f64;
        view.past = Some(Past { at, rebuilt, absent, newest: Maybe::new(Some(newest)) });
    }

    fn show_past_session(
        &mut self,
        view: &mut View,
        at: Mark,
        session: &mut SessionFollower,
        (settings, marks): (&Settings, &[Mark]),
        now: Duration,
    ) {
        let fresh = self
            .past_session
            .as_ref()
            .filter(|(of, asked, _)| *of == at && now.saturating_sub(*asked) < STATISTICS_STEP);
        if fresh.is_none()
            && let Some(past) = session.at(at, settings, marks)
        {
            self.past_session = Some((at, now, Arc::new(past)));
        }
        if let Some((_, _, past)) = self.past_session.as_ref().filter(|(of, _, _)| *of == at) {
            view.session = Arc::clone(past);
        }
    }

    /// Updates lanes, statistics and log, each when it is due.
    fn refresh(
        &mut self,
        history: &mut History,
        session: &mut SessionFollower,
        (settings, marks): (&Settings, &[Mark]),
        now: Duration,
    ) {
        if !std::mem::replace(&mut self.lanes_current, true) {
            self.lanes = Arc::new(self.timeline.lanes(&self.window));
        }
        self.events.set_marks(marks, |grid, range| history.range(grid, range));
        self.log_current &= !self.events.settle();
        if !self.statistics_current && is_due(self.summed, STATISTICS_STEP, now) {
            self.summed = Some(now);
            self.statistics_current = true;
            let lines = statistics::of(history, &self.programme, session, (settings, marks));
            self.log_current &= lines == self.statistics;
            self.statistics = lines;
        }
        if !self.log_current && is_due(self.logged, LOG_STEP, now) {
            self.logged = Some(now);
            self.log_current = true;
            self.log = Arc::new(Log {
                serial: self.log.serial + 1,
                findings: self.events.findings(),
                joins: self.events.joins().to_vec(),
                marks: marks.to_vec(),
                passages: self.statistics.clone(),
                dropped: self.events.dropped(),
            });
        }
    }
}
