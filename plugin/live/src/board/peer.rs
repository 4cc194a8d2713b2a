//! The file of a layer as its readers see it. Nothing in it is trusted, not even in a file of this process: others can
//! write to it.

use super::digests;
use super::file::{self, Place};
use super::identity::{Head, Live};
use super::layout::{DIGESTS, HEAD_WORDS, MAGIC, VERSION, capacity, file_bytes};
use super::mapping::Mapping;
use super::own_mappings;
use super::ring::{self, Ring};
use super::seqlock::Miss;
use super::writer::slot;
use plumbline_measure::{Digest, Position};
use plumbline_programme::LayerId;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{Ordering, fence};
use std::time::Duration;

/// Pause between two attempts to take a file's lock, which show whether its layer is alive.
const ASK: Duration = Duration::from_millis(500);

/// Why a file is not read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fault {
    /// Its layer left or died, or its maker is not ready yet.
    Gone,
    /// It is not a file of this version, or it is damaged.
    Unreadable,
    /// It was being written at every attempt: try again in the next round.
    Torn,
}

impl From<Miss> for Fault {
    fn from(miss: Miss) -> Self {
        match miss {
            Miss::Torn => Self::Torn,
            Miss::Empty | Miss::Damaged => Self::Unreadable,
        }
    }
}

/// The result of one look at a file.
#[derive(Clone, Debug)]
pub(super) struct Look {
    pub(super) head: Arc<Head>,
    pub(super) live: Live,
    /// Number of the next digest.
    pub(super) next: u64,
    /// New digests, oldest first.
    pub(super) digests: Vec<Digest>,
    /// Digests that were replaced before they were read.
    pub(super) missed: u64,
}

/// An open file of a layer.
#[derive(Debug)]
pub(super) struct PeerFile {
    // Dropped in this order: Windows does not remove a mapped file.
    mapping: Arc<Mapping>,
    place: Place,
    /// Whether a layer of this process made it. Its lock is then no use: the handle that holds it would get it again.
    own: bool,
    asked: Duration,
    /// Its latest head, as words and decoded.
    known: Option<([u64; HEAD_WORDS], Arc<Head>)>,
}

impl PeerFile {
    /// Opens a file, or says why it cannot be read. Removes the file of a dead layer.
    pub(super) fn open(path: &Path, now: Duration) -> Result<Self, Fault> {
        let own = own_mappings::find(path);
        let is_own = own.is_some();
        let mapping = own.map_or_else(|| Self::map(path).map(Arc::new), Ok)?;
        let place = Place { path: path.to_owned(), goes: false };
        let mut peer = Self { mapping, place, own: is_own, asked: now, known: None };
        if !peer.lives() {
            return Err(Fault::Gone);
        }
        peer.head()?;
        Ok(peer)
    }

    /// Maps the file of another process.
    fn map(path: &Path) -> Result<Mapping, Fault> {
        let opened = file::open(path);
        let file = opened.map_err(|error| match error.kind() {
            std::io::ErrorKind::NotFound => Fault::Gone,
            _ => Fault::Unreadable,
        })?;
        let handle = file.try_clone();
        Mapping::new(file, false).map_err(|_| {
            // Too short: its maker may still be filling it, or is dead.
            let alive = handle.is_ok_and(|file| file::lives(path, &file, false));
            if alive { Fault::Unreadable } else { Fault::Gone }
        })
    }

    /// Id of the layer.
    pub(super) fn id(&self) -> Option<LayerId> {
        self.known.as_ref().map(|(_, head)| head.id)
    }

    fn has_magic(&self) -> bool {
        let magic = self.mapping.sheet().magic.load(Ordering::Relaxed);
        fence(Ordering::Acquire);
        magic == MAGIC
    }

    fn lives(&mut self) -> bool {
        // If the length changed, nothing in the file can be trusted, not even its magic.
        let ready = self.mapping.is_whole() && self.has_magic();
        self.asks(ready)
    }

    fn asks(&mut self, ready: bool) -> bool {
        let alive = if self.own {
            own_mappings::find(&self.place.path).is_some()
        } else {
            file::lives(&self.place.path, self.mapping.file(), ready)
        };
        self.place.goes |= !alive;
        alive
    }

    /// Reads the head.
    fn head(&mut self) -> Result<Arc<Head>, Fault> {
        if !self.mapping.is_whole() {
            return Err(Fault::Unreadable);
        }
        if !self.has_magic() {
            if self.known.is_some() {
                // Its owner cleared the magic and left. On Windows it could not remove the file while mapped here.
                self.asks(true);
            }
            return Err(Fault::Gone);
        }
        let sheet = self.mapping.sheet();
        if sheet.version.load(Ordering::Relaxed) != VERSION {
            return Err(Fault::Unreadable);
        }
        let (_, words) = sheet.head.read()?;
        if let Some((_, head)) = self.known.as_ref().filter(|(known, _)| *known == words) {
            return Ok(Arc::clone(head));
        }
        let head = Head::from_words(&words).ok_or(Fault::Unreadable)?;
        if self.mapping.bytes() != file_bytes(head.rate, usize::from(head.channels)) {
            return Err(Fault::Unreadable);
        }
        let head = Arc::new(head);
        self.known = Some((words, Arc::clone(&head)));
        Ok(head)
    }

    /// Reads the whole file. Digests are read from number `next` on; all of them if `None`.
    pub(super) fn look(&mut self, next: Option<u64>, zero: i64, now: Duration) -> Result<Look, Fault> {
        if now.saturating_sub(self.asked) >= ASK {
            self.asked = now;
            if !self.lives() {
                return Err(Fault::Gone);
            }
        }
        let head = self.head()?;
        let sheet = self.mapping.sheet();
        let (_, live) = sheet.live.read()?;
        let live = Live::from_words(&live).ok_or(Fault::Unreadable)?;

        let count = sheet.digest_count.load(Ordering::Relaxed);
        fence(Ordering::Acquire);
        let oldest = count.saturating_sub(DIGESTS as u64);
        let mut look = Look { head, live, next: count, digests: Vec::new(), missed: 0 };
        let first = match next {
            // A count below what was already read means a different or damaged file.
            Some(next) if next > count => return Err(Fault::Unreadable),
            Some(next) => next,
            None => oldest,
        };
        if first == count {
            return Ok(look);
        }
        // The latest digest proves the count: damage to it must not be reported as missed digests.
        match sheet.digests[slot(count - 1)].read()? {
            (number, _) if number >= count - 1 => {}
            _ => return Err(Fault::Unreadable),
        }
        look.missed = oldest.saturating_sub(first);
        for number in first.max(oldest)..count {
            let read = sheet.digests[slot(number)].read();
            let digest = match read {
                Ok((found, words)) if found == number => digests::from_words(&words, zero),
                _ => None,
            };
            match digest {
                Some(digest) => look.digests.push(digest),
                // Digests written before the layer was found do not count as missed.
                None => look.missed += u64::from(next.is_some()),
            }
        }
        Ok(look)
    }

    /// Reads audio from a position; see [`ring::read`].
    pub(super) fn read_audio(&self, at: Position, zero_secs: i64, to: &mut [Vec<f32>]) -> bool {
        let Some((_, head)) = &self.known else { return false };
        let (capacity, channels) = (capacity(head.rate), usize::from(head.channels));
        let at = ring::moved(at, head.rate.hz(), zero_secs);
        self.mapping.is_whole() && ring::read(&Ring::of(&self.mapping), capacity, channels, at, to)
    }
}
