//! The files of this process's own layers, which its reader sees through the writers' mappings.

use super::super::digests::sample;
use super::super::reader::BoardReader;
use super::super::writer::BoardWriter;
#[cfg(target_os = "linux")]
use super::own;
use super::{Scratch, head, ms, offered};
use plumbline_measure::{Digest, Grid, Position};
use plumbline_programme::LayerId;

/// Open files of this process in a folder.
#[cfg(target_os = "linux")]
fn open_in(scratch: &Scratch) -> usize {
    let handles = std::fs::read_dir("/proc/self/fd").unwrap().flatten();
    handles.filter(|fd| std::fs::read_link(fd.path()).is_ok_and(|file| file.starts_with(&scratch.0))).count()
}

#[test]
#[cfg(target_os = "linux")]
fn each_layer_of_this_process_takes_one_open_file() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut board = BoardReader::new(Ok(folder.clone()));
    let layers: Vec<BoardWriter> = (1..=20).map(|id| offered(&folder, head(id))).collect();
    for round in 0..3 {
        board.round(ms(1_000 * round), true);
        assert_eq!((board.session('A').count(), open_in(&scratch)), (20, 20), "round {round}");
    }
    let strangers: Vec<BoardWriter> = (21..=23).map(|id| own(&folder, head(id))).collect();
    board.round(ms(4_000), true);
    assert_eq!(
        (board.session('A').count(), open_in(&scratch)),
        (23, 20 + 2 * 3),
        "one more for a stranger's"
    );
    drop((layers, strangers));
    board.round(ms(5_000), true);
    assert_eq!((board.session('A').count(), open_in(&scratch), scratch.files()), (0, 0, 0));
}

#[test]
fn they_are_read_like_all_others_and_outlive_every_look() {
    let scratch = Scratch::new();
    let folder = scratch.folder();
    let mut boards = [(); 2].map(|()| BoardReader::new(Ok(folder.clone())));
    let mut layer = offered(&folder, head(1));
    let digest = Digest { grid: Grid::Song, ..sample(7) };
    layer.digest(&digest);
    layer.audio(Position { grid: Grid::Song, sample: 500 }, &[&[0.25; 100]]);
    // Looks at the lock included, and sweeps without interest.
    for (round, wanted) in [true, true, false, true, false, true].into_iter().enumerate() {
        for board in &mut boards {
            board.round(ms(2_500 * round as u64), wanted);
            let seen = board.session('A').next().map(|seen| seen.recent.iter().eq([&digest]));
            assert_eq!((seen, scratch.files()), (wanted.then_some(true), 1), "round {round}");
            let mut to = vec![vec![0.0; 100]];
            assert_eq!(board.read_audio(LayerId(1), Grid::Song, 500, &mut to), wanted);
            assert!(!wanted || to[0] == [0.25; 100]);
        }
    }
    let next = BoardWriter::make(&folder, super::Head { generation: 2, ..head(1) }, 0, Some(&layer)).unwrap();
    drop(layer);
    for board in &mut boards {
        board.round(ms(15_000), true);
        let seen = board.session('A').next().unwrap();
        assert_eq!((seen.head.generation, seen.taken), (2, 1), "another format");
    }
    drop(next);
    for board in &mut boards {
        board.round(ms(15_010), true);
        assert_eq!(board.session('A').count(), 0);
    }
    assert_eq!(scratch.files(), 0);
}
