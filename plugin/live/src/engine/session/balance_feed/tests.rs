use super::*;
use crate::board::{Folder, Publisher};
use crate::engine::tests::session::Scratch;
use plumbline_measure::{BandEdges, Digest, SampleRate};
use plumbline_programme::Role;

#[test]
fn every_layer_of_a_session_has_a_name_of_its_own_in_every_balance() {
    let (_scratch, folder) = Scratch::new("names");
    let named = |id: u64, name: &str| {
        let mut publisher = publisher(&folder, id);
        let identity = Identity { name: name.to_owned(), role: Role::Foley, colour: None };
        publisher.introduce(&identity, 'A');
        publisher
    };
    let mut layers = [named(1, "Boom"), named(2, ""), named(3, "Boom"), named(4, ""), named(5, "Lavalier")];
    let mut board = BoardReader::new(Ok(folder.clone()));
    let ms = Duration::from_millis;
    board.round(ms(0), true);
    let mut numbers = crate::board::Numbers::default();
    layers.iter_mut().for_each(|layer| layer.take_number(&board, &mut numbers, ms(0)));
    board.round(ms(10), true);
    let mut feeds = [BalanceFeed::new(1), BalanceFeed::new(2)];
    let names = |feed: &mut BalanceFeed, board: &BoardReader, at: u64| {
        feed.take(board, 'A', ms(at));
        let session = ask(feed, ms(at)).unwrap();
        let mut names: Vec<(u64, String)> =
            session.layers.iter().map(|line| (line.id.0, line.identity.name.clone())).collect();
        names.sort();
        for (id, name) in &names {
            assert_eq!(feed.name(LayerId(*id)), *name, "findings name it as the table does");
        }
        names.into_iter().map(|(_, name)| name).collect::<Vec<_>>()
    };
    let expected = ["Boom (1)", "Layer 2", "Boom (3)", "Layer 4", "Lavalier"];
    for feed in &mut feeds {
        assert_eq!(names(feed, &board, 20), expected);
    }
    // A layer that leaves does not change the other layers' names unless the names had to tell it apart from them.
    let [first, second, rest @ ..] = layers;
    drop((first, second));
    board.round(ms(200), true);
    assert_eq!(names(&mut feeds[0], &board, 200), ["Boom", "Layer 4", "Lavalier"]);
    drop(rest);
}

fn tenth(index: i64) -> Digest {
    Digest { grid: Grid::Song, index, length: 4_800, frames: 4_800, k: 0.1, ..Digest::default() }
}

fn publisher(folder: &Folder, id: u64) -> Publisher {
    let mut publisher = Publisher::new(Ok(folder.clone()), crate::board::Born { id: LayerId(id), at: id });
    let role = if id == 1 { Role::Mix } else { Role::Foley };
    publisher.introduce(&Identity { name: String::new(), role, colour: None }, 'A');
    publisher.open(SampleRate::new(48_000).unwrap(), 1, Duration::ZERO);
    publisher
}

fn ask(feed: &mut BalanceFeed, now: Duration) -> Option<Session> {
    let edges = BandEdges::default();
    feed.ask(now, Question { peers: &[], own: LayerId(1), marks: &[], edges: &edges, pair: None, at: None })
}

#[test]
fn a_balance_takes_each_tenth_once_answers_in_steps_and_forgets_who_left() {
    let (_scratch, folder) = Scratch::new("balance");
    let mut layers = [publisher(&folder, 1), publisher(&folder, 2), publisher(&folder, 3)];
    let mut board = BoardReader::new(Ok(folder.clone()));
    let mut feed = BalanceFeed::new(1);
    let ms = Duration::from_millis;
    for layer in &mut layers {
        (0..10).for_each(|k| layer.digest(&tenth(k)));
    }
    let mut round = |feed: &mut BalanceFeed, at: u64| {
        board.round(ms(at), true);
        feed.take(&board, 'A', ms(at));
        ask(feed, ms(at))
    };
    let session = round(&mut feed, 0).unwrap();
    assert_eq!(session.layers.len(), 3);
    assert!((session.secs[Stretch::Programme.place()] - 1.0).abs() < 1e-9, "{:?}", session.secs);
    layers[1].digest(&tenth(10));
    assert_eq!(round(&mut feed, 99), None, "too early");
    let session = round(&mut feed, 100).unwrap();
    assert!((session.secs[2] - 1.1).abs() < 1e-9, "{:?}", session.secs);
    assert_eq!(round(&mut feed, 300), None, "nothing new");
    let [first, second, third] = layers;
    drop(third);
    let session = round(&mut feed, 400).unwrap();
    assert_eq!(session.layers.len(), 2);
    assert_eq!(session.layers.iter().map(|l| l.parts[2].share).collect::<Vec<_>>(), [Some(1.0), None]);
    // It comes back with nothing new: its earlier tenths are not counted again.
    let third = publisher(&folder, 3);
    let session = round(&mut feed, 600).unwrap();
    let line = session.layer(LayerId(3)).unwrap();
    assert_eq!(line.parts[2].loudness_lufs, None);
    drop((first, second, third));
}

#[test]
fn a_reset_leaves_out_what_was_still_on_its_way() {
    let (_scratch, folder) = Scratch::new("reset");
    let mut layer = publisher(&folder, 2);
    let mut board = BoardReader::new(Ok(folder.clone()));
    let mut feed = BalanceFeed::new(1);
    let ms = Duration::from_millis;
    (0..10).for_each(|k| layer.digest(&tenth(k)));
    board.round(ms(0), true);
    feed.take(&board, 'A', ms(0));
    // The reset fell into tenth 12: 10 and 11 come out later but are from before it. So are the older tenths of a layer
    // found only now.
    feed.clear(Some((Grid::Song, 12)), ms(0));
    (10..17).for_each(|k| layer.digest(&tenth(k)));
    let mut late = publisher(&folder, 3);
    (0..15).for_each(|k| late.digest(&tenth(k)));
    board.round(ms(100), true);
    feed.take(&board, 'A', ms(100));
    let session = ask(&mut feed, ms(100)).unwrap();
    assert!((session.secs[2] - 0.5).abs() < 1e-9, "{:?}", session.secs);
}
