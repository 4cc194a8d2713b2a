//! All layers on the board, as the worker of this process reads them.

use super::file::ENDING;
use super::folder::Folder;
use super::identity::Head;
use super::layer_numbers::Claim;
use super::layout::DIGESTS;
use super::peer::{Fault, Look, PeerFile};
use super::ring;
use super::writer;
use crate::clock;
use plumbline_measure::{Digest, Grid, Position};
use plumbline_programme::session::MOST_LAYERS;
use plumbline_programme::{LayerId, Role};
use std::collections::{BTreeMap, VecDeque};
use std::ffi::OsString;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

/// Pause between two scans of the folder while other layers are followed.
const SCAN: Duration = Duration::from_millis(100);
/// Pause between two scans while no other layer is followed, only to remove the files of dead layers.
const SWEEP: Duration = Duration::from_secs(2);
/// Pause before an unreadable file is tried again.
const RETRY: Duration = Duration::from_millis(500);
/// Time without a beat after which a layer counts as not running, because its worker hangs.
const BEATLESS: Duration = Duration::from_secs(2);
/// The most mixes of a session that keep a balance while not watched.
const MOST_MIXES: usize = 2;
/// The most files read: far more than [`MOST_LAYERS`], and few enough to keep open.
const MOST_FILES: usize = 8 * MOST_LAYERS;

/// A layer on the board.
#[derive(Debug)]
pub(crate) struct BoardEntry {
    pub(crate) head: Arc<Head>,
    /// Whether audio is running.
    pub(crate) running: bool,
    /// Whether a trial is in force.
    pub(crate) altered: bool,
    /// How often the trial has changed.
    pub(crate) alterations: u32,
    /// Position of its latest sample; a clock position counts from this process's zero.
    pub(crate) newest: Position,
    /// Digests that were missed.
    pub(crate) missed: u64,
    /// Digests that arrived so far; the latest are in `recent`.
    pub(crate) taken: u64,
    /// The latest digests, oldest first.
    pub(crate) recent: VecDeque<Digest>,
    next: u64,
    beat: u64,
    beaten: Duration,
    file: OsString,
}

#[derive(Debug)]
enum Place {
    Open(PeerFile),
    /// Not readable now; opened again later.
    Shut {
        since: Duration,
        tried: Duration,
    },
}

/// The layers of the board.
#[derive(Debug)]
pub(crate) struct BoardReader {
    folder: Result<Folder, String>,
    files: BTreeMap<OsString, Place>,
    entries: BTreeMap<LayerId, BoardEntry>,
    /// The layers of each letter in order of joining, and the heads from which this order was made.
    order: BTreeMap<char, Vec<LayerId>>,
    ordered: Vec<Arc<Head>>,
    scanned: Option<Duration>,
    /// Number of files made by this process at the last scan.
    made: u64,
}

impl BoardReader {
    pub(crate) fn new(folder: Result<Folder, String>) -> Self {
        Self {
            folder,
            files: BTreeMap::new(),
            entries: BTreeMap::new(),
            order: BTreeMap::new(),
            ordered: Vec::new(),
            scanned: None,
            made: 0,
        }
    }

    /// Why there is no board; `None` if there is one.
    pub(crate) fn missing(&self) -> Option<&str> {
        self.folder.as_ref().err().map(String::as_str)
    }

    /// Reads the board once. `wanted`: a layer of this process follows others; if none does, only the files of dead
    /// layers are removed. Returns whether any layer is running or has new digests: the next round should then come
    /// soon.
    pub(crate) fn round(&mut self, now: Duration, wanted: bool) -> bool {
        let scanned = self.scanned;
        let due = |pause| scanned.is_none_or(|t| now.saturating_sub(t) >= pause);
        if !wanted {
            self.entries.clear();
            self.put_in_order();
            if due(SWEEP) {
                self.files.clear();
                self.scan(now);
            }
            self.files.clear();
            return false;
        }
        // A layer of this process must be found at once: an offline render soon writes more than a file holds.
        if due(SCAN) || writer::made() != self.made {
            self.scan(now);
        }
        let mut speaks = self.read(now);
        if self.orphans() {
            // A file is gone, perhaps replaced by another of the same layer: that layer must not seem to leave.
            self.scan(now);
            speaks |= self.read(now);
        }
        let files = &self.files;
        self.entries.retain(|_, n| matches!(files.get(&n.file), Some(Place::Open(_))));
        self.put_in_order();
        speaks || self.entries.values().any(|n| n.running)
    }

    fn orphans(&self) -> bool {
        self.entries.values().any(|n| !matches!(self.files.get(&n.file), Some(Place::Open(_))))
    }

    /// Scans the folder.
    fn scan(&mut self, now: Duration) {
        self.scanned = Some(now);
        self.made = writer::made();
        let Ok(folder) = &self.folder else { return };
        // A missing folder counts as empty: the next layer that joins makes it again.
        let listed = std::fs::read_dir(folder.path()).into_iter().flatten().flatten();
        let names = listed.map(|entry| entry.file_name());
        let names: std::collections::BTreeSet<OsString> = names
            .filter(|name| name.as_encoded_bytes().ends_with(ENDING.as_bytes()))
            .take(MOST_FILES)
            .collect();
        self.files.retain(|name, _| names.contains(name));
        for name in names {
            let path = folder.path().join(&name);
            let since = match self.files.get(&name) {
                Some(Place::Open(_)) => continue,
                Some(Place::Shut { tried, .. }) if now.saturating_sub(*tried) < RETRY => continue,
                Some(Place::Shut { since, .. }) => Some(*since),
                None => None,
            };
            match open(&path, since, now) {
                Some(place) => drop(self.files.insert(name, place)),
                None => drop(self.files.remove(&name)),
            }
        }
    }

    /// Reads all open files. Returns whether there were new digests.
    fn read(&mut self, now: Duration) -> bool {
        let zero = clock::zero_secs().saturating_mul(10);
        let mut heard = false;
        let mut shut = Vec::new();
        for (name, place) in &mut self.files {
            let Place::Open(file) = place else { continue };
            // Digest numbers continue over all files of one layer.
            let next = file.id().and_then(|id| self.entries.get(&id)).map(|n| n.next);
            match file.look(next, zero, now) {
                Ok(look) => heard |= take(&mut self.entries, name, look, now),
                Err(Fault::Torn) => {}
                Err(fault) => shut.push((name.clone(), fault)),
            }
        }
        for (name, fault) in shut {
            match fault {
                Fault::Gone => drop(self.files.remove(&name)),
                _ => drop(self.files.insert(name, Place::Shut { since: now, tried: now })),
            }
        }
        heard
    }

    fn put_in_order(&mut self) {
        let heads: Vec<Arc<Head>> = self.entries.values().map(|n| Arc::clone(&n.head)).collect();
        let same = |(now, then): (&Arc<Head>, &Arc<Head>)| Arc::ptr_eq(now, then);
        if heads.len() == self.ordered.len() && heads.iter().zip(&self.ordered).all(same) {
            return;
        }
        self.ordered = heads;
        self.order.values_mut().for_each(Vec::clear);
        for (id, entry) in &self.entries {
            self.order.entry(entry.head.letter).or_default().push(*id);
        }
        let entries = &self.entries;
        for ids in self.order.values_mut() {
            ids.sort_by_key(|id| (entries.get(id).map(|n| n.head.joined), *id));
        }
    }

    fn all(&self, letter: char) -> &[LayerId] {
        self.order.get(&letter).map_or(&[], Vec::as_slice)
    }

    /// The first [`MOST_LAYERS`] layers of a session, in order of joining.
    pub(crate) fn session(&self, letter: char) -> impl Iterator<Item = &BoardEntry> + Clone {
        self.all(letter).iter().take(MOST_LAYERS).filter_map(|id| self.entries.get(id))
    }

    /// Number of layers in a session beyond [`MOST_LAYERS`], and whether `own` is one of them; `None` without any.
    pub(crate) fn beyond(&self, letter: char, own: LayerId) -> Option<(u32, bool)> {
        let beyond = self.all(letter).get(MOST_LAYERS..).filter(|b| !b.is_empty())?;
        Some((u32::try_from(beyond.len()).unwrap_or(u32::MAX), beyond.contains(&own)))
    }

    /// Whether a mix keeps a balance while not watched: the session has other layers, and it is one of the first two
    /// mixes. Layers whose role was never set are all mixes, and a balance in each would be costly.
    pub(crate) fn needs_account(&self, letter: char, own: LayerId) -> bool {
        let is_mix = |n: &&BoardEntry| n.head.identity.role == Role::Mix;
        self.session(letter).any(|n| !is_mix(&n))
            && self.session(letter).filter(is_mix).take(MOST_MIXES).any(|n| n.head.id == own)
    }

    /// A layer by its id.
    pub(crate) fn layer(&self, id: LayerId) -> Option<&BoardEntry> {
        self.entries.get(&id)
    }

    /// All layers of a session with their numbers, including those beyond [`MOST_LAYERS`].
    pub(super) fn claims(&self, letter: char) -> impl Iterator<Item = Claim> {
        self.all(letter).iter().filter_map(|id| self.entries.get(id)).map(|n| Claim {
            id: n.head.id,
            joined: n.head.joined,
            number: n.head.number,
        })
    }

    /// Whether there is more than one layer on the board.
    pub(crate) fn has_company(&self) -> bool {
        self.entries.len() > 1
    }

    /// Number of files that for a while could not be read as a layer of this version.
    pub(crate) fn unreadable(&self, now: Duration) -> u32 {
        let shut = self.files.values().filter(
            |place| matches!(place, Place::Shut { since, .. } if now.saturating_sub(*since) >= RETRY),
        );
        u32::try_from(shut.count()).unwrap_or(u32::MAX)
    }

    /// Reads a layer's audio from a position into vectors of equal length, which they fill. At most the latest 4 s are
    /// available. A mono layer fills both channels. NaN and ∞ become silence.
    ///
    /// Returns whether all of it was available; if not, the vectors hold nothing of use. The caller compares the rates.
    pub(crate) fn read_audio(&self, id: LayerId, grid: Grid, sample: i64, to: &mut [Vec<f32>]) -> bool {
        let Some(entry) = self.entries.get(&id) else { return false };
        match self.files.get(&entry.file) {
            Some(Place::Open(file)) => file.read_audio(Position { grid, sample }, clock::zero_secs(), to),
            _ => false,
        }
    }
}

/// Opens a file that was not open; `since` is when it was first found unreadable.
fn open(path: &Path, since: Option<Duration>, now: Duration) -> Option<Place> {
    match PeerFile::open(path, now) {
        Ok(file) => Some(Place::Open(file)),
        Err(Fault::Gone) if !path.exists() => None,
        // It may be about to get its magic: try again at the next scan, and do not call it unreadable yet.
        Err(Fault::Gone | Fault::Torn) => {
            Some(Place::Shut { since: since.unwrap_or(now), tried: now.saturating_sub(RETRY) })
        }
        Err(_) => Some(Place::Shut { since: since.unwrap_or(now), tried: now }),
    }
}

/// Updates a layer's entry from a look at its file. Returns whether there were new digests.
fn take(entries: &mut BTreeMap<LayerId, BoardEntry>, file: &OsString, look: Look, now: Duration) -> bool {
    let entry = entries.entry(look.head.id).or_insert_with(|| BoardEntry {
        head: Arc::clone(&look.head),
        running: false,
        altered: false,
        alterations: 0,
        newest: Position::default(),
        missed: 0,
        taken: 0,
        recent: VecDeque::with_capacity(DIGESTS),
        next: 0,
        beat: look.live.beat,
        beaten: now,
        file: file.clone(),
    });
    if look.head.generation < entry.head.generation {
        // A former file of the layer, about to be removed.
        return false;
    }
    if look.live.beat != entry.beat || entry.file != *file {
        entry.beat = look.live.beat;
        entry.beaten = now;
    }
    entry.head = look.head;
    entry.file.clone_from(file);
    entry.running = look.live.running && now.saturating_sub(entry.beaten) < BEATLESS;
    entry.altered = look.live.altered;
    entry.alterations = look.live.alterations;
    let newest = Position { grid: look.live.grid, sample: look.live.position };
    entry.newest = ring::moved(newest, entry.head.rate.hz(), -clock::zero_secs());
    entry.missed = entry.missed.saturating_add(look.missed);
    entry.next = look.next;
    let heard = !look.digests.is_empty();
    for digest in look.digests {
        if entry.recent.len() == DIGESTS {
            entry.recent.pop_front();
        }
        entry.recent.push_back(digest);
        entry.taken += 1;
    }
    heard
}
