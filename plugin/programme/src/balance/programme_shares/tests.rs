//! A whole programme gets the same answer as a balance that keeps all of it.

use super::*;
use crate::balance::{Balance, Peer, Question};
use crate::session::{Identity, Session, Stretch};
use plumbline_measure::Grid;
use plumbline_measure::bands::THIRDS;
use plumbline_measure::cross::Stored;

const LAYERS: [(LayerId, Role); 5] = [
    (LayerId(1), Role::Natural),
    (LayerId(2), Role::Natural),
    (LayerId(3), Role::Foley),
    (LayerId(4), Role::Design),
    (LayerId(9), Role::Mix),
];

/// A number in 0…1, the same on every run.
fn draw(seed: u64) -> f64 {
    let mut x = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x5851_F42D_4C95_7F2D;
    x = (x ^ x >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    x = (x ^ x >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
    (x >> 11) as f64 / (1_u64 << 53) as f64
}

/// A tenth of a layer: stretches of sound between about −75 and −11 LUFS, and silence.
fn digest(layer: usize, index: i64) -> Digest {
    let stretch = index.div_euclid(37).unsigned_abs() * 11 + layer as u64;
    let level = -75.0 + 60.0 * draw(stretch) + 4.0 * draw(stretch * 1_009 + index.unsigned_abs());
    let silent = draw(stretch + 77_777) < 0.25;
    let k = if silent { 0.0 } else { 10.0_f64.powf(level / 10.0) };
    let thirds = std::array::from_fn(|third| {
        let power = k * draw(third as u64 * 31 + stretch);
        #[expect(clippy::cast_possible_truncation, reason = "as a tenth keeps it")]
        let power = power as f32;
        Stored { ll: power, rr: power / 2.0, re: 0.0 }
    });
    let frames = if index % 97 == 0 { 4_000 } else { 4_800 };
    Digest { grid: Grid::Song, index, length: 4_800, frames, k, heard: 7, thirds, ..Digest::default() }
}

fn answers(tenths: std::ops::Range<i64>) -> (ProgrammeAnswer, Session) {
    let peers: Vec<Peer> = LAYERS
        .iter()
        .map(|(id, role)| Peer {
            id: *id,
            identity: Identity { name: format!("{}", id.0), role: *role, colour: None },
            running: true,
            missed: 0,
            altered: false,
            absent: false,
        })
        .collect();
    let (mut whole, mut balance) = (Whole::new(&LAYERS), Balance::default());
    for index in tenths {
        for (layer, (id, _)) in LAYERS.iter().enumerate() {
            // One layer ends early, as a shorter file does.
            if layer == 1 && index > 700 {
                continue;
            }
            let digest = digest(layer, index);
            whole.take(layer, &digest);
            balance.take(*id, &digest);
        }
    }
    let edges = BandEdges::default();
    let question =
        Question { peers: &peers, own: LayerId(9), marks: &[], edges: &edges, pair: None, at: None };
    (whole.answer(&edges), balance.ask(&question))
}

#[test]
fn whole_programmes_are_answered_as_a_balance_answers() {
    let mut matches = 0;
    for tenths in [0..1, 0..3, 0..64, 0..65, 5..300, 0..2_000, -40..500] {
        let (whole, session) = answers(tenths.clone());
        let at = Stretch::Programme.place();
        for (layer, (id, _)) in LAYERS.iter().enumerate() {
            let line = session.layer(*id).expect("asked about");
            assert_eq!(whole.layers[layer], line.parts[at], "{tenths:?}, layer {}", id.0);
        }
        for (role, part) in whole.roles.iter().enumerate() {
            assert_eq!(*part, session.roles[role].parts[at], "{tenths:?}, role {role}");
        }
        assert_eq!(whole.secs, session.secs[at], "{tenths:?}");
        assert_eq!(whole.unaccounted, session.unaccounted[at], "{tenths:?}");
        assert_eq!(whole.matches.first(), session.matched.as_ref(), "{tenths:?}");
        matches += whole.matches.len();
    }
    assert!(matches >= 3, "only {matches} matches were compared");
}

#[test]
fn more_than_a_balance_keeps_is_counted_and_takes_little() {
    let mut whole = Whole::new(&LAYERS);
    let hours = 3_i64;
    for index in 0..hours * 36_000 {
        // Natural alone in the first hour, design alone afterwards: a balance that forgets would not know the first.
        let playing = if index < 36_000 { 0 } else { 3 };
        let loud = Digest { k: 1e-3, ..digest(0, 1) };
        let quiet = Digest { k: 0.0, thirds: [Stored::default(); THIRDS], ..loud };
        for layer in 0..4 {
            let digest = if layer == playing { loud } else { quiet };
            whole.take(layer, &Digest { index, ..digest });
        }
    }
    let bytes = whole.bytes();
    let answer = whole.answer(&BandEdges::default());
    let natural = answer.roles[0].share.expect("sounds");
    // A block of four begins at each tenth except the last three: the tenths at either end are in 1, 2 and 3 of them.
    let of_hour = f64::from(4 * 36_000 - 6);
    let expected = of_hour / f64::from(4 * 3 * 36_000 - 12);
    assert!((natural - expected).abs() < 1e-9, "{natural} {expected}");
    assert_eq!(answer.secs, 3.0 * 3_600.0);
    let a_tenth = bytes as f64 / (hours * 36_000) as f64;
    assert!(a_tenth < 24.0, "{a_tenth} bytes a tenth of five layers");
}

#[test]
fn a_match_of_a_long_programme_is_of_parts_of_all_of_it() {
    let mut whole = Whole::new(&LAYERS);
    let mut after = [0, 0];
    for index in 0..3 * 36_000 {
        let tone = if index < 36_000 { 0.9 } else { 0.1 };
        for layer in [0, 2] {
            let both = Digest { k: 1e-3, ..digest(0, 1) };
            let thirds = std::array::from_fn(|third| Stored {
                ll: if layer == 2 && third == 17 { tone } else { 0.5 },
                ..Stored::default()
            });
            whole.take(layer, &Digest { index, thirds, ..both });
        }
        if index == 36_100 || index == 3 * 36_000 - 1 {
            after[usize::from(index > 36_100)] = whole.bytes();
        }
    }
    // The data for gating keep growing: four bytes per tenth and layer, five layers.
    let gates = f64::from(2 * 36_000 * 4 * 5);
    let grown = after[1] as f64 - after[0] as f64 - gates;
    assert!(grown < 0.05 * after[0] as f64, "{after:?}: {grown} bytes beyond those of the gates");
    let answer = whole.answer(&BandEdges::default());
    assert!((3_000..=6_000).contains(&answer.matches[0].tenths), "{}", answer.matches[0].tenths);
    // 0.9 for an hour and 0.1 for two against 0.5 throughout in one third, no difference elsewhere: 1.35 dB, minus
    // its mean over 31 thirds.
    let change = answer.matches[0].change_db[17].get().expect("carried");
    assert!((change - 1.347 * 30.0 / 31.0).abs() < 0.1, "{change}: not all of it counts alike");
}

#[test]
fn tenths_out_of_order_and_layers_too_many_are_passed_over() {
    let mut whole = Whole::new(&LAYERS);
    whole.take(0, &digest(0, 100));
    whole.take(0, &digest(0, 3));
    whole.take(77, &digest(0, 101));
    let answer = whole.answer(&BandEdges::default());
    assert_eq!(answer.secs, 0.1);
    assert_eq!(Whole::new(&[]).answer(&BandEdges::default()).secs, 0.0);
}
