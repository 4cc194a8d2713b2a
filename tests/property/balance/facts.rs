//! The readings of a session's layers other than their shares, on synthetic scenes.

use plumbline_measure::cross::Stored;
use plumbline_measure::loudness::mean_square_of;
use plumbline_measure::{Digest, Grid};
use plumbline_programme::session::MOST_LAYERS;
use plumbline_programme::{Balance, Identity, LayerId, Peer, Role, Session};
use plumbline_tests::cases::Cases;
use plumbline_tests::layers::{Asked, made, peer, shaped};
use plumbline_tests::signal::Noise;

fn ids(session: &Session) -> Vec<u64> {
    session.layers.iter().map(|line| line.id.0).collect()
}

fn named(id: u64, role: Role, name: &str) -> Peer {
    Peer { identity: Identity { name: name.to_owned(), role, colour: None }, ..peer(id, role) }
}

#[test]
fn layers_stand_by_role_name_and_number_and_the_first_sixty_four_count() {
    let mut cases = Cases::new("order of the layers, and how many count");
    let peers = [
        named(1, Role::Mix, "a"),
        named(2, Role::Foley, "stone"),
        named(9, Role::Natural, "yard"),
        named(4, Role::Foley, "rope"),
        named(3, Role::Natural, "yard"),
        named(4, Role::Music, "the same number again"),
    ];
    let session = Asked::by(2).of(&mut Balance::default(), &peers);
    cases.holds("by role, then name, then number", ids(&session) == [3, 9, 4, 2, 1]);
    cases.holds("own", session.layers.iter().all(|line| line.own == (line.id.0 == 2)));
    cases.holds("layers of the roles", session.roles.map(|r| r.layers) == [2, 2, 0, 0, 0]);

    let mut balance = Balance::default();
    let crowd: Vec<Peer> = (0..66).map(|id| peer(id, Role::Voice)).collect();
    for id in 0..66 {
        balance.take(LayerId(id), &made(Grid::Song, 0, 0.01));
    }
    let session = Asked::by(65).of(&mut balance, &crowd);
    cases.holds("the first 64", session.layers.len() == MOST_LAYERS && session.layer(LayerId(64)).is_none());
    let share = session.layer(LayerId(0)).and_then(|line| line.parts[1].share);
    cases.near("their shares", share, 1.0 / 64.0, 1e-9);
    cases.end(5);
}

#[test]
fn the_mix_that_is_meant_is_the_asking_one_or_the_loudest() {
    let mut cases = Cases::new("which mix the layers are compared with");
    let mut balance = Balance::default();
    for index in 0..10 {
        for (id, k) in [(1, 0.01), (2, 0.02), (3, 0.04), (4, 0.02)] {
            balance.take(LayerId(id), &made(Grid::Song, index, k));
        }
    }
    let peers = [peer(1, Role::Mix), peer(2, Role::Natural), peer(3, Role::Mix), peer(4, Role::Natural)];
    for (own, mix, unaccounted) in [(1, 1, 0.25), (2, 3, 1.0), (3, 3, 1.0), (99, 3, 1.0)] {
        let session = Asked::by(own).of(&mut balance, &peers);
        cases.holds(format!("asked by {own}"), session.mix == Some(LayerId(mix)));
        for stretch in 0..3 {
            let expected = 10.0 * f64::log10(unaccounted);
            cases.near(format!("asked by {own}"), session.unaccounted[stretch].db, expected, 1e-6);
        }
    }
    let without = Asked::by(2).of(&mut balance, &[peers[1].clone(), peers[3].clone()]);
    cases.holds("no mix", without.mix.is_none() && without.unaccounted.iter().all(|u| u.db.is_none()));
    cases.end(17);
}

#[test]
fn a_song_position_is_missed_only_while_another_layer_tells_one() {
    let mut cases = Cases::new("on_song");
    let peers = [peer(1, Role::Natural), peer(2, Role::Foley), peer(3, Role::Music)];
    let mut balance = Balance::default();
    let on_song = |balance: &mut Balance| {
        let session = Asked::by(1).of(balance, &peers);
        [1, 2, 3].map(|id| session.layer(LayerId(id)).is_some_and(|line| line.on_song))
    };
    (1..=2).for_each(|id| balance.take(LayerId(id), &made(Grid::Clock, 5, 0.01)));
    cases.holds("the transport is stopped", on_song(&mut balance) == [true; 3]);
    balance.take(LayerId(1), &made(Grid::Song, 5, 0.01));
    cases.holds("one reports, two do not", on_song(&mut balance) == [true, false, false]);
    balance.take(LayerId(2), &made(Grid::Song, 5, 0.01));
    balance.take(LayerId(2), &made(Grid::Clock, 6, 0.01));
    cases.holds("told before", on_song(&mut balance) == [true, true, false]);
    balance.clear();
    balance.take(LayerId(1), &made(Grid::Song, 6, 0.01));
    cases.holds("a reset keeps it", on_song(&mut balance) == [true, true, false]);
    cases.end(4);
}

/// A tenth with a given width: left and right of one third.
fn wide(index: i64, ll: f32, rr: f32, re: f32) -> Digest {
    let mut digest = shaped(Grid::Song, index, 0.01, |_| 0.0);
    digest.thirds[17] = Stored { ll, rr, re };
    digest
}

#[test]
fn readings_of_the_newest_three_seconds() {
    let mut cases = Cases::new("levels, side share and mono loss over 3 s");
    let mut balance = Balance::default();
    let peers = [peer(1, Role::Natural), peer(2, Role::Foley)];
    // The 3 s are mono except for the last ten tenths, which are unrelated; other sound precedes them.
    for index in 0..60 {
        let digest = if index < 30 { wide(index, 0.3, 0.0, 0.0) } else { wide(index, 0.01, 0.01, 0.01) };
        balance.take(LayerId(1), &if index < 50 { digest } else { wide(index, 0.01, 0.01, 0.0) });
        // The other layer reports every second tenth, the first ten without a frame of its longest window.
        if index % 2 == 1 {
            let heard = if index < 40 { 6 } else { 7 };
            balance.take(LayerId(2), &Digest { heard, ..shaped(Grid::Song, index, 0.01, |_| 0.02) });
        }
    }
    let session = Asked::by(1).of(&mut balance, &peers);
    let [first, second] = [1, 2].map(|id| session.layer(LayerId(id)).expect("there").clone());
    cases.near("level", first.thirds_dbfs[17].get(), 10.0 * 0.02_f64.log10(), 0.02);
    cases.absent("a third without sound", first.thirds_dbfs[3].get());
    cases.near("side share", first.side_share, 1.0 / 6.0, 1e-6);
    cases.near("mono loss", first.mono_loss_db, 10.0 * (1.0 - 1.0_f64 / 6.0).log10(), 1e-5);
    // Fifteen of thirty tenths were reported; the five without a long frame do not count in the lows.
    cases.near("highs", second.thirds_dbfs[25].get(), 10.0 * (0.02 * 15.0_f64 / 30.0).log10(), 0.03);
    cases.near("lows", second.thirds_dbfs[5].get(), 10.0 * (0.02 * 10.0_f64 / 25.0).log10(), 0.03);
    // A repeated tenth counts once: the last two are sent three times, with polarity inverted.
    for index in [58, 59, 58, 59, 58, 59] {
        balance.take(LayerId(1), &wide(index, 0.01, 0.01, -0.01));
    }
    let side = Asked::by(1).of(&mut balance, &peers).layer(LayerId(1)).and_then(|line| line.side_share);
    cases.near("side share after a loop", side, (8.0 * 0.5 + 2.0) / 30.0, 1e-6);
    // Damage to one tenth does not affect the others.
    balance.take(LayerId(1), &wide(59, f32::INFINITY, 0.01, 0.0));
    let session = Asked::by(1).of(&mut balance, &peers);
    let side = session.layer(LayerId(1)).and_then(|line| line.side_share);
    cases.near("side share beside damage", side, (8.0 * 0.5 + 2.0) / 30.0, 1e-6);
    // A layer that stopped long ago has no current readings.
    for index in 60..100 {
        balance.take(LayerId(1), &wide(index, 0.01, 0.01, 0.01));
    }
    let session =
        Asked::by(1).of(&mut balance, &[peers[0].clone(), Peer { running: false, ..peers[1].clone() }]);
    let second = session.layer(LayerId(2)).expect("there");
    cases.absent("side share of a layer that stopped", second.side_share);
    cases.absent("its level", second.thirds_dbfs[25].get());
    cases.near("its share", second.parts[0].share, 0.0, 0.0);
    cases.end(11);
}

#[test]
fn a_passage_ends_before_the_next_mark() {
    let mut balance = Balance::default();
    for index in (0..100).chain([20]) {
        balance.take(LayerId(1), &made(Grid::Song, index, 0.01));
    }
    let mut cases = Cases::new("the passage around a position, between marks on both sides");
    for (marks, secs) in
        [(vec![10, 50], 4.0), (vec![20, 21], 0.1), (vec![21], 2.1), (vec![20], 8.0), (vec![], 10.0)]
    {
        let asked = Asked { marks: marks.clone(), ..Asked::by(1) };
        let session = asked.of(&mut balance, &[peer(1, Role::Foley)]);
        cases.near(format!("marks {marks:?}"), session.secs[1], secs, 1e-12);
    }
    cases.end(5);
}

#[test]
fn what_is_too_quiet_has_no_share() {
    let peers = [peer(1, Role::Foley), peer(2, Role::Natural)];
    let mut cases = Cases::new("shares from −70 LUFS of the sum on");
    for (lufs, there) in [(-72.0, false), (-69.0, true)] {
        let mut balance = Balance::default();
        for index in 0..30 {
            // Two layers, each 3.01 dB below the sum.
            let k = mean_square_of(lufs) / 2.0;
            balance.take(LayerId(1), &made(Grid::Song, index, k));
            balance.take(LayerId(2), &made(Grid::Song, index, k));
        }
        let session = Asked::by(1).of(&mut balance, &peers);
        for part in session.layers.iter().flat_map(|line| line.parts) {
            let expected = there.then_some(0.5);
            cases.holds(format!("{lufs} LUFS: {part:?}"), part.share == expected);
            cases.holds(format!("{lufs} LUFS: {part:?}"), part.loudness_lufs.is_none());
        }
    }
    cases.end(24);
}

#[test]
fn a_silent_layer_is_not_covered() {
    let mut balance = Balance::default();
    for index in 0..30 {
        balance.take(LayerId(1), &shaped(Grid::Song, index, 1e-9, |_| 1e-10));
        balance.take(LayerId(2), &shaped(Grid::Song, index, 1e-2, |_| 1e-3));
    }
    let peers = [peer(1, Role::Foley), peer(2, Role::Natural)];
    let session = Asked::by(1).of(&mut balance, &peers);
    assert!(session.layers.iter().all(|line| line.covered.is_none()), "{session:?}");
}

#[test]
fn a_layer_later_than_the_mix_is_flagged() {
    let mut cases = Cases::new("late: envelopes of the latest 30 s against the mix");
    let peers = [peer(0, Role::Mix), peer(1, Role::Natural), peer(2, Role::Foley), peer(3, Role::Design)];
    let mut noise = Noise::new(0x1A7E);
    // Events at random levels and intervals; and steady noise that varies by 5 % between tenths.
    let mut events = Vec::new();
    while events.len() < 400 {
        let level = 10.0_f64.powf(-1.5 - 2.0 * noise.uniform());
        let length = 1 + usize::try_from(noise.bits() % 6).expect("small");
        events.extend(std::iter::repeat_n(level, length));
    }
    let steady: Vec<f64> = (0..400).map(|_| 1e-3 * (1.0 + 0.05 * noise.gauss())).collect();
    for (late, tenths, plain) in [(3, 300, true), (-4, 300, true), (0, 300, false), (3, 150, false)] {
        let mut balance = Balance::default();
        for at in 0..tenths {
            let event = |by: i64| events[usize::try_from(i64::from(at) + 20 - by).expect("inside")];
            let still = steady[usize::try_from(at).expect("small")];
            let index = i64::from(at);
            balance.take(LayerId(0), &made(Grid::Song, index, event(0) + 1e-4));
            balance.take(LayerId(1), &made(Grid::Song, index, event(late)));
            balance.take(LayerId(2), &made(Grid::Song, index, still));
        }
        let session = Asked::by(0).of(&mut balance, &peers);
        let of = |id| session.layer(LayerId(id)).and_then(|line| line.late_secs);
        let name = format!("{late} tenths late, {tenths} heard");
        if plain {
            cases.near(&name, of(1), late as f64 / 10.0, 0.02);
        } else {
            cases.absent(&name, of(1));
        }
        cases.absent(format!("{name}: steady"), of(2));
        cases.absent(format!("{name}: never heard"), of(3));
        cases.absent(format!("{name}: the mix itself"), of(0));
    }
    // Steady noise and its delayed copy: there is a delay, but not a clear one.
    let mut balance = Balance::default();
    for at in 0..300_usize {
        let index = i64::try_from(at).expect("small");
        balance.take(LayerId(0), &made(Grid::Song, index, steady[at + 5]));
        balance.take(LayerId(1), &made(Grid::Song, index, steady[at]));
    }
    let session = Asked::by(0).of(&mut balance, &peers[..2]);
    cases.absent("steady noise", session.layer(LayerId(1)).and_then(|line| line.late_secs));
    cases.end(17);
}
