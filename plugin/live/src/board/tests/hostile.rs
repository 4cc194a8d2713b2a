use super::super::digests::sample;
use super::super::layout::{SHEET_BYTES, Sheet, VERSION};
use super::super::mapping::Mapping;
#[cfg(unix)]
use super::super::peer::Fault;
use super::super::peer::{Look, PeerFile};
use super::{Scratch, Stop, head, ms, own};
use plumbline_measure::{Digest, Grid, Position};
use std::fs::{self, File};
use std::io::{Seek, SeekFrom, Write};
use std::mem::offset_of;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};

const WRITTEN: u64 = 90;

/// Pseudo-random numbers from a fixed seed (xorshift).
struct Chance(u64);

impl Chance {
    fn bits(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.bits() % n as u64).unwrap()
    }

    fn byte(&mut self) -> u8 {
        self.bits().to_le_bytes()[7]
    }
}

fn song(n: u64) -> Digest {
    Digest { grid: Grid::Song, ..sample(n) }
}

/// A file of a living layer, whose bytes a test may change. The returned file holds the lock.
fn victim(scratch: &Scratch) -> (PathBuf, File, Vec<u8>) {
    let mut layer = own(&scratch.folder(), head(1));
    (0..WRITTEN).for_each(|n| layer.digest(&song(n)));
    layer.audio(Position { grid: Grid::Song, sample: 500 }, &[&[0.25; 2_000]]);
    let path = fs::read_dir(&scratch.0).unwrap().next().unwrap().unwrap().path();
    layer.unlock();
    let bytes = fs::read(&path).unwrap();
    drop(layer);
    fs::write(&path, &bytes).unwrap();
    let file = File::options().read(true).write(true).open(&path).unwrap();
    file.try_lock().unwrap();
    (path, file, bytes)
}

/// Asserts that everything shown was written.
fn check(look: &Look) {
    assert_eq!((&*look.head, look.missed), (&head(1), 0));
    assert_eq!((look.live.running, look.live.position), (false, 0));
    let first = look.next.saturating_sub(64);
    assert!(look.next <= WRITTEN);
    let written: Vec<Digest> = (first..look.next).map(song).collect();
    assert!(look.digests.iter().all(|d| written.contains(d)), "a false digest");
}

fn put(file: &mut File, at: usize, bytes: &[u8]) {
    file.seek(SeekFrom::Start(at as u64)).unwrap();
    file.write_all(bytes).unwrap();
}

#[test]
fn damaged_files_never_show_what_was_not_written() {
    let scratch = Scratch::new();
    let (path, mut file, good) = victim(&scratch);
    let mut chance = Chance(0x5EED);
    let (mut shown, mut refused, mut digests) = (0, 0, 0);
    for round in 0..4_000 {
        let mut bad = good[..SHEET_BYTES].to_vec();
        for _ in 0..=chance.below(6) {
            // Half of the damage is to the head and the counts, the rest anywhere.
            let counts = [
                offset_of!(Sheet, digest_count),
                offset_of!(Sheet, stretch_count),
                offset_of!(Sheet, frame_count),
            ];
            let at = match chance.below(8) {
                0 => chance.below(16),
                1..=2 => chance.below(offset_of!(Sheet, digest_count)),
                3 => counts[chance.below(3)] + chance.below(8),
                _ => chance.below(SHEET_BYTES),
            };
            let run = (1 + chance.below(40)).min(SHEET_BYTES - at);
            match chance.below(5) {
                0 => bad[at] ^= 1 << chance.below(8),
                1 => bad[at..at + run].fill(0),
                2 => bad[at..at + run].fill(0xFF),
                3 => bad[at..at + run].iter_mut().for_each(|b| *b = chance.byte()),
                _ => {
                    // Whole words from elsewhere, as a stale or misplaced write would leave.
                    let (from, to) =
                        (chance.below(SHEET_BYTES / 8 - 60) * 8, chance.below(SHEET_BYTES / 8 - 60) * 8);
                    bad[to..to + 424].copy_from_slice(&good[from..from + 424]);
                }
            }
        }
        put(&mut file, 0, &bad);
        let looked = PeerFile::open(&path, ms(0)).and_then(|mut peer| {
            let mut to = vec![vec![0.0; 1_000]];
            if peer.read_audio(Position { grid: Grid::Song, sample: 700 }, 0, &mut to) {
                assert!(to[0].iter().all(|x| [0.25, 0.0].contains(x)));
            }
            peer.look(None, 0, ms(0))
        });
        match looked {
            Ok(look) => {
                check(&look);
                shown += 1;
                digests += look.digests.len();
            }
            Err(_) => refused += 1,
        }
        assert!(path.exists(), "round {round}: a living layer's file is never removed");
    }
    put(&mut file, 0, &good[..SHEET_BYTES]);
    let look = PeerFile::open(&path, ms(0)).unwrap().look(None, 0, ms(0)).unwrap();
    assert_eq!(look.digests.len(), 64, "the file itself is a good one");
    assert!(shown > 500 && refused > 500 && digests > 20_000, "{shown} shown, {refused} refused, {digests}");
}

/// Windows does not truncate a mapped file (`SetEndOfFile` in its documentation), so this cannot happen there.
#[test]
#[cfg(unix)]
fn cut_and_grown_files_are_refused_also_between_rounds() {
    let scratch = Scratch::new();
    let (path, mut file, good) = victim(&scratch);
    let mut chance = Chance(0xC07);
    let mut cases = 0;
    let edges = [0, 1, 7, SHEET_BYTES - 1, SHEET_BYTES, SHEET_BYTES + 1, good.len() - 1, good.len() + 1];
    for round in 0..300 {
        let length = edges.get(round).copied().unwrap_or_else(|| chance.below(good.len()));
        let mut open = PeerFile::open(&path, ms(0)).unwrap();
        open.look(None, 0, ms(0)).unwrap();
        file.set_len(length as u64).unwrap();
        assert_eq!(open.look(None, 0, ms(600)).unwrap_err(), Fault::Unreadable, "{length}");
        assert!(!open.read_audio(Position { grid: Grid::Song, sample: 700 }, 0, &mut [vec![0.0; 9]]));
        drop(open);
        assert!(PeerFile::open(&path, ms(0)).is_err(), "{length}");
        put(&mut file, 0, &good);
        file.set_len(good.len() as u64).unwrap();
        cases += 1;
    }
    assert_eq!(cases, 300);
}

#[test]
fn files_of_other_versions_are_told_and_left() {
    let scratch = Scratch::new();
    let (path, mut file, _) = victim(&scratch);
    let mut board = super::super::reader::BoardReader::new(Ok(scratch.folder()));
    let mut now = ms(0);
    for (version, layers, unreadable) in
        [(0_u32, 0, 1), (VERSION - 1, 0, 1), (VERSION + 1, 0, 1), (u32::MAX, 0, 1), (VERSION, 1, 0)]
    {
        put(&mut file, offset_of!(Sheet, version), &version.to_le_bytes());
        for _ in 0..3 {
            now += ms(500);
            board.round(now, true);
        }
        assert_eq!(
            (board.session('A').count(), board.unreadable(now)),
            (layers, unreadable),
            "version {version}"
        );
    }
    assert!(path.exists());
}

#[test]
fn a_writer_that_scribbles_over_everything_does_no_harm() {
    let scratch = Scratch::new();
    let (path, mut file, good) = victim(&scratch);
    let mapping = Mapping::new(file.try_clone().unwrap(), true).unwrap();
    let stop = AtomicBool::new(false);
    let (mut shown, mut refused) = (0, 0);
    std::thread::scope(|scope| {
        let _stop = Stop(&stop);
        scope.spawn(|| {
            let mut chance = Chance(0xBAD);
            while !stop.load(Ordering::Relaxed) {
                // Scribbles and restores, so that readers see all kinds of half-written files.
                for _ in 0..chance.below(4) {
                    let at = chance.below(SHEET_BYTES);
                    let n = (1 + chance.below(64)).min(SHEET_BYTES - at);
                    let noise: Vec<u8> = (0..n).map(|_| chance.byte()).collect();
                    put(&mut file, at, &noise);
                }
                put(&mut file, 0, &good[..SHEET_BYTES]);
                std::thread::yield_now();
            }
        });
        let mut open = None;
        // On a busy computer the writer may not run for a long time: keep reading until it has.
        let mut looks = 0;
        while looks < 20_000 || ((shown < 500 || refused < 50) && looks < 10_000_000) {
            looks += 1;
            if looks % 64 == 0 {
                std::thread::yield_now();
            }
            let mut peer = match open.take() {
                Some(peer) => peer,
                None => match PeerFile::open(&path, ms(0)) {
                    Ok(peer) => peer,
                    Err(_) => {
                        refused += 1;
                        continue;
                    }
                },
            };
            match peer.look(None, 0, ms(0)) {
                Ok(look) => {
                    check(&look);
                    shown += 1;
                    open = Some(peer);
                }
                Err(_) => refused += 1,
            }
        }
    });
    assert!(mapping.is_whole());
    assert!(shown >= 500 && refused >= 50, "{shown} shown, {refused} refused");
}
