use super::super::digests::{from_words, sample, to_words};
use super::super::layout::DIGEST_WORDS;
use super::super::reader::BoardReader;
use super::super::seqlock::{Miss, Record};
use super::{Scratch, Stop, head, ms, own};
use plumbline_measure::{Grid, Position};
use plumbline_programme::LayerId;
use std::sync::atomic::{AtomicBool, Ordering};

/// The most reads in a test, so that it ends.
const MOST: u64 = 100_000_000;

/// A record as in a new file.
fn empty<const N: usize>() -> Box<Record<N>> {
    Box::default()
}

#[test]
fn no_digest_is_torn_in_a_hundred_thousand_reads_under_a_writer() {
    let record = empty::<DIGEST_WORDS>();
    assert_eq!(record.read(), Err(Miss::Empty));
    record.write(0, &to_words(&sample(0), 0));
    let stop = AtomicBool::new(false);
    let (mut whole, mut changes, mut last) = (0, 0, 0);
    std::thread::scope(|scope| {
        let _stop = Stop(&stop);
        scope.spawn(|| {
            let mut n = 1;
            while !stop.load(Ordering::Relaxed) {
                record.write(n, &to_words(&sample(n), 0));
                n += 1;
            }
        });
        let mut reads = 0;
        // On a busy computer the writer may not run for a long time: keep reading until it has.
        while reads < 100_000 || (changes < 1_000 && reads < MOST) {
            reads += 1;
            match record.read() {
                Ok((number, words)) => {
                    assert_eq!(from_words(&words, 0), Some(sample(number)));
                    assert!(number >= last, "never back in time");
                    whole += 1;
                    changes += u32::from(number != last);
                    last = number;
                }
                Err(miss) => {
                    assert_eq!(miss, Miss::Torn);
                    std::thread::yield_now();
                }
            }
        }
    });
    assert!(whole > 1_000 && changes >= 1_000, "{whole} whole reads, {changes} of them of another record");
}

#[test]
fn audio_under_a_writer_is_what_was_played_there() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut board = BoardReader::new(Ok(folder.clone()));
    let mut layer = own(&folder, head(1));
    let stop = AtomicBool::new(false);
    let end = std::sync::atomic::AtomicI64::new(0);
    board.round(ms(0), true);
    let (mut read, mut refused) = (0, 0);
    std::thread::scope(|scope| {
        let _stop = Stop(&stop);
        scope.spawn(|| {
            let mut at = 0;
            while !stop.load(Ordering::Relaxed) {
                let block: Vec<f32> = (at..at + 64).map(|p| (p % 65_536) as f32).collect();
                layer.audio(Position { grid: Grid::Song, sample: at }, &[&block]);
                at += 64;
                end.store(at, Ordering::Release);
            }
        });
        let mut to = vec![vec![0.0; 3_000]];
        let mut k = 0;
        while k < 20_000 || ((read < 1_000 || refused < 10) && k < 1_000_000) {
            k += 1;
            // From the latest end back beyond what the ring holds, so that some is replaced while it is read.
            let from = end.load(Ordering::Acquire) - 3_000 - k * 7_919 % 86_000;
            if board.read_audio(LayerId(1), Grid::Song, from, &mut to) {
                assert!(to[0].iter().zip(from..).all(|(x, p)| *x == (p % 65_536) as f32), "from {from}");
                read += 1;
            } else {
                refused += 1;
                std::thread::yield_now();
            }
        }
    });
    assert!(read >= 1_000 && refused >= 10, "{read} read, {refused} refused");
}

#[test]
fn any_single_changed_word_of_a_record_shows() {
    let digest = to_words(&sample(12_345), 0);
    let record = empty::<DIGEST_WORDS>();
    let mut cases = 0;
    for place in 0..DIGEST_WORDS {
        for bit in [0, 1, 31, 32, 63] {
            record.write(7, &digest);
            record.spoil(place, 1 << bit);
            assert_eq!(record.read(), Err(Miss::Damaged), "word {place}, bit {bit}");
            cases += 1;
        }
    }
    assert_eq!(cases, 5 * DIGEST_WORDS);
}
