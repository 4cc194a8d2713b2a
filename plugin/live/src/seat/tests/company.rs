use super::*;
use crate::board::Stand;
use crate::seat::account::Account;
use plumbline_measure::session::{SessionNote, Stretch};
use plumbline_measure::{Identity, LayerId, Mark, Question, Role, Session};
use std::path::PathBuf;

struct Scratch(PathBuf);

impl Scratch {
    fn new(name: &str) -> (Self, Folder) {
        let path = std::env::temp_dir().join(format!("plumbline-seat-{name}-{}", std::process::id()));
        let folder = Folder::at(path.clone()).unwrap();
        (Self(path), folder)
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

#[test]
fn a_layer_without_a_board_says_that_it_is_alone_and_why() {
    let mut rig = Rig::new();
    let view = rig.round();
    assert_eq!(view.session.notes, [SessionNote::Alone("no board here".to_owned())]);
    assert_eq!(view.session.letter, 'A');
}

#[test]
fn marks_stand_at_the_tenth_of_the_newest_sample_ascending_once_and_not_too_many() {
    let mut rig = Rig::new();
    rig.desk.order(|o| o.mark = true);
    rig.round();
    assert_eq!(rig.seat.company.marks, [], "nothing was heard yet, so there is no position");
    let mut tap = rig.open(48_000, 2);
    // The newest sample is the last of a tenth, the first of the next, one more of it, and one far before.
    for newest in [4_799, 4_800, 4_801, -96_000] {
        push(&mut tap, song(newest - 63), 0.0, 64);
        rig.round();
        rig.desk.order(|o| o.mark = true);
        rig.round();
    }
    let mark = |index| Mark { grid: Grid::Song, index };
    assert_eq!(rig.seat.company.marks, [mark(-20), mark(0), mark(1)]);
    for index in 2..2_000 {
        rig.seat.company.mark(mark(index));
    }
    assert_eq!(rig.seat.company.marks.len(), 1_000);
    assert_eq!(rig.seat.company.marks[999], mark(1_999));
    rig.desk.order(|o| o.clear_marks = true);
    rig.round();
    assert_eq!(rig.seat.company.marks, []);
}

fn tenth(index: i64) -> Digest {
    Digest { grid: Grid::Song, index, length: 4_800, frames: 4_800, k: 0.1, ..Digest::default() }
}

fn stand(folder: &Folder, id: u64) -> Stand {
    let mut stand = Stand::new(Ok(folder.clone()), crate::board::Born { id: LayerId(id), at: id });
    let role = if id == 1 { Role::Mix } else { Role::Foley };
    stand.introduce(&Identity { name: String::new(), role, colour: None }, 'A');
    stand.open(SampleRate::new(48_000).unwrap(), 1, Duration::ZERO);
    stand
}

fn ask(account: &mut Account, now: Duration) -> Option<Session> {
    let edges = BandEdges::default();
    account
        .ask(now, Question { peers: &[], own: LayerId(1), marks: &[], edges: &edges, pair: None, at: None })
}

#[test]
fn an_account_takes_each_tenth_once_answers_in_steps_and_forgets_who_left() {
    let (_scratch, folder) = Scratch::new("account");
    let mut layers = [stand(&folder, 1), stand(&folder, 2), stand(&folder, 3)];
    let mut board = Board::new(Ok(folder.clone()));
    let mut account = Account::new(1);
    let ms = Duration::from_millis;
    for layer in &mut layers {
        (0..10).for_each(|k| layer.digest(&tenth(k)));
    }
    let mut round = |account: &mut Account, at: u64| {
        board.round(ms(at), true);
        account.feed(&board, 'A', ms(at));
        ask(account, ms(at))
    };
    let session = round(&mut account, 0).unwrap();
    assert_eq!(session.layers.len(), 3);
    assert!((session.secs[Stretch::Programme.place()] - 1.0).abs() < 1e-9, "{:?}", session.secs);
    layers[1].digest(&tenth(10));
    assert_eq!(round(&mut account, 99), None, "too early");
    let session = round(&mut account, 100).unwrap();
    assert!((session.secs[2] - 1.1).abs() < 1e-9, "{:?}", session.secs);
    assert_eq!(round(&mut account, 300), None, "nothing new");
    let [first, second, third] = layers;
    drop(third);
    let session = round(&mut account, 400).unwrap();
    assert_eq!(session.layers.len(), 2);
    assert_eq!(session.layers.iter().map(|l| l.parts[2].share).collect::<Vec<_>>(), [Some(1.0), None]);
    // It comes back, and has said nothing since: what it said before it left is not counted again.
    let third = stand(&folder, 3);
    let session = round(&mut account, 600).unwrap();
    let line = session.layer(LayerId(3)).unwrap();
    assert_eq!(line.parts[2].loudness_lufs, None);
    drop((first, second, third));
}

#[test]
fn a_reset_leaves_out_what_was_still_on_its_way() {
    let (_scratch, folder) = Scratch::new("reset");
    let mut layer = stand(&folder, 2);
    let mut board = Board::new(Ok(folder.clone()));
    let mut account = Account::new(1);
    let ms = Duration::from_millis;
    (0..10).for_each(|k| layer.digest(&tenth(k)));
    board.round(ms(0), true);
    account.feed(&board, 'A', ms(0));
    // The reset fell into tenth 12: 10 and 11 come out later, and are from before. A layer that is met only now
    // brings its older tenths, which are from before as well.
    account.clear(Some((Grid::Song, 12)), ms(0));
    (10..17).for_each(|k| layer.digest(&tenth(k)));
    let mut late = stand(&folder, 3);
    (0..15).for_each(|k| late.digest(&tenth(k)));
    board.round(ms(100), true);
    account.feed(&board, 'A', ms(100));
    let session = ask(&mut account, ms(100)).unwrap();
    assert!((session.secs[2] - 0.5).abs() < 1e-9, "{:?}", session.secs);
}
