//! What a layer keeps of time beside its tenths: lanes, findings, joins, and moments as they were shown.

mod moments;
mod passages;
mod telling;

use super::Seat;
use crate::desk::lock;
use crate::history::History;
use crate::measure::Measure;
pub use moments::MOST_MOMENTS;
use moments::Moments;
use passages::Passages;
use plumbline_measure::reading::Maybe;
use plumbline_measure::{BandEdges, SampleRate, Tenth};
use plumbline_programme::delivery::Target;
use plumbline_programme::findings::Finder;
use plumbline_programme::moment::{self, Moment, REBUILT_FROM};
use plumbline_programme::{
    Balance, Join, Joiner, Lanes, Lens, Log, Mark, Past, Programme, Rules, Session, Timeline, View,
};
use std::sync::Arc;
use std::time::Duration;
use telling::Telling;

/// Shortest time between two sums over all passages.
const PASSAGES_STEP: Duration = Duration::from_secs(1);
/// Shortest time between two logs.
const LOG_STEP: Duration = Duration::from_millis(100);
/// Tenths on either side of a mark that are measured.
const SIDE: i64 = 20;
/// How far before a moment asked for a tenth may lie that is shown in its place: a gap of the audio.
const NEAR: i64 = 5;

/// What a layer keeps of time.
pub(super) struct Annals {
    timeline: Timeline,
    finder: Finder,
    joiner: Joiner,
    /// The marks that the joiner knows.
    marks: Vec<Mark>,
    moments: Moments,
    passages: Passages,
    rules: Rules,
    lens: Lens,
    rewound: Option<Mark>,
    /// Which tenths what the layers did together was told of.
    telling: Telling,
    lanes: Arc<Lanes>,
    log: Arc<Log>,
    lanes_stale: bool,
    log_stale: bool,
    passages_stale: bool,
    logged: Option<Duration>,
    summed: Option<Duration>,
    /// The session as of the moment shown.
    past_session: Option<(Mark, Duration, Arc<Session>)>,
}

impl Default for Annals {
    fn default() -> Self {
        let (rules, target) = (Rules::default(), Target::default());
        Self {
            timeline: Timeline::default(),
            finder: Finder::new(rules, &target, BandEdges::default()),
            joiner: Joiner::new(),
            marks: Vec::new(),
            moments: Moments::default(),
            passages: Passages::default(),
            rules,
            lens: Lens::default(),
            rewound: None,
            telling: Telling::default(),
            lanes: Arc::default(),
            log: Arc::default(),
            lanes_stale: true,
            log_stale: true,
            passages_stale: true,
            logged: None,
            summed: None,
            past_session: None,
        }
    }
}

/// What the user wants of the annals.
pub(super) struct Wishes {
    pub(super) rules: Rules,
    pub(super) lens: Lens,
    pub(super) rewound: Option<Mark>,
    pub(super) seen: Vec<(u64, bool)>,
}

impl Annals {
    /// Takes what the user wants.
    pub(super) fn hear(&mut self, wishes: Wishes, target: &Target, edges: BandEdges) {
        if wishes.rules != self.rules {
            self.rules = wishes.rules;
            self.finder.set_rules(wishes.rules);
        }
        self.finder.set_target(target);
        self.finder.set_edges(edges);
        self.lanes_stale |= wishes.lens != self.lens;
        self.lens = wishes.lens;
        self.rewound = wishes.rewound;
        for (finding, seen) in wishes.seen {
            self.finder.see(finding, seen);
        }
    }

    /// Takes a tenth that the history kept.
    pub(super) fn keep(&mut self, tenth: &Tenth) {
        self.timeline.push(tenth);
        self.finder.push(tenth);
        self.joiner.push(tenth);
        (self.lanes_stale, self.passages_stale) = (true, true);
    }

    /// A mark was set or taken away.
    pub(super) fn marks_changed(&mut self) {
        (self.log_stale, self.passages_stale) = (true, true);
        self.summed = None;
    }

    /// The user's reset. The lanes and the moments stay, as the history does.
    pub(super) fn clear(&mut self) {
        self.finder.clear();
        self.joiner.clear();
        self.marks_changed();
    }

    /// Keeps a moment as it is shown.
    pub(super) fn remember(&mut self, at: Mark, view: &View) {
        self.moments.keep(at, Moment::of(view));
    }

    /// Whether tenths wait to be told of.
    pub(super) fn is_behind(&self) -> bool {
        self.telling.behind
    }

    /// Whether there is anything that the newest view does not show.
    pub(super) fn has_news(&self) -> bool {
        self.lanes_stale || self.log_stale || self.passages_stale
    }

    /// Whether it is time to show something that the newest view does not.
    pub(super) fn is_due(&self, now: Duration) -> bool {
        let late =
            |last: Option<Duration>, step: Duration| last.is_none_or(|t| now.saturating_sub(t) >= step);
        self.lanes_stale
            || (self.log_stale && late(self.logged, LOG_STEP))
            || (self.passages_stale && late(self.summed, PASSAGES_STEP))
    }
}

/// What belongs to a view of time.
pub(super) struct Ground<'a> {
    pub(super) history: &'a mut History,
    pub(super) programme: &'a Programme,
    pub(super) marks: &'a [Mark],
    pub(super) edges: &'a BandEdges,
    pub(super) channels: u8,
    pub(super) now: Duration,
}

impl<M: Measure> Seat<M> {
    /// Tells the annals what the layers did together in the tenths that all have reported by now, or in the first of
    /// them.
    pub(super) fn chronicle(&mut self, now: Duration) {
        let annals = &mut self.annals;
        annals.telling.behind = false;
        let Some(account) = self.company.account() else { return };
        let Some(reported) = account.reported(self.company.stand.id()) else { return };
        let Some((grid, span)) = annals.telling.next(account.number(), reported, now) else { return };
        let target = self.company.target();
        let name = |id| account.name(id);
        for index in span {
            let Some(together) = account.together(grid, index) else { continue };
            annals.timeline.set_energies(grid, index, together.energies);
            annals.finder.among(&together, &target, &name);
            annals.joiner.set_shares(grid, index, together.energies);
            annals.lanes_stale = true;
        }
        if let Some(loss) = &self.company.session.loss {
            annals.finder.blame(loss, &name);
        }
    }

    /// Keeps the moment at which a tenth has just ended, if one has, and somebody looks.
    pub(super) fn remember(&mut self, first: i64, last: i64) {
        let Some(rate) = self.lane.map(|lane| lane.rate).filter(|_| self.watched) else { return };
        let (ended, grid) = (rate.tenth_of(first), self.clock.position.grid);
        if rate.tenth_of(last.saturating_add(1)) == ended {
            return;
        }
        let view = self.figures();
        self.annals.remember(Mark { grid, index: ended }, &view);
    }

    /// Writes lanes and log into a view, and turns it back to the moment asked for.
    pub(super) fn show_time(&mut self, view: &mut View, now: Duration) {
        let desk = Arc::clone(&self.desk);
        let mut history = lock(&desk.history);
        let Self { annals, programme, company, edges, clock, .. } = self;
        let marks = company.marks.clone();
        let mut ground =
            Ground { history: &mut history, programme, marks: &marks, edges, channels: clock.channels, now };
        annals.refresh(&mut ground, company.account_mut());
        view.lanes = Arc::clone(&annals.lanes);
        view.log = Arc::clone(&annals.log);
        let Some(at) = annals.rewound else { return };
        let near = ground.history.near(at, NEAR);
        let at = near.unwrap_or(at);
        let shown = near.and_then(|at| annals.moments.get(at));
        match shown {
            Some(moment) => moment.show(view),
            None => {
                let from = at.index.saturating_sub(REBUILT_FROM as i64 - 1);
                let span = if near.is_some() { from..at.index.saturating_add(1) } else { 0..0 };
                let tenths: Vec<Tenth> = ground.history.range(at.grid, span).copied().collect();
                moment::rebuild(tenths.iter(), ground.edges, ground.channels, view);
            }
        }
        let fresh = annals
            .past_session
            .as_ref()
            .filter(|(of, asked, _)| *of == at && now.saturating_sub(*asked) < PASSAGES_STEP);
        let session = match fresh {
            Some((_, _, session)) => Some(Arc::clone(session)),
            None => company.session_at(at, edges).map(Arc::new),
        };
        if let Some(session) = session {
            if !annals.past_session.as_ref().is_some_and(|(of, _, s)| *of == at && Arc::ptr_eq(s, &session)) {
                annals.past_session = Some((at, now, Arc::clone(&session)));
            }
            view.session = session;
        }
        if shown.is_none() {
            let before = view.verdicts.balance;
            view.verdicts.balance = Balance::verdict(&view.session, &company.target(), before);
        }
        #[expect(clippy::cast_precision_loss, reason = "a tenth, for a difference of time")]
        let newest = annals.lanes.newest as f64;
        let (rebuilt, absent) = (near.is_some() && shown.is_none(), near.is_none());
        view.past = Some(Past { at, rebuilt, absent, newest: Maybe::new(Some(newest)) });
    }
}

impl Annals {
    /// Tells the joiner of marks that came and went; those that lie far back are measured from the history.
    fn take_marks(&mut self, ground: &Ground<'_>) {
        if self.marks == ground.marks {
            return;
        }
        for mark in self.marks.iter().filter(|mark| ground.marks.binary_search(mark).is_err()) {
            self.joiner.unmark(*mark);
        }
        for mark in ground.marks.iter().filter(|mark| self.marks.binary_search(mark).is_err()) {
            self.joiner.mark(*mark);
            let here = |join: &&Join| (join.grid, join.at) == (mark.grid, mark.index);
            let measured = |join: &Join| join.before.tenths + join.after.tenths > 0;
            if !self.joiner.joins().iter().find(here).is_some_and(measured) {
                let around = mark.index.saturating_sub(SIDE)..mark.index.saturating_add(SIDE);
                self.joiner.measure_mark(*mark, ground.history.range(mark.grid, around));
            }
        }
        self.marks = ground.marks.to_vec();
    }

    /// Tells the finder of joins that came, went or were measured anew.
    fn take_joins(&mut self) {
        if self.joiner.take_changed() {
            self.log_stale = true;
            self.finder.keep_joins(self.joiner.joins());
            self.joiner.joins().iter().for_each(|join| self.finder.join(join));
        }
    }

    fn refresh(&mut self, ground: &mut Ground<'_>, account: Option<&mut super::account::Account>) {
        if std::mem::take(&mut self.lanes_stale) {
            self.lanes = Arc::new(self.timeline.lanes(&self.lens));
        }
        self.take_marks(ground);
        self.take_joins();
        self.log_stale |= self.finder.take_changed();
        let now = ground.now;
        let late =
            |last: Option<Duration>, step: Duration| last.is_none_or(|t| now.saturating_sub(t) >= step);
        if self.passages_stale && late(self.summed, PASSAGES_STEP) {
            self.summed = Some(ground.now);
            self.passages_stale = false;
            self.log_stale |= self.passages.sum(ground, account);
        }
        if self.log_stale && late(self.logged, LOG_STEP) {
            self.logged = Some(ground.now);
            self.log_stale = false;
            self.log = Arc::new(Log {
                serial: self.log.serial + 1,
                findings: self.finder.findings(),
                joins: self.joiner.joins().to_vec(),
                marks: ground.marks.to_vec(),
                passages: self.passages.lines().to_vec(),
                dropped: self.finder.dropped() + self.joiner.dropped(),
            });
        }
    }

    /// The rate changed: positions in samples of what is to come follow it, tenths do not.
    pub(super) fn open(&mut self, rate: SampleRate) {
        self.joiner.set_rate(rate);
    }
}
