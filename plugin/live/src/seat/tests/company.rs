use super::*;
use crate::board::Stand;
use crate::seat::account::Account;
use plumbline_measure::Analyzer;
use plumbline_programme::session::{SessionNote, Stretch};
use plumbline_programme::{Identity, LayerId, Mark, Question, Role, Session};
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
    rig.desk.order(|o| o.marks.clear());
    rig.round();
    assert_eq!(rig.seat.company.marks, []);
}

#[test]
fn every_layer_of_a_session_has_a_name_of_its_own_in_every_account() {
    let (_scratch, folder) = Scratch::new("names");
    let named = |id: u64, name: &str| {
        let mut stand = stand(&folder, id);
        let identity = Identity { name: name.to_owned(), role: Role::Foley, colour: None };
        stand.introduce(&identity, 'A');
        stand
    };
    let mut layers = [named(1, "Boom"), named(2, ""), named(3, "Boom"), named(4, ""), named(5, "Lavalier")];
    let mut board = Board::new(Ok(folder.clone()));
    let ms = Duration::from_millis;
    board.round(ms(0), true);
    let mut numbers = crate::board::Numbers::default();
    layers.iter_mut().for_each(|layer| layer.take_number(&board, &mut numbers, ms(0)));
    board.round(ms(10), true);
    let mut accounts = [Account::new(1), Account::new(2)];
    let names = |account: &mut Account, board: &Board, at: u64| {
        account.feed(board, 'A', ms(at));
        let session = ask(account, ms(at)).unwrap();
        let mut names: Vec<(u64, String)> =
            session.layers.iter().map(|line| (line.id.0, line.identity.name.clone())).collect();
        names.sort();
        for (id, name) in &names {
            assert_eq!(account.name(LayerId(*id)), *name, "findings name it as the table does");
        }
        names.into_iter().map(|(_, name)| name).collect::<Vec<_>>()
    };
    let expected = ["Boom (1)", "Layer 2", "Boom (3)", "Layer 4", "Lavalier"];
    for account in &mut accounts {
        assert_eq!(names(account, &board, 20), expected);
    }
    // Whoever leaves takes nobody's name along.
    let [first, second, rest @ ..] = layers;
    drop((first, second));
    board.round(ms(200), true);
    assert_eq!(names(&mut accounts[0], &board, 200), ["Boom", "Layer 4", "Lavalier"]);
    drop(rest);
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

/// A layer with its place on the board and the real analyser.
struct Player {
    desk: Arc<Desk>,
    seat: Seat<Analyzer>,
    tap: Tap,
    gain: f32,
}

impl Player {
    fn new(folder: &Folder, role: Role, gain: f32) -> Self {
        let desk = Arc::new(Desk::new());
        let lane =
            Lane { rate: SampleRate::new(48_000).unwrap(), channels: 2, side_channels: 0, offline: false };
        let link = Arc::new(Link::new(lane, Arc::clone(&desk.counts), None));
        desk.order(|o| {
            o.watched = true;
            o.identity = Identity { name: String::new(), role, colour: None };
            o.opened.push(Arc::clone(&link));
        });
        let mut seat = Seat::new(Arc::clone(&desk), Ok(folder.clone()));
        seat.round(Duration::ZERO);
        Self { seat, desk, tap: Tap::new(link), gain }
    }

    fn attend(&mut self, now: Duration, board: &Board) {
        let _ = self.seat.attend(now, board);
    }

    fn play(&mut self, tenths: std::ops::Range<i64>) {
        for tenth in tenths {
            let white =
                (0..4_800).map(|n: u32| self.gain * (n.wrapping_mul(2_654_435_769) >> 8) as f32 / 1e8);
            let block: Vec<f32> = white.collect();
            self.tap.push(song(4_800 * tenth), &[&block, &block], &[]);
        }
    }
}

#[test]
fn each_account_of_a_layer_has_a_number_of_its_own() {
    let (_scratch, folder) = Scratch::new("number");
    let mut board = Board::new(Ok(folder.clone()));
    let mut player = Player::new(&folder, Role::Natural, 0.1);
    let mut numbers = Vec::new();
    for step in 0..6 {
        // Looked at, not looked at, and again; in the end with another letter.
        player
            .desk
            .order(|o| (o.watched, o.letter) = (step != 1 && step != 3, if step < 5 { 'A' } else { 'B' }));
        let now = Duration::from_secs(step);
        player.seat.round(now);
        board.round(now, true);
        player.attend(now, &board);
        numbers.push(player.seat.company.account().map(Account::number));
    }
    assert_eq!(numbers, [Some(1), None, Some(2), None, Some(3), Some(4)]);
}

#[test]
fn layers_that_start_together_are_told_of_together_whoever_the_worker_came_to_first() {
    for late in 0..2 {
        let (_scratch, folder) = Scratch::new(&format!("together-{late}"));
        let mut board = Board::new(Ok(folder.clone()));
        let mut all = [Player::new(&folder, Role::Natural, 0.2), Player::new(&folder, Role::Foley, 0.1)];
        let mut now = Duration::from_secs(1);
        // The worker has passed the late one when audio comes to both.
        all[late].seat.round(now);
        all.iter_mut().for_each(|player| player.play(0..7));
        all[1 - late].seat.round(now);
        board.round(now, true);
        let heard = all[1 - late].seat.company.stand.id();
        assert!(board.layer(heard).is_some_and(|layer| layer.running), "it runs since this round");
        all.iter_mut().for_each(|player| player.attend(now, &board));
        let mut round = |all: &mut [Player; 2], millis: u64| {
            now += Duration::from_millis(millis);
            for player in all.iter_mut() {
                player.seat.round(now);
            }
            board.round(now, true);
            all.iter_mut().for_each(|player| player.attend(now, &board));
        };
        for tenth in 7..20 {
            round(&mut all, 40);
            all.iter_mut().for_each(|player| player.play(tenth..tenth + 1));
        }
        // As long as a beginning is held, and once more for a view.
        round(&mut all, 500);
        round(&mut all, 500);
        for player in &all {
            let lanes = Arc::clone(&lock(&player.desk.view).lanes);
            let columns: Vec<_> = lanes.columns.iter().filter(|column| column.tenths > 0).collect();
            assert!(columns.iter().map(|column| column.tenths).sum::<u32>() >= 18, "{lanes:?}");
            for column in columns {
                // Energies as 4 to 1.
                let share = |role: Role| column.shares[role.part().unwrap()].get().unwrap_or(-1.0);
                assert!((share(Role::Natural) - 0.8).abs() < 1e-3, "late {late}: {column:?}");
                assert!((share(Role::Foley) - 0.2).abs() < 1e-3, "late {late}: {column:?}");
            }
        }
    }
}
