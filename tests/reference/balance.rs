//! Shares of layers, from synthetic tenths and from audio.

use crate::rig::{frames, measured};
use plumbline_measure::loudness::lufs;
use plumbline_measure::{Digest, Grid};
use plumbline_programme::{Balance, LayerId, Peer, Role, Session, Stretch};
use plumbline_tests::cases::Cases;
use plumbline_tests::layers::{Asked, made, part, peer, shaped};
use plumbline_tests::signal::Noise;

const RATE: u32 = 48_000;
/// Half a unit of the last printed decimal of a share.
const PRINTED: f64 = 0.000_05;

/// Two stems: level difference in dB, shares, and level of their sum above the louder in dB, as printed.
const TWO: [(f64, [f64; 2], f64); 6] = [
    (0.0, [0.5000, 0.5000], 3.010),
    (1.0, [0.5573, 0.4427], 2.539),
    (3.0, [0.6661, 0.3339], 1.764),
    (6.0, [0.7992, 0.2008], 0.973),
    (10.0, [0.9091, 0.0909], 0.414),
    (20.0, [0.9901, 0.0099], 0.043),
];

/// Four stems: levels and shares as printed; their sum is 2.5842 dB above the loudest stem.
const FOUR: [(f64, f64); 4] = [(0.0, 0.55154), (-3.0103, 0.27577), (-6.0206, 0.13789), (-12.0, 0.03480)];
const FOUR_SUM_DB: f64 = 2.5842;

const ROLES: [Role; 4] = [Role::Natural, Role::Foley, Role::Design, Role::Voice];

fn power(db: f64) -> f64 {
    10.0_f64.powf(db / 10.0)
}

/// A session of layers of synthetic tenths at steady levels in dB relative to 0.01, and a mix.
fn steady(levels_db: &[f64], mix: f64) -> Session {
    let mut balance = Balance::default();
    let mut peers = vec![peer(0, Role::Mix)];
    for (id, role) in (1..).zip(ROLES).take(levels_db.len()) {
        peers.push(peer(id, role));
    }
    for index in 0..100 {
        balance.take(LayerId(0), &made(Grid::Song, index, mix));
        for (id, level) in (1..).zip(levels_db) {
            balance.take(LayerId(id), &made(Grid::Song, index, 0.01 * power(*level)));
        }
    }
    Asked::by(0).of(&mut balance, &peers)
}

/// Checks that every stretch, third and band of a layer or role has the same share.
fn share_everywhere(
    cases: &mut Cases,
    session: &Session,
    id: u64,
    role: Role,
    name: &str,
    share: f64,
    slack: f64,
) {
    for stretch in Stretch::ALL {
        let layer = part(session, id, stretch);
        let of_role = session.part(role, stretch).expect("a role with a share");
        let name = format!("{name}, layer {id}, {}", stretch.name());
        cases.near(&name, layer.share, share, slack);
        cases.near(format!("{name}, role"), of_role.share, share, slack);
        // Thirds are stored in eight bits, to 0.4 % of the energy of each.
        let worst = layer.thirds.iter().chain(&layer.bands).map(|s| s.get().map(|s| (s - share).abs()));
        let worst = worst.fold(0.0, |worst, off| f64::max(worst, off.unwrap_or(f64::INFINITY)));
        cases.near(
            format!("{name}, worst third or band"),
            worst,
            0.0,
            PRINTED + share * (1.0 - share) * 0.008,
        );
    }
}

#[test]
fn printed_shares_of_made_tenths() {
    let mut cases = Cases::new("share = P/ΣP; two and four uncorrelated stems, sum over the louder");
    for (apart, shares, sum_db) in TWO {
        let sum = 0.01 * (1.0 + power(-apart));
        let session = steady(&[0.0, -apart], sum);
        for (id, share) in (1..).zip(shares) {
            let role = ROLES[usize::try_from(id).expect("small") - 1];
            share_everywhere(&mut cases, &session, id, role, &format!("{apart} dB apart"), share, PRINTED);
        }
        for stretch in Stretch::ALL {
            let name = format!("{apart} dB apart, {}", stretch.name());
            let level = |id| part(&session, id, stretch).loudness_lufs;
            let over = level(0).zip(level(1)).map(|(mix, louder)| mix - louder);
            cases.near(format!("{name}, sum"), over, sum_db, 0.000_5);
            cases.near(format!("{name}, loudness"), level(1), lufs(0.01), 1e-5);
            cases.near(format!("{name}, unaccounted"), session.unaccounted[stretch.place()].db, 0.0, 1e-5);
            let leads = if apart >= 3.0 { [1.0, 0.0] } else { [0.0, 0.0] };
            cases.near(format!("{name}, lead"), part(&session, 1, stretch).lead, leads[0], 0.0);
            cases.near(
                format!("{name}, lead of the quieter"),
                part(&session, 2, stretch).lead,
                leads[1],
                0.0,
            );
        }
    }
    let session = steady(&FOUR.map(|(level, _)| level), 0.01 * power(FOUR_SUM_DB));
    for ((id, (_, share)), role) in (1..).zip(FOUR).zip(ROLES) {
        share_everywhere(&mut cases, &session, id, role, "four stems", share, 0.000_005);
    }
    for stretch in Stretch::ALL {
        let name = format!("four stems, {}", stretch.name());
        let level = |id| part(&session, id, stretch).loudness_lufs;
        cases.near(&name, level(0).zip(level(1)).map(|(sum, one)| sum - one), FOUR_SUM_DB, 0.000_05);
        cases.near(&name, session.unaccounted[stretch.place()].db, 0.0, 0.000_1);
        cases.near(&name, session.secs[stretch.place()], [3.0, 10.0, 10.0][stretch.place()], 1e-12);
    }
    cases.end(6 * (2 * 9 + 15) + 4 * 9 + 9);
}

/// A balance's answer for stems and their mix, through analyser and digests.
fn through_audio(stems: &[[Vec<f64>; 2]], mix: &[Vec<f64>; 2]) -> Session {
    let mut balance = Balance::default();
    let mut peers: Vec<Peer> = vec![peer(0, Role::Mix)];
    peers.extend((1..).zip(ROLES).take(stems.len()).map(|(id, role)| peer(id, role)));
    for (id, [left, right]) in (0..).zip([mix].into_iter().chain(stems)) {
        for tenth in &measured(RATE, &[left, right]).tenths {
            balance.take(LayerId(id), &Digest::from(tenth));
        }
    }
    Asked::by(0).of(&mut balance, &peers)
}

/// Pink stereo noise with an exact K-weighted level over 6 s, in dB relative to −20 LUFS.
fn stem(seed: u64, level_db: f64) -> [Vec<f64>; 2] {
    let mut noise = Noise::new(seed);
    let count = frames(6.0, RATE);
    let raw = [0, 1].map(|_| noise.pink(count, 0.05, f64::from(RATE)));
    let tenths = measured(RATE, &[&raw[0], &raw[1]]).tenths;
    let k: f64 = tenths.iter().map(|t| t.sums.k).sum::<f64>() / count as f64;
    let gain = (0.01 * power(level_db) / k).sqrt();
    raw.map(|channel| channel.iter().map(|x| gain * x).collect())
}

fn sum(stems: &[[Vec<f64>; 2]]) -> [Vec<f64>; 2] {
    [0, 1].map(|c| (0..stems[0][c].len()).map(|n| stems.iter().map(|s| s[c][n]).sum()).collect())
}

#[test]
fn printed_shares_of_audio() {
    let mut cases = Cases::new("stems at 0, −3.0103, −6.0206, −12 dB as audio; shares to 0.1 %");
    let stems: Vec<_> = (1..).zip(FOUR).map(|(seed, (level, _))| stem(0x5600 + seed, level)).collect();
    let session = through_audio(&stems, &sum(&stems));
    for ((id, (_, share)), role) in (1..).zip(FOUR).zip(ROLES) {
        // All 6 s are in the passage; in the programme the three tenths at each end are in fewer blocks.
        let of = |stretch| part(&session, id, stretch).share;
        cases.near(format!("layer {id}, passage"), of(Stretch::Passage), share, 0.000_01);
        cases.near(format!("layer {id}, programme"), of(Stretch::Programme), share, 0.001);
        cases.near(format!("layer {id}, now"), of(Stretch::Now), share, 0.01);
        let of_role = session.part(role, Stretch::Passage).and_then(|p| p.share);
        cases.near(format!("role {id}, passage"), of_role, share, 0.000_01);
    }
    // Unrelated: cross terms of 6 s of pink noise change the sum by less than 0.1 dB.
    cases.near("unaccounted", session.unaccounted[1].db, 0.0, 0.1);
    let level = |id| part(&session, id, Stretch::Passage).loudness_lufs;
    cases.near("sum over the loudest", level(0).zip(level(1)).map(|(m, a)| m - a), FOUR_SUM_DB, 0.1);
    cases.end(18);
}

#[test]
fn a_mono_stem_has_the_shares_of_two_channels_at_equal_power() {
    // BS.1770-5 counts one channel once; the equal-power law gives either side −3.01 dB (common practice, no source).
    let mut cases =
        Cases::new("a mono stem beside a stereo one: shares, thirds and bands of its equal-power pair");
    let half = std::f64::consts::FRAC_1_SQRT_2;
    let mono = stem(0x56E1, 0.0)[0].clone();
    let panned: Vec<f64> = mono.iter().map(|x| half * x).collect();
    let ambience = stem(0x56E2, 0.0);
    let session = |first: &[&[f64]]| {
        let mut balance = Balance::default();
        let stems = [first, &[&ambience[0][..], &ambience[1][..]]];
        for (id, channels) in (1..).zip(stems) {
            for tenth in &measured(RATE, channels).tenths {
                balance.take(LayerId(id), &Digest::from(tenth));
            }
        }
        Asked::by(1).of(&mut balance, &[peer(1, Role::Natural), peer(2, Role::Foley)])
    };
    let (one, two) = (session(&[&mono]), session(&[&panned, &panned]));
    for stretch in Stretch::ALL {
        let [one, two] = [&one, &two].map(|session| part(session, 1, stretch));
        let name = stretch.name();
        cases.near(format!("{name}, share"), one.share, two.share.expect("it sounds"), 1e-6);
        for (third, (one, two)) in one.thirds.iter().zip(&two.thirds).enumerate() {
            // Thirds are stored in eight bits, to 0.4 % of the energy and so to 0.1 % of a share.
            cases.near(format!("{name}, third {third}"), one.get(), two.get().expect("pink"), 0.001);
        }
        for (band, (one, two)) in one.bands.iter().zip(&two.bands).enumerate() {
            cases.near(format!("{name}, band {band}"), one.get(), two.get().expect("pink"), 0.001);
        }
    }
    let [one, two] = [&one, &two].map(|session| session.layer(LayerId(1)).expect("it is there"));
    for (third, (one, two)) in one.thirds_dbfs.iter().zip(&two.thirds_dbfs).enumerate() {
        cases.near(format!("level of third {third}"), one.get(), two.get().expect("pink"), 0.02);
    }
    cases.end(3 * (1 + 31 + 6) + 31);
}

#[test]
fn stems_that_cancel() {
    let mut cases = Cases::new("B = −A: shares 0.5/0.5, the mix silent, unaccounted −∞");
    let a = stem(0x56F0, 0.0);
    let b = [0, 1].map(|c| a[c].iter().map(|x| -x).collect::<Vec<f64>>());
    let stems = [a, b];
    let session = through_audio(&stems, &sum(&stems));
    for stretch in Stretch::ALL {
        let name = stretch.name();
        for id in [1, 2] {
            cases.near(format!("{name}, layer {id}"), part(&session, id, stretch).share, 0.5, 1e-9);
        }
        cases.near(name, session.unaccounted[stretch.place()].db, f64::NEG_INFINITY, 0.0);
        cases.absent(name, part(&session, 0, stretch).loudness_lufs);
    }
    // The reverse, a mix with sound and silent layers; and then silence everywhere.
    let silent = [vec![0.0; stems[0][0].len()], vec![0.0; stems[0][0].len()]];
    let session = through_audio(&[silent.clone(), silent.clone()], &stems[0]);
    let nobody = through_audio(&[silent.clone(), silent.clone()], &silent);
    for stretch in Stretch::ALL {
        let name = stretch.name();
        cases.near(name, session.unaccounted[stretch.place()].db, f64::INFINITY, 0.0);
        cases.absent(name, part(&session, 1, stretch).share);
        cases.absent(name, nobody.unaccounted[stretch.place()].db);
        cases.absent(name, nobody.part(Role::Natural, stretch).and_then(|p| p.share));
    }
    // One layer muted: 0, not absent.
    let session = through_audio(&[stems[0].clone(), silent], &stems[0]);
    for stretch in Stretch::ALL {
        cases.near("sounding", part(&session, 1, stretch).share, 1.0, 0.0);
        cases.near("muted", part(&session, 2, stretch).share, 0.0, 0.0);
        cases.near("mix is its only layer", session.unaccounted[stretch.place()].db, 0.0, 1e-9);
    }
    cases.end(12 + 12 + 9);
}

#[test]
fn a_match_says_what_to_change() {
    let mut cases = Cases::new("match: thirds of one layer against another's, mean taken out, spread");
    let mut balance = Balance::default();
    let tilt = |third: usize| 0.5 * (third as f64 - 15.0);
    for index in 0..100 {
        // Every second tenth of the Foley swings by ±1 dB in the 1 kHz third.
        let swing = if index % 2 == 0 { 1.0 } else { -1.0 };
        let foley = shaped(Grid::Song, index, 0.001, |t| 1e-5 * power(if t == 17 { swing } else { 0.0 }));
        let natural = shaped(Grid::Song, index, 0.01, |t| 1e-4 * power(tilt(t)));
        // Nothing is compared while the Foley pauses.
        let pause = shaped(Grid::Song, index, 1e-9, |_| 1e-11);
        balance.take(LayerId(1), if index < 60 { &foley } else { &pause });
        balance.take(LayerId(2), &natural);
    }
    let peers = [peer(1, Role::Foley), peer(2, Role::Natural)];
    let matched = Asked::by(1).of(&mut balance, &peers).matched.expect("both sound");
    cases.holds("the default pair", (matched.change, matched.like) == (LayerId(1), LayerId(2)));
    cases.holds("tenths in which both sound", matched.tenths == 60);
    let at_1k = 10.0 * ((power(1.0) + power(-1.0)) / 2.0).log10();
    let louder = 10.0 - at_1k / 31.0;
    // Thirds are stored in eight bits: up to 0.017 dB each.
    cases.near("louder", matched.louder_db, louder, 0.02);
    for third in 0..31 {
        let expected = 10.0 + tilt(third) - louder - if third == 17 { at_1k } else { 0.0 };
        cases.near(format!("third {third}"), matched.change_db[third].get(), expected, 0.05);
        // ±1 dB of sixty: √(60/59).
        let spread = if third == 17 { (60.0_f64 / 59.0).sqrt() } else { 0.0 };
        cases.near(format!("spread of third {third}"), matched.spread_db[third].get(), spread, 0.04);
    }
    // Ten tenths alternating between 0 and 10·lg 1.5 dB, both exact in eight bits.
    let mut short = Balance::default();
    for index in 0..10 {
        let turn = if index % 2 == 0 { 1.0 } else { 1.5 };
        short.take(LayerId(1), &shaped(Grid::Song, index, 0.001, |_| turn / 131_072.0));
        short.take(LayerId(2), &shaped(Grid::Song, index, 0.001, |_| 1.0 / 131_072.0));
    }
    let spread = Asked::by(1).of(&mut short, &peers).matched.and_then(|m| m.spread_db[9].get());
    cases.near("spread of ten", spread, 5.0 * 1.5_f64.log10() * (10.0_f64 / 9.0).sqrt(), 1e-6);
    short.take(LayerId(1), &shaped(Grid::Song, 0, 1e-9, |_| 0.0));
    cases.holds("nine are too few", Asked::by(1).of(&mut short, &peers).matched.is_none());
    let none = Asked { pair: Some((1, 9)), ..Asked::by(1) }.of(&mut balance, &peers).matched;
    cases.holds("a pair that is not there", none.is_none());
    let other = Asked { pair: Some((2, 1)), ..Asked::by(1) }.of(&mut balance, &peers).matched;
    cases.near("the other way round", other.map(|m| m.louder_db), -matched.louder_db, 1e-9);
    cases.end(3 + 62 + 4);
}

#[test]
fn a_match_advises_nothing_where_the_two_hardly_sound_together() {
    // The chisel against the tower. At 160 Hz the Foley is only a thud in one tenth of twenty, on average 22 dB below
    // the tower's rumble; at 4 kHz it is steady and 6 dB below; at 500 Hz the difference swings by ±20 dB.
    let mut cases =
        Cases::new("match: an advised move is larger than its spread, and rests on a quarter of the tenths");
    let mut balance = Balance::default();
    let (thud, swinging, steady) = (9, 14, 23);
    for index in 0..200 {
        let foley = shaped(Grid::Song, index, 0.001, |third| match third {
            _ if third == thud => {
                if index % 20 == 0 {
                    1e-5
                } else {
                    0.0
                }
            }
            _ if third == swinging => 1e-5 * power(if index % 2 == 0 { 20.0 } else { -20.0 }),
            _ if third == steady => 1e-5 * power(-6.0),
            _ => 1e-5,
        });
        let natural = shaped(Grid::Song, index, 0.001, |third| if third == thud { 1e-4 } else { 1e-5 });
        balance.take(LayerId(1), &foley);
        balance.take(LayerId(2), &natural);
    }
    let peers = [peer(1, Role::Foley), peer(2, Role::Natural)];
    let matched = Asked::by(1).of(&mut balance, &peers).matched.expect("both sound");
    let change = |third: usize| matched.change_db[third].get();
    cases.holds("the thud differs by far", change(thud).is_some_and(|db| db > 15.0));
    cases.holds("the swing differs by far", change(swinging).is_some_and(|db| db.abs() > 10.0));
    cases.absent("a spread of ten tenths of two hundred", matched.spread_db[thud].get());
    cases.absent("no advice on the thud", matched.advised_db(thud));
    cases.absent("no advice on the swing", matched.advised_db(swinging));
    cases.holds("advice on what is steady", matched.advised_db(steady) == change(steady));
    let said = plumbline_report::words::moves(&matched);
    cases
        .holds(format!("the words: {said}"), said.starts_with("add ") && said.ends_with("around 4\u{a0}kHz"));
    cases.end(7);
}

#[test]
fn a_layer_under_the_others_is_covered() {
    let mut cases = Cases::new("covered: at least 10 dB under the others in every third in which it lives");
    for (under, is_covered) in [(9.8, false), (10.2, true), (30.0, true)] {
        for lone_third in [false, true] {
            let mut balance = Balance::default();
            for index in 0..30 {
                // The layer has energy from 200 Hz to 1 kHz; one of its thirds may stick out.
                let own = |t: usize| match t {
                    17 if lone_third => 1e-4,
                    10..=17 => 1e-4 * power(-under),
                    _ => 1e-9,
                };
                balance.take(LayerId(1), &shaped(Grid::Song, index, 1e-4, own));
                balance
                    .take(LayerId(2), &shaped(Grid::Song, index, 1e-3, |t| if t < 12 { 9e-4 } else { 1e-5 }));
                balance
                    .take(LayerId(3), &shaped(Grid::Song, index, 1e-3, |t| if t < 12 { 1e-5 } else { 9e-5 }));
            }
            let peers = [peer(1, Role::Foley), peer(2, Role::Natural), peer(3, Role::Music)];
            let session = Asked::by(1).of(&mut balance, &peers);
            let covered = session.layer(LayerId(1)).and_then(|line| line.covered);
            let name = format!("{under} dB under, a third sticks out: {lone_third}");
            if is_covered && !lone_third {
                cases.near(&name, covered.map(|c| c.by_db), under, 0.05);
                cases.holds(&name, covered.is_some_and(|c| c.by == LayerId(3)));
                cases.near(&name, covered.map(|c| c.span.low_hz), 177.83, 0.01);
                cases.near(&name, covered.map(|c| c.span.high_hz), 1_122.02, 0.01);
            } else {
                cases.holds(&name, covered.is_none());
            }
        }
    }
    cases.end(2 * 4 + 4);
}
