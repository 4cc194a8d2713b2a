//! The layer among others: its place on the board, its account of the session, and the answers.

use super::Seat;
use super::account::Account;
use super::loss::Loss;
use crate::board::{Board, Born, Folder, Numbers, Stand};
use crate::desk::Orders;
use crate::guard::guarded;
use crate::link::Lane;
use crate::marks;
use crate::measure::Measure;
use plumbline_measure::{BandEdges, Grid};
use plumbline_programme::session::SessionNote;
use plumbline_programme::{
    Balance, BalanceTarget, Clock, Identity, LayerId, Mark, Mic, Question, Role, Session,
};
use std::sync::Arc;
use std::time::Duration;

/// What a layer knows of and tells to others.
pub(super) struct Company {
    pub(super) stand: Stand,
    pub(super) session: Arc<Session>,
    identity: Identity,
    pub(super) letter: char,
    target: BalanceTarget,
    pair: Option<(LayerId, LayerId)>,
    /// The microphones that are compared in any case.
    pub(super) mics: Option<[Mic; 2]>,
    /// Ascending, song before clock.
    pub(super) marks: Vec<Mark>,
    marks_changed: bool,
    account: Option<Account>,
    /// Accounts opened so far.
    accounts: u64,
    loss: Loss,
    /// A reset that the account has not been told of yet: its first tenth, where that is known.
    reset: Option<Option<(Grid, i64)>>,
    notes: Vec<SessionNote>,
    /// Why nothing is counted any more.
    broken: Option<String>,
}

impl Company {
    pub(super) fn new(folder: Result<Folder, String>, born: Born) -> Self {
        Self {
            stand: Stand::new(folder, born),
            session: Arc::default(),
            identity: Identity::default(),
            letter: 'A',
            target: BalanceTarget::default(),
            pair: None,
            mics: None,
            marks: Vec::new(),
            marks_changed: false,
            account: None,
            accounts: 0,
            loss: Loss::default(),
            reset: None,
            notes: Vec::new(),
            broken: None,
        }
    }

    /// Takes the orders that concern other layers.
    pub(super) fn hear(&mut self, orders: &mut Orders, clock: Clock, lane: Option<Lane>) {
        if orders.letter != self.letter {
            self.letter = orders.letter;
            self.account = None;
            self.session = Arc::default();
        }
        self.identity.clone_from(&orders.identity);
        self.target = orders.balance_target;
        self.pair = orders.pair;
        self.mics = orders.mics;
        self.stand.introduce(&self.identity, self.letter);
        self.marks_changed |= orders.mark || !orders.marks.is_empty();
        std::mem::take(&mut orders.marks).apply(&mut self.marks);
        if let (true, Some(lane)) = (std::mem::take(&mut orders.mark), lane) {
            let at = clock.position;
            self.mark(Mark { grid: at.grid, index: lane.rate.tenth_of(at.sample) });
        }
        if let Some(account) = &mut self.account {
            account.news = true;
        }
    }

    /// The account of the layers, while one is kept.
    pub(super) fn account(&self) -> Option<&Account> {
        self.account.as_ref()
    }

    pub(super) fn account_mut(&mut self) -> Option<&mut Account> {
        self.account.as_mut()
    }

    /// The shares that are aimed at.
    pub(super) fn target(&self) -> BalanceTarget {
        self.target
    }

    /// The session as of a moment that has passed.
    pub(super) fn session_at(&mut self, at: Mark, edges: &BandEdges) -> Option<Session> {
        let question = Question {
            peers: &[],
            own: self.stand.id(),
            marks: &self.marks,
            edges,
            pair: self.pair,
            at: Some(at),
        };
        let session = self.account.as_mut()?.ask_past(question);
        Some(Session { letter: self.letter, notes: self.notes.clone(), ..session })
    }

    /// Whether marks were set or taken away since the last call.
    pub(super) fn take_marks_changed(&mut self) -> bool {
        std::mem::take(&mut self.marks_changed)
    }

    pub(super) fn mark(&mut self, mark: Mark) {
        self.marks_changed = true;
        marks::put(&mut self.marks, mark);
    }

    /// The user's reset, whose first tenth is `at`.
    pub(super) fn forget_before(&mut self, at: Option<(Grid, i64)>) {
        self.reset = Some(at);
    }

    /// Whether there is anything that the newest session does not hold.
    pub(super) fn has_news(&self) -> bool {
        self.account.as_ref().is_some_and(|a| a.news)
    }

    fn notes(&self, board: &Board, now: Duration) -> Vec<SessionNote> {
        let alone = self.broken.as_deref().or(self.stand.alone()).or(board.missing());
        let alone = alone.map(|why| SessionNote::Alone(why.to_owned()));
        let beyond = board.beyond(self.letter, self.stand.id());
        let beyond = beyond.map(|(beyond, own)| SessionNote::TooMany { beyond, own });
        let files = board.unreadable(now);
        let unreadable = (files > 0).then_some(SessionNote::Unreadable { files });
        [alone, beyond, unreadable].into_iter().flatten().collect()
    }
}

impl<M: Measure> Seat<M> {
    /// Whether the layer wants to know of others: it may hold the mix, or somebody looks at it.
    pub(crate) fn listens(&self) -> bool {
        self.watched || self.company.identity.role == Role::Mix
    }

    /// Whether the layer needs a number in its session, or might have to take another.
    pub(crate) fn wants_number(&self, now: Duration) -> bool {
        self.company.stand.wants_number(now)
    }

    /// Takes a number in its session, if it needs one. Never panics; one that fails has no number.
    pub(crate) fn take_number(&mut self, now: Duration, board: &Board, numbers: &mut Numbers) {
        let stand = &mut self.company.stand;
        let _ = guarded(|| stand.take_number(board, numbers, now));
    }

    /// Takes what others said, and answers if somebody looks.
    pub(super) fn meet(&mut self, now: Duration, board: &Board) {
        if let Err(words) = guarded(|| self.meet_all(now, board)) {
            // What was counted may be half done; starting over by itself would meet the same fault again.
            self.company.account = None;
            self.company.broken =
                Some(format!("the account of the layers failed inside ({words}). Reset starts it again"));
        }
    }

    fn meet_all(&mut self, now: Duration, board: &Board) {
        let keeps = self.watched
            || (self.listens() && board.needs_account(self.company.letter, self.company.stand.id()));
        if !keeps {
            self.company.account = None;
            self.company.reset = None;
            return;
        }
        let company = &mut self.company;
        if company.reset.is_some() {
            company.broken = None;
        }
        let notes = company.notes(board, now);
        if company.broken.is_some() {
            if company.session.notes != notes {
                company.session = Arc::new(Session { letter: company.letter, notes, ..Session::default() });
                self.stale = true;
            }
            return;
        }
        let account = company.account.get_or_insert_with(|| {
            company.accounts += 1;
            Account::new(company.accounts)
        });
        if let Some(at) = company.reset.take() {
            account.clear(at, now);
        }
        account.feed(board, company.letter, now);
        let mix =
            if company.identity.role == Role::Mix { Some(company.stand.id()) } else { company.session.mix };
        if let Some(mix) = mix {
            account.look_in_mix(board, company.letter, mix, self.watched, now);
        }
        account.news |= notes != company.notes;
        company.notes = notes;
        if !self.watched {
            return;
        }
        if account.news {
            self.desk.unsettle();
        }
        let own = company.stand.id();
        let question = Question {
            peers: &[],
            own,
            marks: &company.marks,
            edges: &self.edges,
            pair: company.pair,
            at: None,
        };
        let Some(session) = account.ask(now, question) else { return };
        let notes = company.notes.clone();
        let mono = &self.verdicts.mono;
        let is_mix = company.identity.role == Role::Mix;
        let loss = company.loss.ask(is_mix.then_some(mono), own, &session, board, &self.edges, now);
        let session = Session { letter: company.letter, notes, loss, ..session };
        self.verdicts.balance = Balance::verdict(&session, &company.target, self.verdicts.balance);
        company.session = Arc::new(session);
        self.stale = true;
    }
}
