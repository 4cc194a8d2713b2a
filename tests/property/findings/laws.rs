//! Laws of findings: gain, channels, order, passes, rules, limits of the log; the places of dropouts and wind.

use super::scene::{RATE, Scene};
use crate::strategies::holds_for;
use plumbline_measure::{BandEdges, Grid, Tenth};
use plumbline_programme::arrival::Cause;
use plumbline_programme::delivery::Target;
use plumbline_programme::findings::{Finder, Rule};
use plumbline_programme::{Finding, Kind, MOST_ENTRIES, Rules};
use plumbline_tests::programme::{Measured, findings, measured};
use plumbline_tests::signal::{Noise, single};
use proptest::prelude::*;
use std::sync::OnceLock;

pub(super) fn finder(rules: Rules) -> Finder {
    Finder::new(rules, &Target::default(), BandEdges::default())
}

fn found_in(tenths: &[Tenth]) -> Vec<Finding> {
    let mut finder = finder(Rules::default());
    tenths.iter().for_each(|tenth| finder.push(tenth));
    finder.end();
    finder.findings()
}

fn tenths_of(channels: &[Vec<f32>]) -> Vec<Tenth> {
    measured(1, "mix", plumbline_programme::Role::Mix, RATE, channels).tenths
}

/// The scene, measured once for all laws.
fn scene() -> &'static (Scene, Vec<Measured>) {
    static SCENE: OnceLock<(Scene, Vec<Measured>)> = OnceLock::new();
    SCENE.get_or_init(|| {
        let scene = Scene::new();
        let measured = scene.measured();
        (scene, measured)
    })
}

/// Ambience alone, over the same song time as the scene.
fn clean() -> &'static [Tenth] {
    static CLEAN: OnceLock<Vec<Tenth>> = OnceLock::new();
    CLEAN.get_or_init(|| {
        let noise = &mut Noise::new(0xC1EA);
        let frames = scene().0.mix[0].len();
        tenths_of(&[0, 1].map(|_| single(&noise.pink(frames, 0.02, f64::from(RATE)))))
    })
}

pub(super) fn sound(findings: &[Finding]) -> Result<(), TestCaseError> {
    for f in findings {
        prop_assert!(f.start < f.end, "{:?}", f);
        prop_assert!(f.start <= f.at && f.at < f.end, "{:?}", f);
        prop_assert!(!f.worst.is_nan(), "{:?}", f);
    }
    Ok(())
}

/// A finding without its number, and without the number of its cause.
fn unnumbered(finding: &Finding) -> Finding {
    Finding { id: 0, follows: None, ..finding.clone() }
}

#[test]
fn a_gain_on_everything_moves_no_relative_finding() {
    let (scene, measured) = scene();
    let relative = |found: Vec<Finding>| {
        let kinds = [Kind::OutOfStep, Kind::MonoLoss, Kind::OneSided, Kind::Wind];
        found.into_iter().filter(|f| kinds.contains(&f.kind)).collect::<Vec<_>>()
    };
    let as_it_is = relative(found_in(&measured[0].tenths));
    assert_eq!(as_it_is.len(), 5);
    for gain in [0.5, 2.0] {
        let louder = scene.mix.each_ref().map(|c| single(&c.iter().map(|x| x * gain).collect::<Vec<_>>()));
        let found = relative(found_in(&tenths_of(&louder)));
        assert_eq!(found.len(), as_it_is.len(), "gain {gain}");
        for (a, b) in as_it_is.iter().zip(&found) {
            let near = a.start.abs_diff(b.start) <= 1 && a.end.abs_diff(b.end) <= 1;
            let alike = (a.kind, a.span, a.cause.map(Cause::key), a.right)
                == (b.kind, b.span, b.cause.map(Cause::key), b.right);
            assert!(near && alike, "gain {gain}: {a:?} became {b:?}");
        }
    }
}

#[test]
fn swapped_channels_swap_the_side_alone() {
    let (scene, measured) = scene();
    let as_it_is = found_in(&measured[0].tenths);
    let swapped = [single(&scene.mix[1]), single(&scene.mix[0])];
    // The samples lost in one channel are present in the other.
    let found: Vec<Finding> = found_in(&tenths_of(&swapped));
    let without_gap: Vec<&Finding> = as_it_is.iter().filter(|f| f.kind != Kind::Gap).collect();
    assert_eq!(found.len(), without_gap.len());
    let mut sides = 0;
    for (a, b) in without_gap.into_iter().zip(&found) {
        assert_eq!(a.right.map(|right| !right), b.right);
        sides += usize::from(a.right.is_some());
        let near = a.worst == b.worst || (a.worst - b.worst).abs() < 1e-4;
        let alike = (a.kind, a.start, a.end, a.span, a.cause.map(Cause::key))
            == (b.kind, b.start, b.end, b.span, b.cause.map(Cause::key));
        assert!(near && alike, "{a:?} became {b:?}");
    }
    assert_eq!(sides, 1);
}

#[test]
fn looking_at_the_log_changes_nothing_in_it() {
    let tenths = &scene().1[0].tenths;
    let expected = found_in(tenths);
    holds_for(6, 0x100C, prop::collection::vec(1_usize..60, 1..20), |looks| {
        let mut finder = finder(Rules::default());
        let mut pieces = looks.iter().cycle();
        let mut rest = &tenths[..];
        while !rest.is_empty() {
            let piece = pieces.next().map_or(1, |p| *p).min(rest.len());
            rest[..piece].iter().for_each(|tenth| finder.push(tenth));
            rest = &rest[piece..];
            // An open finding reaches the end of the measured tenths, and no further.
            for finding in finder.findings() {
                let heard = rest.first().map_or(i64::MAX, |tenth| tenth.index);
                prop_assert!(finding.start < finding.end && finding.end <= heard, "{:?}", finding);
            }
            finder.take_changed();
            finder.see(u64::MAX, true);
        }
        finder.end();
        prop_assert_eq!(finder.findings(), expected.clone());
        Ok(())
    });
}

#[test]
fn a_later_pass_without_faults_takes_back_what_it_covers() {
    let tenths = &scene().1[0].tenths;
    let first = found_in(tenths);
    assert_eq!(found_in(clean()), Vec::new());
    assert!(first.len() > 10);
    // Including the whole log, and a cut through each finding that lasts.
    let cuts =
        prop_oneof![Just((0, 900)), (0_usize..900, 0_usize..900).prop_map(|(a, b)| (a.min(b), a.max(b)))];
    holds_for(24, 0xA6A1, cuts, |(from, to)| {
        let mut finder = finder(Rules::default());
        tenths.iter().for_each(|tenth| finder.push(tenth));
        clean()[from..to].iter().for_each(|tenth| finder.push(tenth));
        finder.end();
        let (from, to) = (i64::try_from(from).expect("short"), i64::try_from(to).expect("short"));
        let mut expected: Vec<(Kind, i64, i64)> = Vec::new();
        for f in &first {
            let before = (f.start, f.end.min(from));
            let after = (f.start.max(to), f.end);
            if from == to {
                expected.push((f.kind, f.start, f.end));
            } else {
                expected
                    .extend([before, after].into_iter().filter(|p| p.0 < p.1).map(|p| (f.kind, p.0, p.1)));
            }
        }
        let mut left: Vec<_> = finder.findings().iter().map(|f| (f.kind, f.start, f.end)).collect();
        expected.sort_unstable();
        left.sort_unstable();
        prop_assert_eq!(left, expected);
        sound(&finder.findings())
    });
}

#[test]
fn a_rule_that_is_off_finds_nothing_of_its_kind_and_leaves_the_others() {
    let layers = &scene().1;
    let all = findings(layers, Rules::default()).0;
    let mut kinds = 0;
    for kind in Kind::ALL {
        assert!(all.iter().any(|f| f.kind == kind), "the scene has {kind:?}");
        let mut rules = Rules::default();
        rules.set(kind, Rule { on: false, ..Rules::usual(kind) });
        let found: Vec<Finding> = findings(layers, rules).0.iter().map(unnumbered).collect();
        let others: Vec<Finding> = all.iter().filter(|f| f.kind != kind).map(unnumbered).collect();
        assert_eq!(found, others, "without {kind:?}");
        kinds += 1;
    }
    assert_eq!(kinds, 11);
}

#[test]
fn rules_go_through_a_file_and_come_back() {
    let number = || {
        prop_oneof![
            Just(f64::NAN),
            Just(f64::INFINITY),
            Just(f64::NEG_INFINITY),
            Just(f64::MAX),
            -1.0..12_000.0_f64,
            0.0..60.0_f64
        ]
    };
    let draws = prop::collection::vec((any::<bool>(), number(), number()), Kind::ALL.len());
    holds_for(200, 0x2B1E, draws, |draws| {
        let mut rules = Rules::default();
        for (kind, (on, limit, secs)) in Kind::ALL.into_iter().zip(draws) {
            // Rounded as on the screen, because a file keeps a number of 17 digits only to the second-last digit.
            let [limit, secs] =
                [limit, secs].map(|x| if x.abs() < 1e6 { (x * 100.0).round() / 100.0 } else { x });
            rules.set(kind, Rule { on, limit, secs });
            let rule = rules.get(kind);
            let usual = Rules::usual(kind);
            prop_assert_eq!(rule.on, on);
            let may = Rules::limits(kind).contains(&limit);
            prop_assert_eq!(rule.limit, if may { limit } else { usual.limit });
            let may = Rules::lengths(kind).contains(&secs);
            prop_assert_eq!(rule.secs, if may { secs } else { usual.secs });
        }
        let text = serde_json::to_string(&rules).expect("written");
        prop_assert_eq!(serde_json::from_str::<Rules>(&text).expect("reads back"), rules);
        Ok(())
    });
}

#[test]
fn three_thousand_faults_keep_the_newest_and_count_the_rest() {
    let mut finder = finder(Rules::default());
    let faults = 3_000;
    for fault in 0..faults {
        for (at, flat) in [(0, [3, 0]), (1, [0, 0])] {
            finder.push(&Tenth { grid: Grid::Song, index: 2 * fault + at, flat, ..Tenth::default() });
        }
    }
    finder.end();
    let found = finder.findings();
    assert_eq!(found.len(), MOST_ENTRIES);
    assert_eq!(finder.dropped(), 1_000);
    assert_eq!((found[0].start, found[MOST_ENTRIES - 1].start), (2_000, 2 * (faults - 1)));
    finder.clear();
    assert_eq!((finder.findings().len(), finder.dropped()), (0, 0));
}

#[test]
fn a_hole_is_told_once_and_in_full_wherever_it_lies() {
    let rate = f64::from(RATE);
    let frames = 8 * RATE as usize;
    let noise = &mut Noise::new(0x401E);
    let sound: [Vec<f32>; 2] = [0, 1].map(|_| single(&noise.pink(frames, 0.1, rate)));
    // Some end just before the end of a tenth, so that little of it is left as evidence.
    let starts = prop_oneof![0.0..1.0_f64, Just(0.0), Just(0.098)].prop_map(|s| 4.0 + s);
    let lengths = prop_oneof![0.006..0.3_f64, 0.006..2.0_f64, Just(0.097), Just(0.1), Just(0.2)];
    holds_for(40, 0x401E, (starts, lengths), |(start, secs)| {
        let mut holed = sound.clone();
        let frame = |secs: f64| super::scene::frame(secs);
        let (from, to) = (frame(start), frame(start + secs));
        holed.iter_mut().for_each(|channel| channel[from..to].fill(0.0));
        let found = found_in(&tenths_of(&holed));
        let holes: Vec<&Finding> = found.iter().filter(|f| f.kind == Kind::Dropout).collect();
        prop_assert_eq!(holes.len(), 1, "{:?}", found);
        let (ms, hole) = ((to - from) as f64 * 1_000.0 / rate, holes[0]);
        prop_assert!((hole.worst - ms).abs() < 0.05, "{ms} ms reads as {hole:?}");
        let near = |tenths: i64, secs: f64| (tenths as f64 / 10.0 - secs).abs() <= 0.1 + 1e-9;
        prop_assert!(near(hole.start, start) && near(hole.end, start + secs), "{start} + {secs}: {hole:?}");
        Ok(())
    });
}

#[test]
fn sound_that_stops_for_good_has_no_hole() {
    let noise = &mut Noise::new(0x5707);
    let sound: [Vec<f32>; 2] = [0, 1].map(|_| single(&noise.pink(12 * RATE as usize, 0.1, f64::from(RATE))));
    let mut cases = 0;
    for stop in [4.0, 4.02, 4.05, 4.08, 4.098] {
        // 7 s of silence, at the end or before the next clip.
        for end in [12.0, 11.03] {
            let mut clip = sound.clone();
            let (from, to) = (super::scene::frame(stop), super::scene::frame(end));
            clip.iter_mut().for_each(|channel| channel[from..to].fill(0.0));
            let found = found_in(&tenths_of(&clip));
            assert!(found.iter().all(|f| f.kind != Kind::Dropout), "stop at {stop} s: {found:?}");
            cases += 1;
        }
    }
    assert_eq!(cases, 10);
}

#[test]
fn lows_that_both_channels_share_are_no_wind() {
    let frames = 12 * RATE as usize;
    let mut cases = 0;
    for (shared, winds) in [(true, 0), (false, 1)] {
        for seed in 0..3 {
            let noise = &mut Noise::new(0x10F5 + seed);
            let mut ears = [0, 1].map(|_| noise.pink(frames, 0.01, f64::from(RATE)));
            let mut low = || noise.coloured(frames, 0.1, 0.5, 20.0, 120.0, f64::from(RATE));
            let left = low();
            let lows = [left.clone(), if shared { left } else { low() }];
            for (ear, low) in ears.iter_mut().zip(&lows) {
                let part = super::scene::frame(4.0)..super::scene::frame(9.0);
                ear[part.clone()].iter_mut().zip(&low[part]).for_each(|(x, low)| *x += low);
            }
            // Even for the shortest length.
            let mut rules = Rules::default();
            rules.set(Kind::Wind, Rule { secs: 0.2, ..Rules::usual(Kind::Wind) });
            let mut finder = finder(rules);
            tenths_of(&ears.map(|ear| single(&ear))).iter().for_each(|tenth| finder.push(tenth));
            finder.end();
            let found = finder.findings();
            let wind: Vec<&Finding> = found.iter().filter(|f| f.kind == Kind::Wind).collect();
            assert_eq!(wind.len(), winds, "shared {shared}: {found:?}");
            assert!(wind.iter().all(|f| f.start.abs_diff(40) <= 1 && f.end.abs_diff(90) <= 1), "{wind:?}");
            cases += 1;
        }
    }
    assert_eq!(cases, 6);
}
