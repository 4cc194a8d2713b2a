//! The balance of layers: shares under gain, reordering, loops, reset and damage, against their definition.

mod damage;
mod definition;
mod facts;

use crate::strategies::holds_for;
use plumbline_measure::loudness::mean_square_of;
use plumbline_measure::{Digest, Grid, Loudness, Tenth, TimeSums};
use plumbline_programme::{Balance, LayerId, Peer, Programme, Role, Session, Stretch};
use plumbline_tests::layers::{Asked, LENGTH, made, part, peer, shaped};
use proptest::prelude::*;
use proptest::test_runner::TestCaseError;

/// One drawn tenth of a layer.
#[derive(Clone, Debug)]
struct Drawn {
    layer: u64,
    digest: Digest,
}

const ROLES: [Role; 5] = [Role::Natural, Role::Foley, Role::Foley, Role::Music, Role::Mix];

fn peers() -> Vec<Peer> {
    (0..).zip(ROLES).map(|(id, role)| peer(id, role)).collect()
}

/// Tenths of five layers over 0.1 s to 20 s of song time, some missing, some incomplete.
fn takes() -> impl Strategy<Value = Vec<Drawn>> {
    let tenth = (prop::collection::vec((-90.0..-5.0_f64, 0..20_u32, 0..31_usize), 5), any::<bool>());
    (-70_i64..70, prop::collection::vec(tenth, 1..200)).prop_map(|(start, tenths)| {
        let mut takes = Vec::new();
        for (index, (layers, all)) in (start..).zip(tenths) {
            for (layer, (level, luck, third)) in (0..).zip(layers) {
                if luck == 0 && !all {
                    continue;
                }
                let k = mean_square_of(level);
                let mut digest = shaped(Grid::Song, index, k, |t| if t == third { k } else { k * 0.01 });
                if luck == 1 && !all {
                    digest.frames = LENGTH / 2;
                }
                takes.push(Drawn { layer, digest });
            }
        }
        takes
    })
}

fn balance_of<'a>(takes: impl IntoIterator<Item = &'a Drawn>) -> Balance {
    let mut balance = Balance::default();
    takes.into_iter().for_each(|t| balance.take(LayerId(t.layer), &t.digest));
    balance
}

fn answer<'a>(takes: impl IntoIterator<Item = &'a Drawn>) -> Session {
    Asked::by(4).of(&mut balance_of(takes), &peers())
}

fn near(name: &str, got: Option<f64>, expected: Option<f64>, slack: f64) -> Result<(), TestCaseError> {
    let near = match (got, expected) {
        (Some(a), Some(b)) => a == b || (a - b).abs() <= slack,
        (None, None) => true,
        _ => false,
    };
    prop_assert!(near, "{name}: got {got:?}, expected {expected:?}");
    Ok(())
}

#[test]
fn shares_sum_to_one() {
    holds_for(100, 0xBA2, takes(), |takes| {
        let session = answer(&takes);
        let mut summed = 0;
        for stretch in Stretch::ALL {
            let layers: Vec<_> = (0..4).map(|id| part(&session, id, stretch)).collect();
            let roles: Vec<_> = Role::PARTS.iter().filter_map(|role| session.part(*role, stretch)).collect();
            for parts in [layers, roles] {
                if parts.iter().any(|p| p.share.is_some()) {
                    let sum: f64 = parts.iter().filter_map(|p| p.share).sum();
                    prop_assert!((sum - 1.0).abs() < 1e-12, "{sum}");
                    summed += 1;
                }
                for at in 0..37 {
                    let of = |p: &&plumbline_programme::session::Part| {
                        if at < 31 { p.thirds[at].get() } else { p.bands[at - 31].get() }
                    };
                    let there: Vec<f64> = parts.iter().filter_map(of).collect();
                    prop_assert!(there.is_empty() || there.len() == parts.len());
                    let sum: f64 = there.iter().sum();
                    prop_assert!(there.is_empty() || (sum - 1.0).abs() < 1e-6, "{at}: {sum}");
                }
            }
        }
        prop_assert!(summed > 0 || session.part(Role::Natural, Stretch::Passage).is_some());
        Ok(())
    });
}

#[test]
fn gain_on_all_layers_leaves_their_shares() {
    let loud = (takes(), 0.0..12.0_f64).prop_map(|(mut takes, gain)| {
        // Loud enough that no gate changes its decision with a positive gain.
        takes.iter_mut().for_each(|t| t.digest.k = t.digest.k.max(mean_square_of(-60.0)));
        (takes, gain)
    });
    holds_for(100, 0xBA3, loud, |(takes, gain)| {
        let before = answer(&takes);
        let louder: Vec<Drawn> = takes
            .iter()
            .cloned()
            .map(|mut t| {
                t.digest.k *= 10.0_f64.powf(gain / 10.0);
                t
            })
            .collect();
        let after = answer(&louder);
        for stretch in Stretch::ALL {
            for id in 0..5 {
                let [a, b] = [&before, &after].map(|s| part(s, id, stretch));
                near("share", b.share, a.share, 1e-6)?;
                near("level", b.loudness_lufs, a.loudness_lufs.map(|l| l + gain), 1e-5)?;
            }
            near(
                "unaccounted",
                after.unaccounted[stretch.place()].db,
                before.unaccounted[stretch.place()].db,
                1e-5,
            )?;
        }
        Ok(())
    });
}

/// The tenths of each layer in order, with the layers interleaved at random.
fn interleaved() -> impl Strategy<Value = (Vec<Drawn>, Vec<Drawn>)> {
    takes().prop_flat_map(|takes| {
        let whose: Vec<u64> = takes.iter().map(|t| t.layer).collect();
        (Just(takes), Just(whose).prop_shuffle()).prop_map(|(takes, whose)| {
            let mut of: Vec<_> =
                (0..5).map(|layer| takes.iter().filter(move |t| t.layer == layer).cloned()).collect();
            let order = whose
                .into_iter()
                .filter_map(|layer| of[usize::try_from(layer).expect("five")].next())
                .collect::<Vec<_>>();
            drop(of);
            (takes, order)
        })
    })
}

#[test]
fn whose_tenth_comes_first_does_not_matter() {
    holds_for(100, 0xBA4, interleaved(), |(in_order, shuffled)| {
        prop_assert_eq!(answer(&in_order), answer(&shuffled));
        Ok(())
    });
}

#[test]
fn a_loop_counts_once() {
    holds_for(24, 0xBA5, takes(), |takes| {
        // An incomplete tenth never replaces a complete one; among equally complete ones, the latest counts.
        let mut balance = Balance::default();
        for pass in 0..100 {
            for t in &takes {
                let mut digest = t.digest;
                digest.k *= f64::from(if pass == 99 { 1_u8 } else { 3 });
                balance.take(LayerId(t.layer), &digest);
            }
            if pass == 50 {
                Asked::by(4).of(&mut balance, &peers());
            }
        }
        prop_assert_eq!(Asked::by(4).of(&mut balance, &peers()), answer(&takes));
        Ok(())
    });
}

#[test]
fn asking_in_between_changes_nothing() {
    let asked = (takes(), prop::collection::vec((0..5_u64, prop::option::of(-60_i64..100)), 1..30));
    holds_for(60, 0xBA6, asked, |(takes, questions)| {
        let mut balance = Balance::default();
        let step = takes.len().div_ceil(questions.len());
        let mut roles = peers();
        for (chunk, (own, mark)) in takes.chunks(step).zip(questions) {
            chunk.iter().for_each(|t| balance.take(LayerId(t.layer), &t.digest));
            roles.rotate_left(1);
            let asked = Asked { marks: mark.into_iter().collect(), ..Asked::by(own) };
            asked.of(&mut balance, &roles);
        }
        prop_assert_eq!(Asked::by(4).of(&mut balance, &peers()), answer(&takes));
        Ok(())
    });
}

#[test]
fn a_passage_is_the_song_between_its_marks() {
    let marked = (takes(), prop::collection::vec(-70_i64..270, 0..5));
    holds_for(100, 0xBA7, marked, |(takes, marks)| {
        let mut balance = balance_of(&takes);
        let asked = Asked { marks: marks.clone(), ..Asked::by(4) };
        let session = asked.of(&mut balance, &peers());
        let Some(own) = takes.iter().rev().find(|t| t.layer == 4).map(|t| t.digest.index) else {
            return Ok(());
        };
        let stands = |layer: u64| takes.iter().rev().find(|t| t.layer == layer).map(|t| t.digest.index);
        let slowest = (0..5).filter_map(stands).filter(|i| (own - 30..=own).contains(i)).min().unwrap_or(own);
        let present = slowest.max(own - 5);
        let from = marks.iter().copied().filter(|m| *m <= present).max().unwrap_or(i64::MIN);
        let until = marks.iter().copied().filter(|m| *m > present).min().unwrap_or(i64::MAX);
        let inside: Vec<Drawn> =
            takes.iter().filter(|t| (from..until).contains(&t.digest.index)).cloned().collect();
        let expected = answer(&inside);
        prop_assert_eq!(session.secs[1], expected.secs[1]);
        for id in 0..5 {
            let [got, alone] = [&session, &expected].map(|s| part(s, id, Stretch::Passage));
            near("share", got.share, alone.share, 1e-9)?;
            near("lead", got.lead, alone.lead, 1e-12)?;
            for third in 0..31 {
                near("third", got.thirds[third].get(), alone.thirds[third].get(), 1e-5)?;
            }
        }
        near("unaccounted", session.unaccounted[1].db, expected.unaccounted[1].db, 1e-9)
    });
}

#[test]
fn one_layer_alone_reads_as_its_programme() {
    holds_for(100, 0xBA8, takes(), |takes| {
        let mut programme = Programme::default();
        for t in takes.iter().filter(|t| t.layer == 0) {
            let frames = t.digest.frames;
            let sums = TimeSums { k: t.digest.k * f64::from(LENGTH), frames, ..TimeSums::default() };
            let (grid, index) = (t.digest.grid, t.digest.index);
            programme.push(&Tenth { grid, index, sums, length: LENGTH, ..Tenth::default() });
        }
        let mut loudness = Loudness::default();
        programme.fill(&mut loudness);
        let only: Vec<Drawn> = takes.iter().filter(|t| t.layer == 0).cloned().collect();
        let session = Asked::by(0).of(&mut balance_of(&only), &peers()[..1]);
        near(
            "integrated",
            part(&session, 0, Stretch::Programme).loudness_lufs,
            loudness.integrated_lufs,
            1e-5,
        )
    });
}

#[test]
fn a_layer_that_left_and_a_reset_leave_nothing() {
    holds_for(60, 0xBA9, (takes(), takes()), |(before, after)| {
        let mut balance = balance_of(&before);
        let here = peers();
        Asked::by(4).of(&mut balance, &here);
        balance.forget(LayerId(1));
        let without: Vec<Drawn> = before.iter().filter(|t| t.layer != 1).cloned().collect();
        prop_assert_eq!(Asked::by(4).of(&mut balance, &here), answer(&without));
        balance.clear();
        prop_assert_eq!(Asked::by(4).of(&mut balance, &here).secs, [0.0; 3]);
        after.iter().for_each(|t| balance.take(LayerId(t.layer), &t.digest));
        prop_assert_eq!(Asked::by(4).of(&mut balance, &here), answer(&after));
        Ok(())
    });
}

#[test]
fn what_is_silenced_counts_as_taken_without_sound_until_it_is_restored() {
    let drawn = (takes(), -80_i64..80, 0_i64..60, any::<bool>());
    holds_for(60, 0xBAB, drawn, |(takes, first, length, asked)| {
        let range = first..=first.saturating_add(length);
        let out = |t: &Drawn| t.layer == 1 && range.contains(&t.digest.index);
        let mut balance = balance_of(&takes);
        if asked {
            let _ = Asked::by(4).of(&mut balance, &peers());
        }
        balance.silence(LayerId(1), Grid::Song, &range);
        balance.silence(LayerId(1), Grid::Clock, &range);
        balance.silence(LayerId(77), Grid::Song, &range);
        let silenced = takes
            .iter()
            .map(|t| Drawn { layer: t.layer, digest: if out(t) { t.digest.silent() } else { t.digest } });
        let expected = answer(&silenced.collect::<Vec<_>>());
        prop_assert_eq!(Asked::by(4).of(&mut balance, &peers()), expected);
        takes.iter().filter(|t| out(t)).for_each(|t| balance.restore(LayerId(1), &t.digest));
        prop_assert_eq!(Asked::by(4).of(&mut balance, &peers()), answer(&takes));
        Ok(())
    });
}

#[test]
fn song_and_clock_stay_apart() {
    holds_for(60, 0xBAA, (takes(), takes()), |(song, clock)| {
        let on_clock = |t: &Drawn| Drawn { layer: t.layer, digest: Digest { grid: Grid::Clock, ..t.digest } };
        let clock: Vec<Drawn> = clock.iter().map(on_clock).collect();
        let alone = answer(&song);
        let both = answer(clock.iter().chain(&song));
        prop_assert_eq!(&both.secs[1..], &alone.secs[1..]);
        for stretch in [Stretch::Passage, Stretch::Programme] {
            for id in 0..5 {
                prop_assert_eq!(part(&both, id, stretch), part(&alone, id, stretch));
            }
        }
        // Without song time, clock time counts: here, silent tenths on the clock grid.
        let quiet = Drawn { layer: 4, digest: made(Grid::Clock, 0, 0.0) };
        let only = answer(clock.iter().chain([&quiet]));
        prop_assert!(only.secs[2] > 0.0);
        Ok(())
    });
}
