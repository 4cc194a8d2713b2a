use super::super::digests::sample;
use super::super::identity::Live;
use super::super::publisher::{Born, Publisher};
use super::super::reader::BoardReader;
use super::super::writer::BoardWriter;
use super::{Scratch, head, ms, own};
use plumbline_measure::{Digest, Grid, Position, SampleRate};
use plumbline_programme::{Identity, LayerId, Role};

fn names(board: &BoardReader, letter: char) -> Vec<String> {
    board.session(letter).map(|n| n.head.identity.name.clone()).collect()
}

/// A digest on the song grid: one on the clock grid would be moved between zeros.
fn song(n: u64) -> Digest {
    Digest { grid: Grid::Song, ..sample(n) }
}

#[test]
fn layers_of_one_letter_see_each_other_at_once_and_no_longer_than_they_are_there() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut board = BoardReader::new(Ok(folder.clone()));
    let mut first = own(&folder, head(1));
    let second = own(&folder, head(2));
    let other = own(&folder, super::Head { letter: 'B', ..head(3) });
    board.round(ms(0), true);
    assert_eq!(names(&board, 'A'), ["stone 1", "stone 2"]);
    assert_eq!(names(&board, 'B'), ["stone 3"]);
    assert_eq!(*board.session('A').nth(1).unwrap().head, head(2));

    for n in 0..3 {
        first.digest(&song(n));
    }
    first.live(Live { running: true, ..Live::default() });
    assert!(board.round(ms(20), true), "layers speak");
    let heard = board.session('A').next().unwrap();
    assert_eq!((heard.taken, heard.missed, heard.running), (3, 0, true));
    assert!(heard.recent.iter().eq((0..3).map(song).collect::<Vec<_>>().iter()));

    first.set_head(|h| h.letter = 'B');
    drop(second);
    board.round(ms(40), true);
    assert_eq!(names(&board, 'A'), <[&str; 0]>::default());
    assert_eq!(names(&board, 'B'), ["stone 1", "stone 3"]);
    drop((first, other));
    board.round(ms(60), true);
    assert_eq!(names(&board, 'B'), <[&str; 0]>::default());
    assert_eq!(scratch.files(), 0);
}

#[test]
fn another_format_makes_another_file_and_nobody_misses_the_layer_or_a_tenth() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut board = BoardReader::new(Ok(folder.clone()));
    let mut former = own(&folder, head(1));
    (0..10).for_each(|n| former.digest(&song(n)));
    board.round(ms(0), true);
    (10..13).for_each(|n| former.digest(&song(n)));
    let rate = SampleRate::new(96_000).unwrap();
    let next = super::Head { rate, channels: 2, generation: 2, ..head(1) };
    let mut next = BoardWriter::make(&folder, next, 0, Some(&former)).unwrap();
    drop(former);
    (13..15).for_each(|n| next.digest(&song(n)));
    board.round(ms(10), true);
    let seen = board.session('A').next().unwrap();
    assert_eq!((seen.head.rate, seen.taken, seen.missed), (rate, 15, 0));
    assert!(seen.recent.iter().eq((0..15).map(song).collect::<Vec<_>>().iter()));
}

#[test]
fn what_a_slow_reader_misses_is_counted_and_the_rest_is_right() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut board = BoardReader::new(Ok(folder.clone()));
    let mut layer = own(&folder, head(1));
    (0..70).for_each(|n| layer.digest(&song(n)));
    board.round(ms(0), true);
    assert_eq!(
        (board.session('A').next().unwrap().taken, board.session('A').next().unwrap().missed),
        (64, 0),
        "from before it was met"
    );
    (70..170).for_each(|n| layer.digest(&song(n)));
    board.round(ms(10), true);
    let seen = board.session('A').next().unwrap();
    assert_eq!((seen.taken, seen.missed), (128, 36));
    assert!(seen.recent.iter().eq((106..170).map(song).collect::<Vec<_>>().iter()));
}

#[test]
fn the_sixty_fifth_is_told_and_not_counted_until_there_is_room() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut board = BoardReader::new(Ok(folder.clone()));
    // Later layers have lower ids: the order of joining counts, not the id.
    let mut all: Vec<_> =
        (0..66).map(|k| own(&folder, super::Head { joined: k, ..head(1_000 - k) })).collect();
    board.round(ms(0), true);
    assert_eq!(board.session('A').count(), 64);
    assert_eq!(board.beyond('A', LayerId(1_000)), Some((2, false)));
    assert_eq!(board.beyond('A', LayerId(935)), Some((2, true)));
    assert_eq!(board.beyond('B', LayerId(1)), None);
    all.drain(..2);
    board.round(ms(100), true);
    assert_eq!((board.session('A').count(), board.beyond('A', LayerId(935))), (64, None));
}

#[test]
fn a_worker_that_hangs_is_not_waited_for() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut board = BoardReader::new(Ok(folder.clone()));
    let mut layer = own(&folder, head(1));
    layer.live(Live { running: true, ..Live::default() });
    for (at, running) in [(0, true), (1_900, true), (2_100, false)] {
        board.round(ms(at), true);
        assert_eq!(board.session('A').next().unwrap().running, running, "{at} ms");
    }
    layer.live(Live { running: true, ..Live::default() });
    board.round(ms(2_200), true);
    assert!(board.session('A').next().unwrap().running);
}

#[test]
fn audio_is_found_by_position_and_never_when_it_is_no_more_what_it_was() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut board = BoardReader::new(Ok(folder.clone()));
    let mut layer = own(&folder, super::Head { channels: 2, ..head(1) });
    // Sample p of pass k is p + k / 2; the right channel is its negative.
    let mut play = |from: i64, pass: f32, frames: i64| {
        for at in (from..from + frames).step_by(50) {
            let left: Vec<f32> = (at..at + 50).map(|p| p as f32 + pass / 2.0).collect();
            let right: Vec<f32> = left.iter().map(|x| -x).collect();
            layer.audio(Position { grid: Grid::Song, sample: at }, &[&left, &right]);
        }
    };
    play(-1_000, 0.0, 80_000);
    play(10_000, 1.0, 20_000);
    board.round(ms(0), true);
    let read = |board: &BoardReader, from: i64, n: usize| {
        let mut to = vec![vec![0.0; n], vec![0.0; n]];
        board.read_audio(LayerId(1), Grid::Song, from, &mut to).then_some(to)
    };
    let is = |from: i64, n: usize, pass: f32| {
        let left: Vec<f32> = (from..from + n as i64).map(|p| p as f32 + pass / 2.0).collect();
        Some(vec![left.clone(), left.iter().map(|x| -x).collect()])
    };
    assert_eq!(read(&board, 10_000, 20_000), is(10_000, 20_000, 1.0), "the newest pass");
    assert_eq!(read(&board, 35_000, 5_000), is(35_000, 5_000, 0.0));
    assert_eq!(read(&board, 29_950, 100), is(29_950, 100, 0.0), "all of it only in the pass before");
    assert_eq!(
        read(&board, 9_999, 100),
        None,
        "from the first pass, and replaced: the ring holds 88 200 frames"
    );
    assert_eq!(read(&board, 78_999, 1), is(78_999, 1, 0.0));
    assert_eq!(read(&board, 78_999, 2), None, "never played");
    assert_eq!(read(&board, i64::MIN, 100), None);
    play(30_000, 1.0, 70_000);
    assert_eq!(read(&board, 36_000, 100), is(36_000, 100, 1.0));
    assert_eq!(read(&board, 11_000, 100), None, "replaced");
    assert_eq!(read(&board, 90_000, 10_000), is(90_000, 10_000, 1.0), "over the ring's own seam");
}

#[test]
fn a_mono_layer_gives_its_channel_twice_and_no_number_is_silence() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut board = BoardReader::new(Ok(folder.clone()));
    let mut layer = BoardWriter::make(&folder, head(1), crate::clock::zero_secs(), None).unwrap();
    let at = Position { grid: Grid::Clock, sample: 77 };
    layer.audio(at, &[&[1.0, f32::NAN, f32::NEG_INFINITY, 1e30, -0.5]]);
    board.round(ms(0), true);
    let mut to = vec![vec![9.0; 5], vec![9.0; 5]];
    assert!(board.read_audio(LayerId(1), Grid::Clock, 77, &mut to), "the clock's zeros cancel");
    assert_eq!(to, vec![vec![1.0, 0.0, 0.0, 1e6, -0.5]; 2]);
    assert!(!board.read_audio(LayerId(2), Grid::Clock, 77, &mut to));
}

#[test]
fn a_stand_comes_back_when_its_file_was_removed_or_cut() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut board = BoardReader::new(Ok(folder.clone()));
    let mut publisher = Publisher::new(Ok(folder), Born { id: LayerId(7), at: 7 });
    let identity = Identity { name: "bell".into(), role: Role::Natural, colour: None };
    publisher.introduce(&identity, 'C');
    publisher.open(SampleRate::new(22_050).unwrap(), 1, ms(0));
    publisher.digest(&song(1));
    board.round(ms(0), true);
    assert_eq!(names(&board, 'C'), ["bell"]);
    // Windows does not truncate or remove a mapped file (`SetEndOfFile`, `DeleteFile` in its documentation).
    let ways: &[bool] = if cfg!(unix) { &[true, false, true] } else { &[] };
    for (k, cut) in ways.iter().copied().enumerate() {
        let path = std::fs::read_dir(&scratch.0).unwrap().next().unwrap().unwrap().path();
        if cut {
            std::fs::OpenOptions::new().write(true).open(&path).unwrap().set_len(100).unwrap();
        } else {
            std::fs::remove_file(&path).unwrap();
        }
        let now = ms(1_000 * (k as u64 + 1));
        // Neither the owner nor a reader touches memory beyond the end of the file.
        publisher.digest(&song(2));
        board.round(now, true);
        publisher.round((true, false, 0), Position::default(), now);
        publisher.digest(&song(3));
        board.round(now + ms(100), true);
        assert_eq!(names(&board, 'C'), ["bell"], "{k}");
        assert_eq!(board.session('C').next().unwrap().recent.back(), Some(&song(3)));
        assert_eq!(publisher.alone(), None);
    }
    drop(publisher);
    board.round(ms(9_000), true);
    assert_eq!((names(&board, 'C').len(), scratch.files()), (0, 0));
}

#[test]
fn a_stand_without_a_folder_says_why() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut publisher = Publisher::new(Ok(folder), Born { id: LayerId(7), at: 7 });
    std::fs::remove_dir(&scratch.0).unwrap();
    std::fs::write(&scratch.0, "a file").unwrap();
    publisher.open(SampleRate::new(22_050).unwrap(), 1, ms(0));
    publisher.digest(&song(1));
    assert!(publisher.alone().unwrap().contains("could not be made"), "{:?}", publisher.alone());
    std::fs::remove_file(&scratch.0).unwrap();
    publisher.round((true, false, 0), Position::default(), ms(4_000));
    assert!(publisher.alone().is_some(), "not tried again yet");
    publisher.round((true, false, 0), Position::default(), ms(5_000));
    assert_eq!((publisher.alone(), scratch.files()), (None, 1));
    let publisher = Publisher::new(Err("there is none".into()), Born { id: LayerId(7), at: 7 });
    assert_eq!(publisher.alone(), Some("there is none"));
}

#[test]
fn a_mix_that_nobody_looks_at_keeps_an_account_only_where_there_is_something_to_count() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut board = BoardReader::new(Ok(folder.clone()));
    let mut layers: Vec<_> = (1..6).map(|id| own(&folder, head(id))).collect();
    layers.iter_mut().for_each(|l| l.set_head(|h| h.identity.role = Role::Mix));
    let keep = |board: &BoardReader| -> Vec<u64> {
        (1..6).filter(|id| board.needs_account('A', LayerId(*id))).collect()
    };
    board.round(ms(0), true);
    assert_eq!(keep(&board), <[u64; 0]>::default(), "nobody has set a role");
    layers[1].set_head(|h| h.identity.role = Role::Voice);
    board.round(ms(10), true);
    assert_eq!(keep(&board), [1, 3]);
}
