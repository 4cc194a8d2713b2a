use super::*;
use crate::balance::{JointTenth, Mark};
use crate::events::Events;
use crate::findings::{Finding, Kind};
use plumbline_measure::Grid;

/// The findings with marks in stretches of a length in tenths and a share of natural sound each; the rest is Foley.
fn found(stretches: &[(usize, f64)], target: &BalanceTarget, marks: &[i64]) -> Vec<Finding> {
    let mut events = Events::default();
    let marks: Vec<Mark> = marks.iter().map(|index| Mark { grid: Grid::Song, index: *index }).collect();
    let all = stretches.iter().flat_map(|(count, natural)| std::iter::repeat_n(*natural, *count));
    for (index, natural) in (0..).zip(all) {
        let energies = [0.01 * natural, 0.01 * (1.0 - natural), 0.0, 0.0, 0.0];
        let tenth = JointTenth { grid: Grid::Song, index, energies, compared: true, covered: Vec::new() };
        events.push_together(&tenth, (target, &marks), &|_| String::new());
    }
    events.end();
    events.findings()
}

fn edges(found: &[Finding]) -> Vec<(i64, i64)> {
    assert!(found.iter().all(|f| f.kind == Kind::Balance && f.role == Some(Role::Natural) && !f.open));
    found.iter().map(|f| (f.start, f.end)).collect()
}

#[test]
fn a_mix_on_its_aim_that_breathes_has_no_finding() {
    // 70 % over all, from 35 % to 90 % for 5 to 12 s: seven stretches that a share over 3 s would call off.
    let target = BalanceTarget::default();
    let breath = [(100, 0.70), (50, 0.35), (90, 0.90), (70, 0.50), (80, 0.85), (120, 0.74)];
    let programme: Vec<(usize, f64)> = breath.iter().copied().cycle().take(18).collect();
    let all: f64 = programme.iter().map(|(count, share)| *count as f64 * share).sum();
    let share = all / programme.iter().map(|(count, _)| *count as f64).sum::<f64>();
    assert!((share - 0.70).abs() < 0.02, "on its aim: {share}");
    assert_eq!(found(&programme, &target, &[]), []);
}

#[test]
fn off_over_the_programme_or_a_minute_is_a_finding() {
    let target = BalanceTarget::default();
    // Off throughout: from its start to its end.
    assert_eq!(edges(&found(&[(300, 0.40)], &target, &[])), [(0, 300)]);
    assert_eq!(found(&[(99, 0.40)], &target, &[]), [], "under 10 s");
    // Ten minutes on the aim, then half a minute off: no finding; then a minute and a half: one, dated by the middle
    // of 20 s. 20 s are 10 points under once a third of them is at 40 %, and back when 8/30 of them are.
    assert_eq!(found(&[(6_000, 0.70), (190, 0.40), (600, 0.70)], &target, &[]), []);
    let late = edges(&found(&[(6_000, 0.70), (900, 0.40), (600, 0.70)], &target, &[]));
    let [(start, end)] = late[..] else { panic!("{late:?}") };
    assert!((start - (6_000 + 67 - 100)).abs() <= 2, "{start}");
    assert!((end - (6_900 + 200 - 53 - 100)).abs() <= 2, "{end}");
    // Too much natural sound.
    let over = found(&[(300, 0.95)], &target, &[]);
    assert!((over[0].worst - 25.0).abs() < 1e-6, "{over:?}");
}

#[test]
fn a_mark_begins_a_passage_and_ends_what_was_off() {
    let target = BalanceTarget::default();
    // The programme is off all along; the second passage is on its aim.
    let marked = found(&[(300, 0.30), (300, 0.70)], &target, &[300]);
    assert_eq!(edges(&marked), [(0, 300)]);
    // Without the mark, its end is the middle of the 20 s in which the share is back.
    let plain = edges(&found(&[(300, 0.30), (300, 0.70)], &target, &[]));
    assert!(plain.len() == 1 && plain[0].1 > 340, "{plain:?}");
}

#[test]
fn the_default_aim_is_for_natural_sound_with_foley() {
    let target = BalanceTarget::default();
    assert_eq!(found(&[(900, 0.0)], &target, &[]), [], "no natural sound: nobody aims at any");
    let mut own = target;
    own.aims[1] = Some(Aim { share: 1.0, tolerance: 0.5 });
    assert_eq!(edges(&found(&[(900, 0.0)], &own, &[])), [(0, 900)], "an aim that was set holds");
    assert_eq!(found(&[(900, 1.0)], &own, &[])[0].role, Some(Role::Foley));
}
