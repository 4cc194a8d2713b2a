//! Damaged digests, which no analyser sends.

use crate::strategies::holds_for;
use plumbline_measure::cross::Stored;
use plumbline_measure::{Digest, Grid};
use plumbline_programme::{Balance, BalanceTarget, LayerId, Role, Session};
use plumbline_tests::layers::{Asked, made, peer};
use proptest::prelude::*;

fn doubles() -> impl Strategy<Value = f64> {
    prop_oneof![
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(f64::NEG_INFINITY),
        Just(-1.0),
        Just(f64::MAX),
        Just(f64::MIN_POSITIVE),
        Just(1e30),
        Just(0.0),
        0.0..1.0_f64,
        any::<f64>(),
    ]
}

fn indices() -> impl Strategy<Value = i64> {
    prop_oneof![
        Just(i64::MIN),
        Just(i64::MIN + 1),
        Just(i64::MAX),
        Just(i64::MAX - 3),
        Just(0),
        any::<i64>(),
        -40_i64..40,
    ]
}

#[expect(clippy::cast_possible_truncation, reason = "damage is the purpose")]
fn digests() -> impl Strategy<Value = Digest> {
    let counts = || prop_oneof![Just(0), Just(u32::MAX), Just(4_800), any::<u32>()];
    let third =
        || [doubles(), doubles(), doubles()].prop_map(|[ll, rr, re]| (ll as f32, rr as f32, re as f32));
    (
        (any::<bool>(), indices(), counts(), counts(), counts()),
        (doubles(), any::<u8>(), prop::collection::vec(third(), 31)),
    )
        .prop_map(|((song, index, length, frames, lost), (k, heard, thirds))| {
            let grid = if song { Grid::Song } else { Grid::Clock };
            let thirds =
                std::array::from_fn(|t| Stored { ll: thirds[t].0, rr: thirds[t].1, re: thirds[t].2 });
            Digest { grid, index, length, frames, lost, k, heard, thirds }
        })
}

/// Whether a session has no NaN, and infinity only where that has a defined meaning.
fn is_sound(session: &Session) -> bool {
    let told = format!("{:?} {:?} {:?}", session.layers, session.roles, session.matched);
    let losses = session.layers.iter().filter(|l| l.mono_loss_db == Some(f64::NEG_INFINITY)).count();
    let covers =
        session.layers.iter().filter(|l| l.covered.is_some_and(|c| c.by_db == f64::INFINITY)).count();
    let numbers = told.matches("inf").count();
    let shares =
        session.layers.iter().flat_map(|l| l.parts).chain(session.roles.iter().flat_map(|r| r.parts));
    let inside = |share: Option<f64>| share.is_none_or(|s| (0.0..=1.0).contains(&s));
    !told.contains("NaN")
        && session.unaccounted.iter().all(|u| u.db.is_none_or(|db| !db.is_nan()))
        && numbers == losses + covers
        && shares.into_iter().all(|p| inside(p.share) && inside(p.lead))
}

#[test]
fn damage_is_neither_a_crash_nor_a_number() {
    let takes = prop::collection::vec((0..8_u64, digests()), 1..60);
    holds_for(150, 0xBAD1, (takes, prop::collection::vec(indices(), 0..4)), |(takes, marks)| {
        let roles = [Role::Mix, Role::Natural, Role::Foley, Role::Foley, Role::Voice, Role::Mix];
        let peers: Vec<_> = (0..).zip(roles).map(|(id, role)| peer(id, role)).collect();
        let mut balance = Balance::default();
        for (at, (layer, digest)) in takes.iter().enumerate() {
            balance.take(LayerId(*layer), digest);
            if at % 7 == 0 || at + 1 == takes.len() {
                let asked = Asked { own: *layer, marks: marks.clone(), pair: Some((2, 1)) };
                let session = asked.of(&mut balance, &peers);
                prop_assert!(is_sound(&session), "{:?}", session);
                let verdict = Balance::verdict(&session, &BalanceTarget::default(), Default::default());
                let told = format!("{verdict:?}");
                prop_assert!(!told.contains("NaN"), "{}", told);
            }
        }
        // A layer whose energies are all damaged counts as silent: the other layers' shares are the same as without it.
        let mut damaged = Balance::default();
        let mut without = Balance::default();
        let broken = [f64::NAN, f64::INFINITY, -3.0].into_iter().cycle();
        for (index, k) in (0..40).zip(broken) {
            for balance in [&mut damaged, &mut without] {
                balance.take(LayerId(1), &made(Grid::Song, index, 0.01));
                balance.take(LayerId(2), &made(Grid::Song, index, 0.02));
            }
            damaged.take(LayerId(3), &Digest { k, ..made(Grid::Song, index, 0.0) });
        }
        let [damaged, without] = [damaged, without].map(|mut b| Asked::by(0).of(&mut b, &peers));
        prop_assert_eq!(damaged.roles, without.roles);
        Ok(())
    });
}

#[test]
fn thousands_of_layers_and_pages_do_not_grow_without_end() {
    let mut balance = Balance::default();
    let known: Vec<_> = (0..64).map(|id| peer(id, Role::Foley)).collect();
    for id in 0..64 {
        balance.take(LayerId(id), &made(Grid::Song, 0, 0.01));
    }
    let asked = Asked::by(0);
    let before = asked.of(&mut balance, &known);
    for id in 0..20_000 {
        balance.take(LayerId(1_000 + id), &made(Grid::Song, i64::try_from(id).expect("small"), 0.01));
    }
    assert_eq!(asked.of(&mut balance, &known), before, "unknown layers change and displace nothing");
    let many = balance.bytes();
    assert!(many < 128 * 3 * 5_000 + 100_000, "{many} bytes");

    // One layer at scattered positions: each tenth takes up a page, up to an hour's worth of pages.
    let mut balance = Balance::default();
    for step in 0..3_000 {
        if step == 1_000 {
            asked.of(&mut balance, &[peer(1, Role::Foley)]);
        }
        balance.take(LayerId(1), &made(Grid::Song, step * 1_000, 0.01));
        balance.take(LayerId(1), &made(Grid::Clock, step * 1_000, 0.01));
    }
    let session = asked.of(&mut balance, &[peer(1, Role::Foley)]);
    assert_eq!(session.secs[2], 56.5, "an hour's worth of pages, with one tenth in each");
    let scattered = balance.bytes();
    assert!(scattered < 2 * 565 * 6_500, "{scattered} bytes");

    // More than an hour without a gap: the latest hour is kept.
    let mut balance = Balance::default();
    for index in 0..40_000 {
        balance.take(LayerId(1), &made(Grid::Song, index, 0.01));
    }
    let marked = Asked { marks: vec![4_100], ..Asked::by(0) };
    let session = marked.of(&mut balance, &[peer(1, Role::Foley)]);
    assert_eq!((session.secs[0], session.secs[1]), (3.0, 3_590.0), "the latest are kept");
    let session = asked.of(&mut balance, &[peer(1, Role::Foley)]);
    assert!((3_590.0..=3_600.0).contains(&session.secs[2]), "{}", session.secs[2]);
    let hour = balance.bytes();
    println!("{many} bytes of unknown layers, {scattered} scattered, {hour} an hour without a gap");
    assert!(hour < 3_150_000, "{hour} bytes");
}
