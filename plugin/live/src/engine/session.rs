//! The session of a layer, followed on the board.

mod balance_feed;
mod look;
mod mono_loss;
mod presence;

use crate::board::BoardReader;
use crate::fault::{self, Stage};
use crate::panic_guard::guarded;
use balance_feed::BalanceFeed;
pub(super) use look::Look;
use mono_loss::Loss;
use plumbline_programme::session::{BalanceVerdict, SessionNote};
use plumbline_programme::{Balance, LayerId, Mark, Question, Settings};
use std::sync::Arc;

use super::intake::ResetAt;

/// The session as a layer knows it.
#[derive(Debug, Default)]
pub(super) struct SessionFollower {
    /// The latest answer.
    pub(super) shown: Arc<plumbline_programme::Session>,
    pub(super) verdict: BalanceVerdict,
    letter: char,
    own: LayerId,
    feed: Option<BalanceFeed>,
    /// Feeds begun so far.
    feeds: u64,
    loss: Loss,
    /// A reset that the feed has not taken yet.
    reset: Option<ResetAt>,
    notes: Vec<SessionNote>,
    /// Why layers are no longer compared; `None` while they are.
    broken: Option<String>,
}

impl SessionFollower {
    /// Takes the settings.
    pub(super) fn set(&mut self, settings: &Settings) {
        if settings.session != self.letter {
            self.letter = settings.session;
            self.feed = None;
            self.shown = Arc::default();
        }
        if let Some(feed) = &mut self.feed {
            feed.news = true;
        }
    }

    /// Takes the user's reset, which the feed carries out with the next follow.
    pub(super) fn clear(&mut self, at: ResetAt) {
        self.reset = Some(at);
        self.verdict = BalanceVerdict::default();
    }

    /// The balance of all layers, while it is kept.
    pub(super) fn feed(&self) -> Option<&BalanceFeed> {
        self.feed.as_ref()
    }

    pub(super) fn feed_mut(&mut self) -> Option<&mut BalanceFeed> {
        self.feed.as_mut()
    }

    /// Whether anything is new since the latest answer.
    pub(super) fn has_news(&self) -> bool {
        self.feed.as_ref().is_some_and(|feed| feed.news)
    }

    /// The session at a past moment.
    pub(super) fn at(
        &mut self,
        at: Mark,
        settings: &Settings,
        marks: &[Mark],
    ) -> Option<plumbline_programme::Session> {
        let question = question(self.own, settings, marks, Some(at));
        let session = self.feed.as_mut()?.ask_past(question);
        Some(plumbline_programme::Session { letter: self.letter, notes: self.notes.clone(), ..session })
    }

    /// Takes the news of other layers, and answers if the layer is watched. Returns whether there is a new answer.
    pub(super) fn follow(&mut self, board: &BoardReader, look: &Look<'_>) -> bool {
        self.own = look.own;
        let followed = guarded(|| {
            fault::point(Stage::Session, look.own);
            self.follow_all(board, look)
        });
        followed.unwrap_or_else(|words| {
            self.fail(&words);
            false
        })
    }

    /// Drops the balance, which may be inconsistent, until the user's reset: an immediate restart would meet the same
    /// fault.
    pub(super) fn fail(&mut self, words: &str) {
        self.feed = None;
        self.broken = Some(format!("comparing the layers failed ({words}). Reset starts it again"));
    }

    fn follow_all(&mut self, board: &BoardReader, look: &Look<'_>) -> bool {
        let watched = look.settings.watched;
        if !(watched || (look.listens() && board.needs_account(self.letter, look.own))) {
            self.feed = None;
            self.reset = None;
            return false;
        }
        if self.reset.is_some() {
            self.broken = None;
        }
        let notes = self.notes_of(board, look);
        if self.broken.is_some() {
            let changed = self.shown.notes != notes;
            if changed {
                let alone = plumbline_programme::Session { letter: self.letter, notes, ..Default::default() };
                self.shown = Arc::new(alone);
            }
            return changed;
        }
        let feed = self.feed.get_or_insert_with(|| {
            self.feeds += 1;
            BalanceFeed::new(self.feeds)
        });
        if let Some(at) = self.reset.take() {
            feed.clear(at, look.now);
        }
        feed.take(board, self.letter, look.now);
        if let Some(mix) = if look.is_mix() { Some(look.own) } else { self.shown.mix } {
            feed.look_in_mix(board, self.letter, mix, watched, look.now);
        }
        feed.news |= notes != self.notes;
        self.notes = notes;
        if !watched {
            return false;
        }
        let Some(session) = feed.ask(look.now, question(look.own, look.settings, look.marks, None)) else {
            return false;
        };
        let loss = self.loss.ask(&session, board, look);
        let notes = self.notes.clone();
        let session = plumbline_programme::Session { letter: self.letter, notes, loss, ..session };
        self.verdict = Balance::verdict(&session, &look.settings.balance, self.verdict);
        self.shown = Arc::new(session);
        true
    }

    fn notes_of(&self, board: &BoardReader, look: &Look<'_>) -> Vec<SessionNote> {
        let alone = self.broken.as_deref().or(look.alone).or(board.missing());
        let alone = alone.map(|why| SessionNote::Alone(why.to_owned()));
        let beyond = board.beyond(self.letter, look.own);
        let beyond = beyond.map(|(beyond, own)| SessionNote::TooMany { beyond, own });
        let files = board.unreadable(look.now);
        let unreadable = (files > 0).then_some(SessionNote::Unreadable { files });
        [alone, beyond, unreadable].into_iter().flatten().collect()
    }
}

/// A question without peers, which the feed fills in.
fn question<'a>(own: LayerId, settings: &'a Settings, marks: &'a [Mark], at: Option<Mark>) -> Question<'a> {
    Question { peers: &[], own, marks, edges: &settings.band_edges, pair: settings.match_pair, at }
}
