//! The writer of the file of one layer of this process.

use super::digests::{self};
use super::file::{self, ENDING, Place};
use super::folder::Folder;
use super::identity::{Head, Live};
use super::layout::{DIGESTS, MAGIC, VERSION, capacity, file_bytes};
use super::mapping::Mapping;
use super::own_mappings::Offer;
use super::ring::{self, Ring, Writer};
use crate::owner_process::OwnerProcess;
use plumbline_measure::{Digest, Position};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Number of files made by this process so far.
static MADE: AtomicU64 = AtomicU64::new(0);

/// Number of files made by this process so far: a change tells the reader to scan the folder.
pub(super) fn made() -> u64 {
    MADE.load(Ordering::Relaxed)
}

/// A layer's own file. Dropping this removes it from the board.
#[derive(Debug)]
pub(super) struct BoardWriter {
    // Dropped in this order: Windows does not remove a mapped file.
    mapping: Arc<Mapping>,
    /// Kept for its drop; `None` in tests that read the file as another process does.
    _offer: Option<Offer>,
    place: Place,
    owner: OwnerProcess,
    pub(super) head: Head,
    heads: u64,
    lives: u64,
    digests: u64,
    audio: Writer,
    zero_secs: i64,
}

impl BoardWriter {
    /// Makes the file. `zero_secs` is the process's zero on the clock by which processes agree, in seconds. Digest numbers
    /// continue from `before`, the layer's former file, and its latest digests are copied.
    ///
    /// # Errors
    /// A text that says what failed, and where.
    pub(super) fn make(
        folder: &Folder,
        head: Head,
        zero_secs: i64,
        before: Option<&Self>,
    ) -> Result<Self, String> {
        let name = format!("{:016x}-{}{ENDING}", head.id.0, head.generation);
        let bytes = file_bytes(head.rate, usize::from(head.channels));
        folder.secure()?;
        #[cfg(target_os = "linux")]
        super::file_system::require_room(folder.path(), bytes)?;
        let made = file::make(folder, &name, bytes).and_then(|file| Mapping::new(file, true));
        let path = folder.path().join(&name);
        let mapping = made.map_err(|error| {
            let _ = std::fs::remove_file(&path);
            format!("no file of {bytes} bytes could be made in {} ({error})", folder.path().display())
        })?;
        let mapping = Arc::new(mapping);
        let offer = Some(Offer::new(&path, &mapping));
        let place = Place { path, goes: true };
        let digests = before.map_or(0, |b| b.digests);
        let own = Self {
            _offer: offer,
            mapping,
            place,
            owner: OwnerProcess::current(),
            head,
            heads: 0,
            lives: 0,
            digests,
            audio: Writer::default(),
            zero_secs,
        };
        Ok(own.begin(before))
    }

    fn begin(mut self, before: Option<&Self>) -> Self {
        let sheet = self.mapping.sheet();
        if let Some(before) = before.filter(|b| b.is_whole()) {
            for number in self.digests.saturating_sub(DIGESTS as u64)..self.digests {
                let place = slot(number);
                if let Ok((found, words)) = before.mapping.sheet().digests[place].read() {
                    sheet.digests[place].write(found, &words);
                }
            }
        }
        sheet.digest_count.store(self.digests, Ordering::Release);
        sheet.version.store(VERSION, Ordering::Relaxed);
        self.write_head();
        self.live(Live::default());
        self.mapping.sheet().magic.store(MAGIC, Ordering::Release);
        MADE.fetch_add(1, Ordering::Relaxed);
        self
    }

    /// Whether the file still has its full length. Call it before each burst of writes.
    pub(super) fn is_whole(&self) -> bool {
        self.mapping.is_whole()
    }

    /// Whether the file still exists in the folder.
    pub(super) fn is_there(&self) -> bool {
        self.place.path.exists()
    }

    /// Changes the head, and writes it if it differs.
    pub(super) fn set_head(&mut self, change: impl FnOnce(&mut Head)) {
        let mut head = self.head.clone();
        change(&mut head);
        if head != self.head {
            self.head = head;
            self.write_head();
        }
    }

    /// Lets the readers of this process open the file as that of another process.
    #[cfg(test)]
    pub(super) fn estrange(&mut self) {
        self._offer = None;
    }

    /// Releases the lock: Windows does not let a test read the whole file while it is held. There the standard library
    /// releases twice, and the second time Wine 8 reports a different error from Windows. So the result is ignored; a
    /// read shows whether it worked.
    #[cfg(test)]
    pub(super) fn unlock(&self) {
        let _ = self.mapping.file().unlock();
    }

    fn write_head(&mut self) {
        self.mapping.sheet().head.write(self.heads, &self.head.to_words(std::process::id()));
        self.heads += 1;
    }

    /// Writes the present state; `live.position` is on the process's clock.
    pub(super) fn live(&mut self, live: Live) {
        let at = Position { grid: live.grid, sample: live.position };
        let position = ring::moved(at, self.head.rate.hz(), self.zero_secs).sample;
        self.lives += 1;
        let live = Live { beat: self.lives, position, ..live };
        self.mapping.sheet().live.write(self.lives, &live.to_words());
    }

    pub(super) fn digest(&mut self, digest: &Digest) {
        let sheet = self.mapping.sheet();
        let words = digests::to_words(digest, self.zero_secs.saturating_mul(10));
        sheet.digests[slot(self.digests)].write(self.digests, &words);
        self.digests += 1;
        sheet.digest_count.store(self.digests, Ordering::Release);
    }

    pub(super) fn audio(&mut self, at: Position, channels: &[&[f32]]) {
        let at = ring::moved(at, self.head.rate.hz(), self.zero_secs);
        self.audio.write(&Ring::of(&self.mapping), capacity(self.head.rate), at, channels);
    }
}

/// Index of a digest in the ring.
pub(super) fn slot(number: u64) -> usize {
    usize::try_from(number % DIGESTS as u64).unwrap_or(0)
}

impl Drop for BoardWriter {
    /// Clears the magic, so that processes that have the file open know at once. Then the mapping's handle is closed,
    /// which releases the lock, and the place removes the file. If this process's reader still has the mapping, the
    /// handle is closed at its next look.
    ///
    /// A forked child has the same file mapped and shares its lock: there the file is left alone, because the layer
    /// lives on in the parent.
    fn drop(&mut self) {
        if !self.owner.is_current() {
            self.place.goes = false;
            return;
        }
        if self.is_whole() {
            self.mapping.sheet().magic.store(0, Ordering::Release);
        }
    }
}
