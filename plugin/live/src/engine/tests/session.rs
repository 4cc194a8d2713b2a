use super::*;
use plumbline_measure::Analyzer;
use plumbline_programme::session::SessionNote;
use plumbline_programme::{Identity, Mark, Role};
use std::path::PathBuf;

/// A folder that is removed with the test.
pub(in crate::engine) struct Scratch(PathBuf);

impl Scratch {
    pub(in crate::engine) fn new(name: &str) -> (Self, Folder) {
        let path = std::env::temp_dir().join(format!("plumbline-engine-{name}-{}", std::process::id()));
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
    rig.shared.ask(|inbox| inbox.commands.push(Command::Mark));
    rig.round();
    assert_eq!(rig.engine.parts.marks.list(), [], "nothing was heard yet, so there is no position");
    let mut tap = rig.open(48_000, 2);
    // The latest sample is the last of a tenth, the first of the next, the second of it, and one far before.
    for newest in [4_799, 4_800, 4_801, -96_000] {
        push(&mut tap, song(newest - 63), 0.0, 64);
        rig.round();
        rig.shared.ask(|inbox| inbox.commands.push(Command::Mark));
        rig.round();
    }
    let mark = |index| Mark { grid: Grid::Song, index };
    assert_eq!(rig.engine.parts.marks.list(), [mark(-20), mark(0), mark(1)]);
    for index in 2..2_000 {
        rig.engine.parts.marks.put(mark(index));
    }
    assert_eq!(rig.engine.parts.marks.list().len(), 1_000);
    assert_eq!(rig.engine.parts.marks.list()[999], mark(1_999));
    rig.shared.ask(|inbox| inbox.commands.push(Command::ReplaceMarks(Vec::new())));
    rig.round();
    assert_eq!(rig.engine.parts.marks.list(), []);
}

/// A layer with its place on the board and the real analyser.
struct Player {
    shared: Arc<SharedState>,
    engine: LayerEngine<Analyzer>,
    tap: Tap,
    gain: f32,
}

impl Player {
    fn new(folder: &Folder, role: Role, gain: f32) -> Self {
        let shared = Arc::new(SharedState::new());
        let format = StreamFormat {
            rate: SampleRate::new(48_000).unwrap(),
            channels: 2,
            side_channels: 0,
            offline: false,
        };
        let queue = Arc::new(AudioQueue::new(format, Arc::clone(&shared.counts), Arc::default()));
        shared.ask(|inbox| {
            inbox.settings.watched = true;
            inbox.settings.identity = Identity { name: String::new(), role, colour: None };
            inbox.opened.push(Arc::clone(&queue));
        });
        let mut engine = LayerEngine::new(Arc::clone(&shared), Ok(folder.clone()));
        engine.round(Duration::ZERO);
        Self { engine, shared, tap: Tap::new(queue), gain }
    }

    fn attend(&mut self, now: Duration, board: &BoardReader) {
        let _ = self.engine.attend(now, board);
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
fn each_balance_of_a_layer_has_a_number_of_its_own() {
    let (_scratch, folder) = Scratch::new("number");
    let mut board = BoardReader::new(Ok(folder.clone()));
    let mut player = Player::new(&folder, Role::Natural, 0.1);
    let mut numbers = Vec::new();
    for step in 0..6 {
        // Watched, not watched, and so on; the last time with another letter.
        player.shared.ask(|inbox| {
            inbox.settings.watched = step != 1 && step != 3;
            inbox.settings.session = if step < 5 { 'A' } else { 'B' };
        });
        let now = Duration::from_secs(step);
        player.engine.round(now);
        board.round(now, true);
        player.attend(now, &board);
        numbers.push(player.engine.parts.session.feed().map(|feed| feed.number()));
    }
    assert_eq!(numbers, [Some(1), None, Some(2), None, Some(3), Some(4)]);
}

#[test]
fn layers_that_start_together_are_joined_together_whoever_the_worker_came_to_first() {
    for late in 0..2 {
        let (_scratch, folder) = Scratch::new(&format!("together-{late}"));
        let mut board = BoardReader::new(Ok(folder.clone()));
        let mut all = [Player::new(&folder, Role::Natural, 0.2), Player::new(&folder, Role::Foley, 0.1)];
        let mut now = Duration::from_secs(1);
        // The worker has already served the late layer when audio arrives at both.
        all[late].engine.round(now);
        all.iter_mut().for_each(|player| player.play(0..7));
        all[1 - late].engine.round(now);
        board.round(now, true);
        let heard = all[1 - late].engine.parts.publisher.id();
        assert!(board.layer(heard).is_some_and(|layer| layer.running), "it runs since this round");
        all.iter_mut().for_each(|player| player.attend(now, &board));
        let mut round = |all: &mut [Player; 2], millis: u64| {
            now += Duration::from_millis(millis);
            for player in all.iter_mut() {
                player.engine.round(now);
            }
            board.round(now, true);
            all.iter_mut().for_each(|player| player.attend(now, &board));
        };
        for tenth in 7..20 {
            round(&mut all, 40);
            all.iter_mut().for_each(|player| player.play(tenth..tenth + 1));
        }
        // Long enough for the first tenths that are held back, then for a view.
        round(&mut all, 500);
        round(&mut all, 500);
        for player in &all {
            let lanes = Arc::clone(&lock(&player.shared.view).lanes);
            let columns: Vec<_> = lanes.columns.iter().filter(|column| column.tenths > 0).collect();
            assert!(columns.iter().map(|column| column.tenths).sum::<u32>() >= 18, "{lanes:?}");
            for column in columns {
                // Energies are 4 to 1.
                let share = |role: Role| column.shares[role.part().unwrap()].get().unwrap_or(-1.0);
                assert!((share(Role::Natural) - 0.8).abs() < 1e-3, "late {late}: {column:?}");
                assert!((share(Role::Foley) - 0.2).abs() < 1e-3, "late {late}: {column:?}");
            }
        }
    }
}
