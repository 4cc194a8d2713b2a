//! Laws of joins: passes, marks, grids, hostile tenths, late energies, and marks far back.

use crate::findings::hostile::{hostile_tenth, wander};
use crate::strategies::holds_for;
use plumbline_measure::{Grid, Tenth};
use plumbline_programme::joins::Side;
use plumbline_programme::{Join, JoinDetector, MOST_ENTRIES, Mark, PARTS, Role};
use plumbline_tests::programme::measured;
use plumbline_tests::signal::{Noise, single};
use proptest::prelude::*;
use std::sync::OnceLock;

const RATE: u32 = 48_000;
/// Length of a pass in tenths.
const LENGTH: i64 = 240;
/// The tenths in which steps are drawn: a pass decides from 1.3 s after its start to 1.3 s before its end.
const STEPS: std::ops::Range<i64> = 40..200;

/// Steady pink noise, wide.
fn steady() -> &'static [Tenth] {
    static STEADY: OnceLock<Vec<Tenth>> = OnceLock::new();
    STEADY.get_or_init(|| {
        let noise = &mut Noise::new(0x1014);
        let frames = usize::try_from(LENGTH * 4_800).expect("short");
        let channels = [0, 1].map(|_| single(&noise.pink(frames, 0.03, f64::from(RATE))));
        let tenths = measured(1, "mix", Role::Mix, RATE, &channels).tenths;
        assert_eq!(i64::try_from(tenths.len()).expect("short"), LENGTH);
        tenths
    })
}

/// Steady noise that is 12 dB louder between two tenths.
fn stepped(steps: [i64; 2]) -> Vec<Tenth> {
    #[expect(clippy::cast_possible_truncation, reason = "as tenths keep it")]
    let louder = |mut tenth: Tenth| {
        let gain = 10.0_f64.powf(1.2);
        (tenth.sums.ll, tenth.sums.rr) = (tenth.sums.ll * gain, tenth.sums.rr * gain);
        (tenth.sums.lr, tenth.sums.k) = (tenth.sums.lr * gain, tenth.sums.k * gain);
        let spans = tenth.thirds.iter_mut().chain(&mut tenth.bands).chain([&mut tenth.whole]);
        spans.for_each(|s| {
            let gain = gain as f32;
            (s.ll, s.rr, s.re) = (s.ll * gain, s.rr * gain, s.re * gain);
        });
        tenth
    };
    let inside = |tenth: &Tenth| (steps[0]..steps[1]).contains(&tenth.index);
    steady().iter().map(|t| if inside(t) { louder(*t) } else { *t }).collect()
}

/// Two tenths that are at least 4 s apart.
fn steps() -> impl Strategy<Value = [i64; 2]> {
    (STEPS.start..STEPS.end - 40, 40_i64..160)
        .prop_map(|(first, apart)| [first, (first + apart).min(STEPS.end)])
}

/// Pushes a whole pass.
fn push_all(detector: &mut JoinDetector, tenths: &[Tenth]) {
    tenths.iter().for_each(|tenth| detector.push(tenth));
    detector.end();
}

fn places(detector: &JoinDetector) -> Vec<(Grid, i64)> {
    detector.joins().iter().map(|join| (join.grid, join.at)).collect()
}

fn near(found: &[(Grid, i64)], grid: Grid, meant: [i64; 2]) -> bool {
    let on: Vec<i64> = found.iter().filter(|f| f.0 == grid).map(|f| f.1).collect();
    on.len() == 2 && on.iter().zip(meant).all(|(at, meant)| at.abs_diff(meant) <= 1)
}

/// Energies of the roles, different in each tenth.
fn energies(index: i64) -> [f64; PARTS] {
    let part = |of: i64| 0.01 * (1.0 + (index * of).rem_euclid(7) as f64);
    [part(3), part(5), if index > 120 { part(2) } else { 0.0 }, 0.0, 0.0]
}

#[test]
fn a_later_pass_decides_anew() {
    holds_for(24, 0x2A55, (steps(), steps()), |(first, second)| {
        let mut detector = JoinDetector::new();
        push_all(&mut detector, &stepped(first));
        prop_assert!(near(&places(&detector), Grid::Song, first), "{:?} for {:?}", places(&detector), first);
        push_all(&mut detector, &stepped(second));
        prop_assert!(
            near(&places(&detector), Grid::Song, second),
            "{:?} for {:?}",
            places(&detector),
            second
        );
        push_all(&mut detector, steady());
        prop_assert_eq!(detector.joins(), &[]);
        Ok(())
    });
}

#[test]
fn a_pass_over_a_part_leaves_the_joins_of_the_rest() {
    let mut detector = JoinDetector::new();
    push_all(&mut detector, &stepped([60, 180]));
    let kept = detector.joins()[1].clone();
    // The detector decides from 1.3 s to 10.7 s.
    push_all(&mut detector, &steady()[..120]);
    assert_eq!(detector.joins(), &[kept]);
}

#[test]
fn marks_outlive_passes_and_a_reset_and_end_when_lifted() {
    // Away from the steps: a mark near a join is merged with it.
    let draws = (steps(), prop::collection::btree_set(20_i64..220, 1..4));
    holds_for(24, 0x3A2C, draws, |(steps, marks)| {
        let apart = |m: &i64| steps.iter().all(|s| s.abs_diff(*m) > 10);
        let marks: Vec<i64> = marks.into_iter().filter(apart).collect();
        let at = |index| Mark { grid: Grid::Song, index };
        let mut detector = JoinDetector::new();
        marks.iter().for_each(|m| detector.mark(at(*m)));
        for pass in [&stepped(steps)[..], steady()] {
            push_all(&mut detector, pass);
            let marked: Vec<i64> = detector.joins().iter().filter(|j| j.marked).map(|j| j.at).collect();
            prop_assert_eq!(&marked, &marks);
            let measured = |j: &Join| j.before.loudness_lufs.is_some() && j.after.loudness_lufs.is_some();
            prop_assert!(detector.joins().iter().all(measured), "{:?}", detector.joins());
        }
        prop_assert_eq!(detector.joins().len(), marks.len());
        push_all(&mut detector, &stepped(steps));
        prop_assert_eq!(detector.joins().len(), marks.len() + 2);
        detector.clear();
        prop_assert_eq!(places(&detector), marks.iter().map(|m| (Grid::Song, *m)).collect::<Vec<_>>());
        for join in detector.joins() {
            prop_assert!(join.marked && !join.found && join.takes_secs.is_none());
            prop_assert_eq!((&join.before, &join.after), (&Side::default(), &Side::default()));
        }
        push_all(&mut detector, &stepped(steps));
        marks.iter().for_each(|m| detector.unmark(at(*m)));
        prop_assert!(near(&places(&detector), Grid::Song, steps), "{:?}", places(&detector));
        Ok(())
    });
}

#[test]
fn the_two_clocks_stay_apart() {
    holds_for(16, 0xC10C, (steps(), steps()), |(song, clock)| {
        let on_clock = |tenths: &[Tenth]| {
            tenths.iter().map(|t| Tenth { grid: Grid::Clock, ..*t }).collect::<Vec<Tenth>>()
        };
        let mut alone = JoinDetector::new();
        push_all(&mut alone, &stepped(song));
        let mut detector = alone.clone();
        // A mark in song time does not apply to clock time.
        push_all(&mut detector, &on_clock(&stepped(clock)));
        prop_assert!(near(&places(&detector), Grid::Clock, clock), "{:?}", places(&detector));
        let song_joins: Vec<Join> =
            detector.joins().iter().filter(|j| j.grid == Grid::Song).cloned().collect();
        prop_assert_eq!(&song_joins[..], alone.joins());
        push_all(&mut detector, &on_clock(steady()));
        prop_assert_eq!(detector.joins(), alone.joins());
        detector.mark(Mark { grid: Grid::Clock, index: song[0] });
        detector.unmark(Mark { grid: Grid::Clock, index: song[0] });
        prop_assert_eq!(detector.joins(), alone.joins());
        Ok(())
    });
}

fn numbers(side: &Side) -> Vec<f64> {
    let thirds = side.thirds_dbfs.iter().filter_map(|t| t.get());
    let values = [side.loudness_lufs, side.tone_db_per_octave, side.side_share];
    values.into_iter().flatten().chain(side.shares.into_iter().flatten()).chain(thirds).collect()
}

#[test]
fn hostile_tenths_leave_sound_joins() {
    let seen = std::cell::Cell::new(0);
    holds_for(60, 0xBAD8, any::<u64>(), |seed| {
        let noise = &mut Noise::new(seed);
        let mut detector = JoinDetector::new();
        let (mut grid, mut index) = (Grid::Song, 0);
        for step in 0..500 {
            if noise.bits().is_multiple_of(80) {
                grid = if grid == Grid::Song { Grid::Clock } else { Grid::Song };
            }
            index = wander(noise, index);
            let mut tenth = hostile_tenth(&mut Noise::new(seed ^ (step / 25)), grid, index);
            // Some continue in order, which gives something to compare.
            if noise.bits().is_multiple_of(2) {
                (tenth.sums.frames, tenth.length, tenth.faults.lost) = (4_800, 4_800, 0);
            }
            detector.push(&tenth);
            let mark = Mark { grid, index: wander(noise, index) };
            match noise.bits() % 12 {
                0 => detector.mark(mark),
                1 => detector.unmark(mark),
                2 => detector.set_shares(grid, mark.index, [f64::NAN, f64::INFINITY, -1.0, f64::MAX, 1.0]),
                3 => detector.measure_mark(mark, [&tenth, &tenth].into_iter()),
                _ => {}
            }
        }
        prop_assert!(detector.joins().is_sorted_by(|a, b| (a.grid, a.at) < (b.grid, b.at)));
        prop_assert!(detector.joins().len() <= MOST_ENTRIES);
        for join in detector.joins() {
            prop_assert!(join.marked || join.found);
            let all = numbers(&join.before).into_iter().chain(numbers(&join.after)).chain(join.takes_secs);
            prop_assert!(all.into_iter().all(f64::is_finite), "{:?}", join);
            prop_assert!(join.size().is_finite());
        }
        seen.set(seen.get() + detector.joins().len());
        Ok(())
    });
    assert!(seen.get() > 500, "{} joins in hostile tenths", seen.get());
}

#[test]
fn energies_are_heeded_up_to_ten_seconds_late() {
    let mut shares = 0;
    let mut at_once = Vec::new();
    for late in [0, 1, 37, 79, 99, 100] {
        let mut detector = JoinDetector::new();
        detector.mark(Mark { grid: Grid::Song, index: 60 });
        for tenth in &stepped([80, 120]) {
            detector.push(tenth);
            let known = tenth.index - late;
            detector.set_shares(tenth.grid, known, energies(known));
        }
        let told: Vec<_> =
            detector.joins().iter().map(|join| (join.at, join.before.shares, join.after.shares)).collect();
        assert_eq!(told.len(), 3);
        if late == 0 {
            at_once.clone_from(&told);
        }
        assert_eq!(told, at_once, "{late} tenths late");
        shares += told.iter().flat_map(|t| t.1.iter().chain(&t.2)).flatten().count();
    }
    assert!(shares > 6 * 12, "{shares} shares");
}

#[test]
fn a_mark_far_back_is_measured_as_one_set_in_time() {
    // A join found there is already measured.
    let apart = |(steps, index): &([i64; 2], i64)| steps.iter().all(|step| step.abs_diff(*index) > 5);
    let draws = (steps(), 20_i64..100).prop_filter("a join is there", apart);
    holds_for(40, 0xFA2B, draws, |(steps, index)| {
        let tenths = stepped(steps);
        let mark = Mark { grid: Grid::Song, index };
        let mut live = JoinDetector::new();
        for tenth in &tenths {
            live.push(tenth);
            live.set_shares(tenth.grid, tenth.index, energies(tenth.index));
            if tenth.index == index + 3 {
                live.mark(mark);
            }
        }
        let mut late = JoinDetector::new();
        for tenth in &tenths {
            late.push(tenth);
            late.set_shares(tenth.grid, tenth.index, energies(tenth.index));
        }
        late.mark(mark);
        let of =
            |detector: &JoinDetector| detector.joins().iter().find(|j| j.at == index && j.marked).cloned();
        let unmeasured = of(&late).expect("marked");
        let around = tenths.iter().filter(|t| (index - 20..index + 20).contains(&t.index));
        late.measure_mark_with_shares(mark, around.map(|t| (t, Some(energies(t.index)))));
        let (live, late) = (of(&live).expect("marked"), of(&late).expect("marked"));
        prop_assert_eq!((&late.before, &late.after), (&live.before, &live.after));
        prop_assert_eq!(late.takes_secs, live.takes_secs);
        prop_assert!(late.before.loudness_lufs.is_some() && late.after.loudness_lufs.is_some());
        prop_assert!(unmeasured.after != late.after, "already measured before");
        Ok(())
    });
}
