//! All layers on the board, as the worker of this process sees them.

use super::file::ENDING;
use super::folder::Folder;
use super::head::Head;
use super::layout::DIGESTS;
use super::numbers::Claim;
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

/// Pause between two looks into the folder while somebody wants to know.
const SCAN: Duration = Duration::from_millis(100);
/// Pause between two looks while nobody does: only to sweep.
const SWEEP: Duration = Duration::from_secs(2);
/// Pause before an unreadable file is tried again.
const RETRY: Duration = Duration::from_millis(500);
/// A layer whose beat publishers this long has a worker that hangs: it counts as not running.
const BEATLESS: Duration = Duration::from_secs(2);
/// Most mixes of a session that keep an account while nobody looks.
const MOST_MIXES: usize = 2;
/// Most files looked at: far more than are counted, and few enough to keep open.
const MOST_FILES: usize = 8 * MOST_LAYERS;

/// A layer on the board.
#[derive(Debug)]
pub(crate) struct BoardEntry {
    pub(crate) head: Arc<Head>,
    /// Whether audio reaches it.
    pub(crate) running: bool,
    /// Whether a repair is being tried out on it.
    pub(crate) altered: bool,
    /// How often that changed.
    pub(crate) alterations: u32,
    /// Position of its newest sample, on this process's clock where it is the clock's.
    pub(crate) newest: Position,
    /// Digests that did not arrive.
    pub(crate) missed: u64,
    /// Digests that arrived so far; the newest of them are kept.
    pub(crate) taken: u64,
    /// The newest digests, oldest first.
    pub(crate) recent: VecDeque<Digest>,
    next: u64,
    beat: u64,
    beaten: Duration,
    file: OsString,
}

#[derive(Debug)]
enum Place {
    Open(PeerFile),
    /// Not readable, or not yet; tried again later.
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
    /// The layers of each letter, by who came first, and the heads that they were put in order by.
    order: BTreeMap<char, Vec<LayerId>>,
    ordered: Vec<Arc<Head>>,
    scanned: Option<Duration>,
    /// Files that this process had made when the folder was looked into last.
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

    /// Why there is no board at all.
    pub(crate) fn missing(&self) -> Option<&str> {
        self.folder.as_ref().err().map(String::as_str)
    }

    /// One round. `wanted` tells whether anybody in this process wants to know of other layers; if not, the files of
    /// dead layers are swept away all the same. Returns whether layers speak, so that the next round should be soon.
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
        // A layer of this process is met at once: in an offline render it may soon have said more than a file keeps.
        if due(SCAN) || writer::made() != self.made {
            self.scan(now);
        }
        let mut speaks = self.read(now);
        if self.orphans() {
            // A layer's file went: perhaps for another one of the same layer, which must not be taken for a departure.
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

    /// Looks into the folder.
    fn scan(&mut self, now: Duration) {
        self.scanned = Some(now);
        self.made = writer::made();
        let Ok(folder) = &self.folder else { return };
        // A folder that is gone is an empty one: the next layer that joins makes it anew.
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

    /// Reads what is new. Returns whether there was anything.
    fn read(&mut self, now: Duration) -> bool {
        let zero = clock::zero_secs().saturating_mul(10);
        let mut heard = false;
        let mut shut = Vec::new();
        for (name, place) in &mut self.files {
            let Place::Open(file) = place else { continue };
            // Numbers go on over all files of one layer.
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

    /// The layers of a session that count, by who came first.
    pub(crate) fn session(&self, letter: char) -> impl Iterator<Item = &BoardEntry> + Clone {
        self.all(letter).iter().take(MOST_LAYERS).filter_map(|id| self.entries.get(id))
    }

    /// Layers of a session that are beyond those that count, and whether `own` is one of them.
    pub(crate) fn beyond(&self, letter: char, own: LayerId) -> Option<(u32, bool)> {
        let beyond = self.all(letter).get(MOST_LAYERS..).filter(|b| !b.is_empty())?;
        Some((u32::try_from(beyond.len()).unwrap_or(u32::MAX), beyond.contains(&own)))
    }

    /// Whether a mix keeps an account while nobody looks at it: when there are layers to count, and it is one of the
    /// first two mixes. Layers whose role nobody has set are mixes all, and an account of each would cost a lot.
    pub(crate) fn needs_account(&self, letter: char, own: LayerId) -> bool {
        let is_mix = |n: &&BoardEntry| n.head.identity.role == Role::Mix;
        self.session(letter).any(|n| !is_mix(&n))
            && self.session(letter).filter(is_mix).take(MOST_MIXES).any(|n| n.head.id == own)
    }

    /// A layer by its number.
    pub(crate) fn layer(&self, id: LayerId) -> Option<&BoardEntry> {
        self.entries.get(&id)
    }

    /// All layers of a session with their numbers, those beyond the ones that count too.
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

    /// Files on the board that have been no layer of this version for a while.
    pub(crate) fn unreadable(&self, now: Duration) -> u32 {
        let shut = self.files.values().filter(
            |place| matches!(place, Place::Shut { since, .. } if now.saturating_sub(*since) >= RETRY),
        );
        u32::try_from(shut.count()).unwrap_or(u32::MAX)
    }

    /// Reads a layer's audio from a position on: as many frames as the vectors are long, all of one length; at most the
    /// newest 4 s are there. A mono layer gives its channel twice. Samples that are no numbers are silence.
    ///
    /// Returns whether it was all there; if not, the vectors hold nothing of use. Rates are the caller's to compare.
    pub(crate) fn read_audio(&self, id: LayerId, grid: Grid, sample: i64, to: &mut [Vec<f32>]) -> bool {
        let Some(entry) = self.entries.get(&id) else { return false };
        match self.files.get(&entry.file) {
            Some(Place::Open(file)) => file.read_audio(Position { grid, sample }, clock::zero_secs(), to),
            _ => false,
        }
    }
}

/// Opens a file that was not open; `since` tells how long it has been tried in vain.
fn open(path: &Path, since: Option<Duration>, now: Duration) -> Option<Place> {
    match PeerFile::open(path, now) {
        Ok(file) => Some(Place::Open(file)),
        Err(Fault::Gone) if !path.exists() => None,
        // It may be about to get its magic: looked at again with the next scan, and not called unreadable so soon.
        Err(Fault::Gone | Fault::Torn) => {
            Some(Place::Shut { since: since.unwrap_or(now), tried: now.saturating_sub(RETRY) })
        }
        Err(_) => Some(Place::Shut { since: since.unwrap_or(now), tried: now }),
    }
}

/// Takes what a look brought over to the layer's entry. Returns whether there were digests.
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
        // A layer's former file, about to go.
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
