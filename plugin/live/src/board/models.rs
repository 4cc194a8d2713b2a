//! Models of the board's sequence lock and audio ring: see [`crate::models`].

use super::layout::STRETCH_WORDS;
use super::ring::{self, Ring, Writer};
use super::seqlock::{Miss, Record};
use crate::models::explore;
use crate::sync::{AtomicF32, AtomicU64};
use loom::thread;
use plumbline_measure::{Grid, Position};
use std::sync::Arc;

/// Record `n` of the model.
fn words(n: u64) -> [u64; 2] {
    [10 + n, 20 + n]
}

#[test]
fn a_record_is_read_whole_and_never_seems_damaged() {
    explore("sequence lock", &["Torn", "record 0", "record 1"], |reached| {
        let record = Arc::new(Record::<2>::default());
        record.write(0, &words(0));
        let theirs = Arc::clone(&record);
        let writer = thread::spawn(move || theirs.write(1, &words(1)));
        let mut newest = 0;
        for _ in 0..2 {
            // A single attempt: the checksum would hide a torn read behind the next one.
            match record.read_once() {
                Ok((n, read)) => {
                    assert_eq!(read, words(n), "record {n} is mixed");
                    assert!(n >= newest, "record {n} after {newest}");
                    newest = n;
                    reached.note(format!("record {n}"));
                }
                Err(Miss::Torn) => reached.note("Torn"),
                Err(miss) => panic!("{miss:?}: a record torn by its writer passed for a whole one"),
            }
        }
        writer.join().unwrap();
        assert_eq!(record.read(), Ok((1, words(1))));
    });
}

#[test]
fn the_first_record_is_read_whole_or_not_yet() {
    explore("sequence lock, first record", &["Empty", "Torn", "record"], |reached| {
        let record = Arc::new(Record::<2>::default());
        let theirs = Arc::clone(&record);
        let writer = thread::spawn(move || theirs.write(0, &words(0)));
        match record.read_once() {
            Ok(read) => {
                assert_eq!(read, (0, words(0)));
                reached.note("record");
            }
            Err(Miss::Damaged) => panic!("a record torn by its writer passed for a whole one"),
            Err(miss) => reached.note(format!("{miss:?}")),
        }
        writer.join().unwrap();
    });
}

/// An audio ring of one channel outside a file.
struct OwnRing {
    stretch_count: AtomicU64,
    stretches: [Record<STRETCH_WORDS>; 2],
    frames_claimed: AtomicU64,
    frame_count: AtomicU64,
    samples: [AtomicF32; CAPACITY],
}

const CAPACITY: usize = 2;

impl OwnRing {
    fn new() -> Self {
        Self {
            stretch_count: AtomicU64::new(0),
            stretches: std::array::from_fn(|_| Record::default()),
            frames_claimed: AtomicU64::new(0),
            frame_count: AtomicU64::new(0),
            samples: std::array::from_fn(|_| AtomicF32::new(0.0)),
        }
    }

    fn ring(&self) -> Ring<'_> {
        Ring {
            stretch_count: &self.stretch_count,
            stretches: &self.stretches,
            frames_claimed: &self.frames_claimed,
            frame_count: &self.frame_count,
            samples: &self.samples,
        }
    }

    /// Writes `frames` frames from a position on. Each sample is its position.
    fn write(&self, writer: &mut Writer, from: i64, frames: i64) {
        let samples: Vec<f32> = (from..from + frames).map(|at| at as f32).collect();
        writer.write(&self.ring(), CAPACITY, song(from), &[&samples]);
    }

    /// Reads frames from a position on; `None` if they were not available.
    fn read(&self, from: i64, frames: usize) -> Option<Vec<f32>> {
        let mut to = [vec![0.0; frames]];
        ring::read(&self.ring(), CAPACITY, 1, song(from), &mut to).then(|| to[0].clone())
    }
}

fn song(sample: i64) -> Position {
    Position { grid: Grid::Song, sample }
}

/// Explores one read of `frames` frames from `from` on, while another thread writes `blocks` of (position, frames). The
/// first `before` blocks are written before the reader starts.
fn explore_ring(name: &str, blocks: &'static [(i64, i64)], before: usize, (from, frames): (i64, usize)) {
    explore(name, &["read", "refused"], move |reached| {
        let shared = Arc::new(OwnRing::new());
        let mut writer = Writer::default();
        for (at, n) in &blocks[..before] {
            shared.write(&mut writer, *at, *n);
        }
        let theirs = Arc::clone(&shared);
        let writing = thread::spawn(move || {
            for (at, n) in &blocks[before..] {
                theirs.write(&mut writer, *at, *n);
            }
        });
        if let Some(read) = shared.read(from, frames) {
            let expected: Vec<f32> = (from..).take(frames).map(|at| at as f32).collect();
            assert_eq!(read, expected, "audio of another position");
            reached.note("read");
        } else {
            reached.note("refused");
        }
        writing.join().unwrap();
    });
}

#[test]
fn audio_is_not_read_before_it_is_written() {
    explore_ring("ring, first audio", &[(50, 1), (51, 1)], 0, (50, 2));
}

#[test]
fn audio_that_is_replaced_during_the_read_is_refused() {
    explore_ring("ring, replaced audio", &[(50, 2), (52, 1), (53, 1)], 1, (50, 2));
}

#[test]
fn audio_after_a_jump_is_not_taken_for_what_went_before() {
    // Frame 1 is at 70; the first stretch alone would give it position 51.
    explore_ring("ring, jump", &[(50, 1), (70, 1), (51, 1)], 1, (51, 1));
}

#[test]
fn a_stretch_that_replaces_another_is_not_taken_for_it() {
    explore_ring("ring, replaced stretch", &[(50, 1), (70, 1), (90, 1), (110, 1)], 2, (70, 1));
}
