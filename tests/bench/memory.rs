//! Memory of one layer after an hour, against the computed size of its queue, audio ring and history.

use crate::{Line, noise};
use plumbline_live::{Format, Layer, MOST_MOMENTS, ROOM_SECS, Stamp};
use plumbline_measure::Tenth;
use plumbline_programme::Moment;
use plumbline_tests::rig::board::FOLDER_VARIABLE;
use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicUsize, Ordering};

/// Bytes allocated now.
static LIVE: AtomicUsize = AtomicUsize::new(0);

struct Counting;

// SAFETY: every call goes to the system's allocator unchanged; the counter allocates nothing.
unsafe impl GlobalAlloc for Counting {
    // SAFETY: the caller keeps the contract of `alloc`, which is passed on unchanged.
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        LIVE.fetch_add(layout.size(), Ordering::Relaxed);
        // SAFETY: as above.
        unsafe { System.alloc(layout) }
    }

    // SAFETY: the caller keeps the contract of `dealloc`, which is passed on unchanged.
    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        LIVE.fetch_sub(layout.size(), Ordering::Relaxed);
        // SAFETY: as above.
        unsafe { System.dealloc(at, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

/// Tenths in an hour.
const HOUR: usize = 36_000;
/// Bytes of the ring of audio on the board: 4 s of two channels.
const RING: usize = 4 * 48_000 * 2 * 4;
/// A chunk in the queue: 64 frames of two channels, its tags and the queue's stamp.
const CHUNK: usize = 64 * 2 * 4 + 40;

pub(crate) fn run() -> Line {
    let [left, right] = noise(10);
    let before = LIVE.load(Ordering::Relaxed);
    let layer = Layer::join();
    layer.change(|settings| settings.watched = true);
    let format = Format { rate_hz: 48_000.0, channels: 2, side_channels: 0, offline: true };
    let mut tap = layer.open(format).expect("48 kHz is measured");
    let mut song = 0;
    while song < 48_000 * 3_600 {
        for at in (0..left.len()).step_by(480) {
            let block = [&left[at..at + 480], &right[at..at + 480]];
            tap.push(Stamp { song: Some(song), playing: true }, &block, &[]);
            song += 480;
        }
    }
    // The last tenths wait for the windows centred in them.
    for _ in 0..200 {
        std::thread::sleep(std::time::Duration::from_millis(20));
        if layer.with_history(|h| h.len()) + 4 >= HOUR {
            break;
        }
    }
    let heard = layer.with_history(|h| h.len());
    assert!(heard + 4 >= HOUR, "only {heard} tenths were kept of {HOUR}");
    // The layer's file on the board is mapped, not allocated.
    let found = (LIVE.load(Ordering::Relaxed) - before + mapped()) as f64;
    let queue = ROOM_SECS as usize * 48_000 / 64 * CHUNK;
    // A watched layer also keeps moments.
    let history = HOUR * size_of::<Tenth>() + MOST_MOMENTS * size_of::<Moment>();
    let expected = (queue + RING + history) as f64;
    let mib = |bytes: f64| bytes / f64::from(1 << 20);
    Line {
        what: "memory of a watched layer after an hour",
        bound: "its queue, audio ring and history by arithmetic",
        found: found / expected,
        budget: 1.5,
        unit: "×",
        behind: format!(
            "{:.1} MiB against {:.1} (queue) + {:.1} (audio ring) + {:.1} (history: tenths and moments)",
            mib(found),
            mib(queue as f64),
            mib(RING as f64),
            mib(history as f64)
        ),
    }
}

/// Bytes of the one file on this process's board.
fn mapped() -> usize {
    let folder = std::env::var_os(FOLDER_VARIABLE).expect("the bench names a board of its own");
    let files: Vec<u64> = std::fs::read_dir(folder)
        .expect("the board is there")
        .flatten()
        .filter_map(|file| file.metadata().ok().map(|m| m.len()))
        .collect();
    assert_eq!(files.len(), 1, "one layer has one file on the board");
    usize::try_from(files[0]).expect("small")
}
