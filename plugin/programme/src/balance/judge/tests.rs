use super::*;
use crate::role::PARTS;
use crate::session::{LayerId, LayerLine};

/// A session of a mix and one layer of each role, with these shares over the last 3 s.
fn session(shares: [Option<f64>; PARTS]) -> Session {
    let mut session = Session::default();
    for (id, role) in (0..).zip(Role::ALL) {
        let mut line = LayerLine { id: LayerId(id), own: role == Role::Mix, ..LayerLine::default() };
        line.identity.role = role;
        session.layers.push(line);
    }
    for (part, share) in session.roles.iter_mut().zip(shares) {
        part.parts[Stretch::Now.place()].share = share;
    }
    session
}

fn two(natural: f64) -> Session {
    session([Some(natural), Some(1.0 - natural), Some(0.0), Some(0.0), Some(0.0)])
}

const AIM: Aim = Aim { share: 0.7, tolerance: 0.1 };

fn off(share: f64) -> BalanceVerdict {
    BalanceVerdict::Off { role: Role::Natural, share, aim: AIM }
}

fn on(share: f64) -> BalanceVerdict {
    BalanceVerdict::On { role: Role::Natural, share }
}

#[test]
fn off_comes_at_the_tolerance_and_gives_way_a_little_late() {
    let target = BalanceTarget::default();
    let cases = [
        (0.70, BalanceVerdict::Alone, on(0.70)),
        (0.80, BalanceVerdict::Alone, on(0.80)),
        (0.60, on(0.7), on(0.60)),
        (0.801, on(0.7), off(0.801)),
        (0.599, BalanceVerdict::Silent, off(0.599)),
        (0.79, off(0.9), off(0.79)),
        (0.78, off(0.9), on(0.78)),
        (0.61, off(0.5), off(0.61)),
        (0.63, off(0.5), on(0.63)),
    ];
    for (share, before, expected) in cases {
        assert_eq!(judge(&two(share), &target, before), expected, "{share} after {before:?}");
    }
    // A verdict for another aim or another role is not held.
    let other = BalanceVerdict::Off { role: Role::Natural, share: 0.9, aim: Aim { share: 0.5, ..AIM } };
    assert_eq!(judge(&two(0.79), &target, other), on(0.79));
    let foley = BalanceVerdict::Off { role: Role::Foley, share: 0.9, aim: AIM };
    assert_eq!(judge(&two(0.79), &target, foley), on(0.79));
}

#[test]
fn of_several_the_furthest_in_tolerances_is_told() {
    let mut target = BalanceTarget::default();
    target.aims[1] = Some(Aim { share: 0.2, tolerance: 0.02 });
    let told = judge(&session([Some(0.5), Some(0.3), Some(0.2), None, None]), &target, BalanceVerdict::Alone);
    assert!(matches!(told, BalanceVerdict::Off { role: Role::Foley, .. }), "{told:?}");
    let told = judge(&session([Some(0.1), Some(0.22), Some(0.68), None, None]), &target, told);
    assert!(matches!(told, BalanceVerdict::Off { role: Role::Natural, .. }), "{told:?}");
    // A damaged aim is dropped.
    target.aims = [Some(Aim { share: f64::NAN, tolerance: 0.1 }), None, None, None, None];
    assert_eq!(judge(&two(0.1), &target, BalanceVerdict::Alone), BalanceVerdict::Free);
}

#[test]
fn without_company_sound_or_aim_nothing_is_judged() {
    let (target, before) = (BalanceTarget::default(), BalanceVerdict::Alone);
    let mut alone = two(0.1);
    alone.layers.retain(|line| line.own);
    assert_eq!(judge(&alone, &target, off(0.1)), BalanceVerdict::Alone);
    let mut own_foley = two(0.1);
    own_foley.layers.retain(|line| line.identity.role == Role::Foley);
    own_foley.layers[0].own = true;
    assert_eq!(judge(&own_foley, &target, before), BalanceVerdict::Alone);
    let mut mixes = two(0.1);
    mixes.layers.iter_mut().for_each(|line| line.identity.role = Role::Mix);
    assert_eq!(judge(&mixes, &target, before), BalanceVerdict::Alone);
    assert_eq!(judge(&session([None; PARTS]), &target, before), BalanceVerdict::Silent);
    let free = BalanceTarget { aims: [None; PARTS] };
    assert_eq!(judge(&two(0.1), &free, before), BalanceVerdict::Free);
}

#[test]
fn the_default_aim_needs_natural_sound_and_foley_and_a_set_one_does_not() {
    let (target, before) = (BalanceTarget::default(), BalanceVerdict::Alone);
    let without_natural = session([Some(0.0), Some(0.6), Some(0.4), Some(0.0), Some(0.0)]);
    let without_foley = session([Some(0.3), Some(0.0), Some(0.7), Some(0.0), Some(0.0)]);
    for session in [&without_natural, &without_foley] {
        assert_eq!(judge(session, &target, before), BalanceVerdict::Free);
    }
    // An aim for Foley too makes the target the user's own.
    let mut own = target;
    own.aims[1] = Some(Aim { share: 0.2, tolerance: 0.1 });
    let told = judge(&without_natural, &own, before);
    assert!(matches!(told, BalanceVerdict::Off { role: Role::Natural, .. }), "{told:?}");
    // A pause of the Foley in the last 3 s does not suspend the aim: the programme has both.
    let mut pause = session([Some(1.0), Some(0.0), Some(0.0), Some(0.0), Some(0.0)]);
    pause.roles[1].parts[Stretch::Programme.place()].share = Some(0.3);
    assert_eq!(judge(&pause, &target, before), off(1.0));
}
