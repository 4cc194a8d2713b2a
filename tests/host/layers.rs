//! Several layers of the built plug-in in one session: published shares, and the separation of sessions.

use crate::assert_quiet;
use crate::session_rig::{Layer, PATIENCE, SessionRig, wait_until};
use crate::signals::{opposed, quadrature};
use plumbline_programme::session::{MOST_LAYERS, SessionNote};
use plumbline_programme::{Role, Session, Stretch};
use plumbline_tests::rig::child;
use plumbline_tests::signal::{Noise, single};
use std::time::Duration;

/// Length of the programmes here in frames: 30 s.
const HALF_MINUTE: usize = 30 * 48_000;
/// Seconds at the end that no result includes yet: their tenths wait for the windows centred on them.
const UNFINISHED_SECS: f64 = 0.5;

fn programme() -> usize {
    Stretch::Programme.place()
}

/// The share of a layer, by name, over a stretch.
fn share(session: &Session, name: &str, stretch: Stretch) -> f64 {
    let line = session.layers.iter().find(|line| line.identity.name == name);
    let line = line.unwrap_or_else(|| panic!("{name} is not in the session"));
    line.parts[stretch.place()].share.unwrap_or_else(|| panic!("{name} has no share"))
}

/// Four stems at 0, −3.0103, −6.0206, −12 dB have shares 0.55154, 0.27577, 0.13789, 0.03480, and together +2.5842 dB:
/// by arithmetic, share_i = P_i/ΣP.
#[test]
fn four_stems_have_the_published_shares() {
    const STEMS: [(&str, Role, f64, f64); 4] = [
        ("tower", Role::Natural, 0.0, 0.551_54),
        ("chisel", Role::Foley, -3.0103, 0.275_77),
        ("swell", Role::Design, -6.0206, 0.137_89),
        ("talk", Role::Voice, -12.0, 0.034_80),
    ];
    const TOTAL_DB: f64 = 2.5842;
    let Some(quiet) = child::run(&[], || {
        // Four unrelated sounds of one frequency: sine and cosine, in the left channel and in the right.
        let stems: Vec<Vec<Vec<f32>>> =
            (0..).zip(STEMS).map(|(number, (_, _, db, _))| quadrature(number, HALF_MINUTE, db)).collect();
        let sum = |channel: usize| -> Vec<f32> {
            (0..HALF_MINUTE).map(|n| stems.iter().map(|stem| stem[channel][n]).sum()).collect()
        };
        let mix = vec![sum(0), sum(1)];
        let mut rig = SessionRig::offline();
        rig.join("mix", Role::Mix, 'A');
        for (name, role, _, _) in STEMS {
            rig.join(name, role, 'A');
        }
        let signals: Vec<&Vec<Vec<f32>>> = std::iter::once(&mix).chain(&stems).collect();
        rig.play(&signals, 0);
        let session = rig.session_when(0, "half a minute of five layers", |session| {
            session.layers.len() == 5 && session.secs[programme()] >= 30.0 - UNFINISHED_SECS
        });
        let mut cases = 0;
        for stretch in Stretch::ALL {
            for (name, role, _, published) in STEMS {
                let found = share(&session, name, stretch);
                assert!((found - published).abs() < 0.001, "{name}, {}: {found}", stretch.name());
                let of_role = session.part(role, stretch).and_then(|part| part.share).expect("a share");
                assert!((of_role - published).abs() < 0.001, "{role:?}, {}: {of_role}", stretch.name());
                cases += 1;
            }
            let unaccounted = session.unaccounted[stretch.place()].db.expect("mix and layers sound");
            assert!(unaccounted.abs() < 0.01, "{}: {unaccounted} dB unaccounted", stretch.name());
        }
        assert_eq!(cases, 12);
        let loudness = |name: &str| {
            let line = session.layers.iter().find(|line| line.identity.name == name).expect("it is there");
            line.parts[programme()].loudness_lufs.expect("it sounds")
        };
        let total = loudness("mix") - loudness("tower");
        assert!((total - TOTAL_DB).abs() < 0.01, "the sum is {total} dB over the loudest stem");
        // The loudest is 3.0103 dB above the next, and leads by 3 LU or more.
        let lead = session.part(Role::Natural, Stretch::Programme).and_then(|part| part.lead);
        assert!(lead.is_some_and(|lead| lead > 0.99), "{lead:?}");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

/// A stem and its inverse have half each, and their mix is silent: by arithmetic, share_i = P_i/ΣP.
#[test]
fn opposed_stems_share_half_each_and_all_of_the_mix_is_unaccounted() {
    let Some(quiet) = child::run(&[], || {
        let [one, other] = opposed(10 * 48_000);
        let silence = vec![vec![0.0; 10 * 48_000]; 2];
        let mut rig = SessionRig::offline();
        rig.join("mix", Role::Mix, 'A');
        rig.join("one", Role::Natural, 'A');
        rig.join("other", Role::Foley, 'A');
        rig.play(&[&silence, &one, &other], 0);
        let session = rig.session_when(0, "ten seconds of three layers", |session| {
            session.layers.len() == 3 && session.secs[programme()] >= 10.0 - UNFINISHED_SECS
        });
        for stretch in Stretch::ALL {
            for name in ["one", "other"] {
                let found = share(&session, name, stretch);
                assert!((found - 0.5).abs() < 1e-6, "{name}, {}: {found}", stretch.name());
            }
            let unaccounted = session.unaccounted[stretch.place()].db;
            assert_eq!(unaccounted, Some(f64::NEG_INFINITY), "{}", stretch.name());
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

/// A mute after the plug-in: the layer plays on, but the mix lacks it.
#[test]
fn a_muted_layer_is_not_in_the_mix_and_has_no_share_until_it_is_heard_again() {
    const STEP: usize = 24_000;
    /// The longest playback in half seconds: a minute.
    const MOST: usize = 120;
    let Some(quiet) = child::run(&[], || {
        let mut rig = SessionRig::offline();
        rig.join("mix", Role::Mix, 'A');
        rig.join("tower", Role::Natural, 'A');
        rig.join("chisel", Role::Foley, 'A');
        let (mut noise, mut at) = (Noise::new(0x14_09), 0);
        // Plays in real time until the session is as wanted.
        let mut play_until =
            |rig: &mut SessionRig, muted: bool, wanted: &dyn Fn(&Session) -> bool| -> Session {
                for _ in 0..MOST {
                    let [tower, chisel, other] =
                        [0.05, 0.1, 0.05].map(|gain| single(&noise.white(STEP, gain)));
                    let heard = if muted { 0.0 } else { 1.0 };
                    let sum = |side: &[f32]| -> Vec<f32> {
                        side.iter().zip(&chisel).map(|(tower, chisel)| tower + heard * chisel).collect()
                    };
                    let mix = vec![sum(&tower), sum(&other)];
                    rig.play(&[&mix, &vec![tower, other], &vec![chisel.clone(), chisel]], at);
                    at += i64::try_from(STEP).expect("small");
                    std::thread::sleep(Duration::from_millis(500));
                    let session = rig.glimpse(0).session;
                    if wanted(&session) {
                        return session;
                    }
                }
                panic!("waited in vain; the session is {:#?}", rig.glimpse(0).session);
            };
        let absent = |session: &Session, name: &str| {
            session.layers.iter().any(|line| line.identity.name == name && line.absent)
        };
        let has = |session: &Session, name: &str, least: f64| {
            session.layers.iter().any(|line| {
                line.identity.name == name && line.parts[0].share.is_some_and(|share| share > least)
            })
        };
        let before = play_until(&mut rig, false, &|session| {
            session.secs[programme()] > 5.0 && has(session, "chisel", 0.5)
        });
        assert!(!absent(&before, "chisel") && !absent(&before, "tower"), "{before:#?}");
        // If the worker missed a passage, the latest 3 s become silent slightly later.
        let muted =
            play_until(&mut rig, true, &|session| absent(session, "chisel") && !has(session, "chisel", 0.0));
        assert!(!absent(&muted, "tower"), "{muted:#?}");
        assert_eq!(share(&muted, "chisel", Stretch::Now), 0.0);
        assert_eq!(share(&muted, "tower", Stretch::Now), 1.0);
        assert!(share(&muted, "chisel", Stretch::Programme) > 0.1, "it was heard before");
        let back =
            play_until(&mut rig, false, &|session| !absent(session, "chisel") && has(session, "chisel", 0.5));
        assert!(!absent(&back, "tower"), "{back:#?}");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn a_passage_looped_a_hundred_times_counts_once() {
    const LOOPS: usize = 100;
    let Some(quiet) = child::run(&[], || {
        let silence = vec![vec![0.0; 5 * 48_000]; 2];
        // 1 kHz: a jump by whole seconds is not a jump in the sound.
        let tone = quadrature(0, 5 * 48_000, 0.0);
        let mut rig = SessionRig::offline();
        rig.join("mix", Role::Mix, 'A');
        rig.join("tower", Role::Natural, 'A');
        rig.join("chisel", Role::Foley, 'A');
        rig.play(&[&tone, &tone, &silence], 0);
        rig.play(&[&tone, &silence, &tone], 5 * 48_000);
        let all_heard = |session: &Session| {
            session.layers.len() == 3 && session.secs[programme()] >= 10.0 - UNFINISHED_SECS
        };
        let before = rig.session_when(0, "both halves", all_heard);
        assert!((share(&before, "tower", Stretch::Programme) - 0.5).abs() < 0.02);
        let passage: Vec<Vec<f32>> = tone.iter().map(|side| side[..2 * 48_000].to_vec()).collect();
        let still = vec![vec![0.0; 2 * 48_000]; 2];
        for _ in 0..LOOPS {
            rig.play(&[&passage, &passage, &still], 0);
        }
        rig.wait_for_frames(2 * 48_000);
        let after = rig.session_when(0, "the last loop", all_heard);
        let jumps = u64::try_from(LOOPS).expect("few");
        for layer in 0..3 {
            let health = rig.glimpse(layer).health;
            assert_eq!((health.jumps, health.lost_frames), (jumps, 0));
        }
        // 200 s more of natural sound were played; the programme has 5 s of each, as before.
        for name in ["tower", "chisel"] {
            let found = share(&after, name, Stretch::Programme);
            assert!((found - 0.5).abs() < 0.005, "{name}: {found}");
        }
        assert!((9.5..=10.01).contains(&after.secs[programme()]), "{:?}", after.secs);
        assert!(
            after.unaccounted[programme()].db.is_some_and(|db| db.abs() < 0.01),
            "{:?}",
            after.unaccounted
        );
        assert!(after.layers.iter().all(|line| line.missed == 0));
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn letters_keep_sessions_apart() {
    let Some(quiet) = child::run(&[], || {
        let mut rig = SessionRig::offline();
        rig.join("tower", Role::Natural, 'A');
        rig.join("chisel", Role::Foley, 'A');
        rig.join("other tower", Role::Natural, 'B');
        rig.join("other chisel", Role::Foley, 'B');
        let names = |session: &Session| -> Vec<String> {
            session.layers.iter().map(|line| line.identity.name.clone()).collect()
        };
        let expect = |rig: &mut SessionRig, layer: u32, letter: char, expected: &[&str]| {
            let what = format!("layer {layer} to hear {expected:?}");
            let session = rig.session_when(layer, &what, |session| names(session) == expected);
            assert_eq!(session.letter, letter);
        };
        for layer in [0, 1] {
            expect(&mut rig, layer, 'A', &["tower", "chisel"]);
        }
        for layer in [2, 3] {
            expect(&mut rig, layer, 'B', &["other tower", "other chisel"]);
        }
        // One changes session, as if its user chose another letter.
        rig.rename(3, "other chisel", Role::Foley, 'A');
        for layer in [0, 1, 3] {
            expect(&mut rig, layer, 'A', &["tower", "chisel", "other chisel"]);
        }
        expect(&mut rig, 2, 'B', &["other tower"]);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn a_layer_too_many_is_told_to_all_and_counted_by_none() {
    let Some(quiet) = child::run(&[], || {
        let mut rig = SessionRig::offline();
        for number in 0..=MOST_LAYERS {
            rig.join(&format!("layer {number:02}"), Role::Foley, 'A');
        }
        let count = u32::try_from(MOST_LAYERS + 1).expect("few");
        let note = |session: &Session| {
            session.notes.iter().find_map(|note| match note {
                SessionNote::TooMany { beyond, own } => Some((*beyond, *own)),
                _ => None,
            })
        };
        let mut own = 0;
        for layer in 0..count {
            let session = rig.session_once(layer, "word of a layer too many", |s| note(s).is_some());
            let (beyond, is_own) = note(&session).expect("just seen");
            assert_eq!((session.layers.len(), beyond), (MOST_LAYERS, 1), "layer {layer}");
            own += u32::from(is_own);
        }
        assert_eq!(own, 1, "exactly one layer reports that it is one too many");
        // One leaves: all others count.
        rig.leave(0);
        for layer in 0..count - 1 {
            rig.session_once(layer, "room for all", |s| note(s).is_none() && s.layers.len() == MOST_LAYERS);
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn a_layer_alone_hears_itself() {
    let Some(quiet) = child::run(&[], || {
        let mut rig = SessionRig::offline();
        rig.join("tower", Role::Natural, 'C');
        let session = rig.session_when(0, "itself", |session| session.layers.len() == 1);
        assert!(session.layers[0].own && session.letter == 'C' && session.notes.is_empty());
        assert_eq!(session.layers[0].identity.role, Role::Natural);
        let layer: &Layer = rig.layer(0);
        assert_eq!(layer.name, "tower");
        wait_until("a file on the board", PATIENCE, || {
            plumbline_tests::rig::board::files().is_ok_and(|files| !files.is_empty())
        });
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
