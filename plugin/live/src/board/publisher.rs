//! A layer's place on the board: its file, or the reason why it has none.

use super::folder::Folder;
use super::identity::{Head, Live};
use super::layer_numbers::{Claim, Numbers, SETTLING};
use super::reader::BoardReader;
use super::writer::BoardWriter;
use crate::clock;
use crate::panic_guard::guarded;
use plumbline_measure::{Digest, Position, SampleRate};
use plumbline_programme::{Identity, LayerId};
use std::hash::{BuildHasher, RandomState};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

/// Pause before the next attempt to make a file.
const AGAIN_AFTER: Duration = Duration::from_secs(5);
/// How often the layer shows that it is alive, and checks that its file still exists.
const BEAT: Duration = Duration::from_millis(100);

/// A layer's id, and when it was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Born {
    pub(crate) id: LayerId,
    /// Nanoseconds of UNIX time.
    pub(crate) at: u64,
}

impl Born {
    /// A new id and the present time. The id is practically unique: a hash of the time and the process number, with the
    /// random keys of a hasher.
    pub(crate) fn now() -> Self {
        let time = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        let number = RandomState::new().hash_one((time.as_nanos(), std::process::id()));
        let at = u64::try_from(time.as_nanos()).unwrap_or(u64::MAX);
        Self { id: LayerId(number.max(1)), at }
    }
}

/// Whether audio is running, whether a trial alters it, and how often the trial has changed.
pub(crate) type State = (bool, bool, u32);

/// A layer's place on the board.
#[derive(Debug)]
pub(crate) struct Publisher {
    folder: Result<Folder, String>,
    born: Born,
    letter: char,
    /// Number in the session; 0 before it has one.
    number: u8,
    /// Time at which it got that number, or began to wait for one.
    numbered: Option<Duration>,
    identity: Identity,
    format: Option<(SampleRate, u8)>,
    own: Option<BoardWriter>,
    generation: u32,
    /// Why there is no file.
    alone: Option<String>,
    tried: Option<Duration>,
    beaten: Option<Duration>,
    shown: Live,
    /// Whether the length of the file was checked in this round.
    checked: bool,
}

impl Publisher {
    pub(crate) fn new(folder: Result<Folder, String>, born: Born) -> Self {
        let alone = folder.as_ref().err().cloned();
        Self {
            folder,
            born,
            letter: *plumbline_programme::SESSIONS.start(),
            number: 0,
            numbered: None,
            identity: Identity::default(),
            format: None,
            own: None,
            generation: 0,
            alone,
            tried: None,
            beaten: None,
            shown: Live::default(),
            checked: false,
        }
    }

    pub(crate) fn id(&self) -> LayerId {
        self.born.id
    }

    /// Why the layer has no file; `None` if it has one.
    pub(crate) fn alone(&self) -> Option<&str> {
        self.alone.as_deref()
    }

    /// Sets the identity and the session letter.
    pub(crate) fn introduce(&mut self, identity: &Identity, letter: char) {
        self.identity.clone_from(identity);
        if self.letter != letter {
            // Each session has its own numbers.
            (self.number, self.numbered) = (0, None);
        }
        self.letter = letter;
        let number = self.number;
        self.burst(|own| {
            own.set_head(|head| {
                head.identity.clone_from(identity);
                head.letter = letter;
                head.number = number;
            });
        });
    }

    /// Whether the layer needs the board read for its number: it has none, or may have to change it.
    pub(crate) fn wants_number(&self, now: Duration) -> bool {
        let settled = self.numbered.is_some_and(|since| now.saturating_sub(since) >= SETTLING);
        self.own.is_some() && (self.number == 0 || !settled)
    }

    /// Takes a number in the session, if the layer has none yet or an earlier layer has the same.
    pub(crate) fn take_number(&mut self, board: &BoardReader, numbers: &mut Numbers, now: Duration) {
        if !self.wants_number(now) {
            return;
        }
        let since = *self.numbered.get_or_insert(now);
        let own = Claim { id: self.born.id, joined: self.born.at, number: self.number };
        let Some(number) = numbers.next(board.claims(self.letter), own, now.saturating_sub(since)) else {
            return;
        };
        (self.number, self.numbered) = (number, Some(now));
        self.burst(|own| own.set_head(|head| head.number = number));
    }

    /// Makes a new file for a new format. The layer keeps its number, and its latest digests are copied.
    pub(crate) fn open(&mut self, rate: SampleRate, channels: u8, now: Duration) {
        if self.format != Some((rate, channels)) {
            self.format = Some((rate, channels));
            self.make(now);
        }
    }

    /// Begins a round, before anything is written: replaces a lost file, and shows that the layer is alive.
    pub(crate) fn round(&mut self, state: State, at: Position, now: Duration) {
        self.checked = false;
        let due = |since: Option<Duration>, pause| since.is_none_or(|t| now.saturating_sub(t) >= pause);
        if self.own.is_none() && self.format.is_some() && due(self.tried, AGAIN_AFTER) {
            self.make(now);
        }
        let beat = due(self.beaten, BEAT);
        if beat && self.own.is_some() {
            self.beaten = Some(now);
            if self.own.as_ref().is_some_and(|own| !own.is_there() || !own.is_whole()) {
                // The file was removed or truncated: make it again, at most once a beat.
                self.make(now);
            }
        }
        self.say(state, at, beat);
    }

    /// Shows the state again once audio has come: readers of its tenths must see that it is running, and wait for the
    /// next one.
    pub(crate) fn show(&mut self, state: State, at: Position) {
        self.say(state, at, false);
    }

    fn say(&mut self, (running, altered, alterations): State, at: Position, beat: bool) {
        let live = Live { beat: 0, running, altered, alterations, grid: at.grid, position: at.sample };
        if self.own.is_some() && (beat || live != self.shown) {
            self.shown = live;
            self.burst(|own| own.live(live));
        }
    }

    pub(crate) fn digest(&mut self, digest: &Digest) {
        self.burst(|own| own.digest(digest));
    }

    pub(crate) fn audio(&mut self, at: Position, channels: &[&[f32]]) {
        self.burst(|own| own.audio(at, channels));
    }

    /// Writes if there is a file and it has its full length; the length is checked once a round.
    fn burst(&mut self, write: impl FnOnce(&mut BoardWriter)) {
        let Some(own) = &mut self.own else { return };
        if !self.checked && !own.is_whole() {
            // The next beat makes a new file.
            return;
        }
        self.checked = true;
        if let Err(words) = guarded(|| write(own)) {
            self.own = None;
            self.folder = Err(format!("internal error ({words}). Insert this plug-in again"));
            self.alone = self.folder.as_ref().err().cloned();
        }
    }

    fn make(&mut self, now: Duration) {
        let (Ok(folder), Some((rate, channels))) = (&self.folder, self.format) else { return };
        self.tried = Some(now);
        self.generation += 1;
        let head = Head {
            id: self.born.id,
            joined: self.born.at,
            generation: self.generation,
            rate,
            channels,
            letter: self.letter,
            number: self.number,
            identity: self.identity.clone(),
        };
        // The former file is removed once the new one exists, so that the layer does not seem to leave.
        match guarded(|| BoardWriter::make(folder, head, clock::zero_secs(), self.own.as_ref()))
            .and_then(|made| made)
        {
            Ok(own) => {
                self.own = Some(own);
                self.alone = None;
            }
            Err(words) => {
                self.own = None;
                self.alone = Some(words);
            }
        }
        self.shown = Live::default();
        self.beaten = None;
        self.checked = false;
    }
}
