use super::*;
use crate::arrival::SPACED_SECS;
use crate::pair::{Agreed, Polarity, Quantities, ThirdReading};
use plumbline_measure::bands::{FIRST_ACCURATE_THIRD, THIRDS, third_at, third_span};
use plumbline_measure::reading::Maybe;

const A: Mic = Mic::Layer(LayerId(1));
const B: Mic = Mic::Layer(LayerId(2));
const C: Mic = Mic::Layer(LayerId(3));

pub(crate) fn agreed(delay_ms: f64, polarity: Polarity) -> Result<Agreed, CannotTell> {
    let windows = [40, 40];
    Ok(Agreed {
        delay_secs: delay_ms / 1e3,
        sigma_secs: 1e-6,
        polarity,
        confidence: 0.9,
        second_secs: None,
        drift: None,
        windows,
    })
}

/// A pair whose thirds from `low_hz` to `high_hz` share their sound and gain `gain_db`.
pub(crate) fn line(
    mics: [Mic; 2],
    outcome: Result<Agreed, CannotTell>,
    gain_db: f64,
    [low_hz, high_hz]: [f64; 2],
    cost_db: f64,
) -> PairLine {
    let third = |third: usize| {
        let span = third_span(third);
        let inside = span.low_hz >= low_hz * 0.8 && span.high_hz <= high_hz * 1.25;
        ThirdReading {
            under_loudest_db: Maybe::new(Some(0.0)),
            coherence: Maybe::new(Some(if inside { 0.9 } else { 0.0 })),
            level_db: Maybe::new(Some(0.0)),
            gain_db: Maybe::new(Some(if inside { gain_db } else { 0.0 })),
        }
    };
    let known = outcome.is_ok();
    PairLine {
        mics,
        reading: Reading {
            outcome,
            thirds: std::array::from_fn(third),
            coherence: Some(0.9),
            level_db: Some(0.0),
            won: known.then_some(0.5),
            net_gain_db: known.then_some(gain_db),
        },
        cost_db: known.then_some(cost_db),
        rate_hz: 48_000,
        spaced_secs: SPACED_SECS,
        trace: Vec::new(),
        delays: Vec::new(),
        heard: None,
        quiet_secs: 0.0,
        stretches: Vec::new(),
    }
}

fn mics(lines: Vec<PairLine>) -> Mics {
    Mics { lines, ..Mics::default() }
}

pub(crate) const WIDE: [f64; 2] = [100.0, 8_000.0];

#[test]
fn the_verdict_is_that_of_the_dearest_pair_that_fights_and_costs_something() {
    let same = Polarity::Same;
    let fights = |two, cost| line(two, agreed(4.0, same), 3.0, WIDE, cost);
    let in_step = line([A, C], agreed(0.0, same), 0.0, WIDE, 0.0);
    let unrelated = line([B, C], Err(CannotTell::Unrelated), 0.0, WIDE, 0.0);
    let room = line([B, C], Err(CannotTell::Reverberant), 0.0, WIDE, 0.0);
    let tonal = line([B, C], Err(CannotTell::Tonal), 0.0, WIDE, 0.0);
    let early = line([B, C], Err(CannotTell::TooShort), 0.0, WIDE, 0.0);
    let cases = [
        (vec![], MicsVerdict::Unknown),
        (vec![early], MicsVerdict::Unknown),
        (vec![tonal.clone()], MicsVerdict::CannotTell(CannotTell::Tonal)),
        (vec![tonal.clone(), unrelated.clone()], MicsVerdict::Unrelated),
        (vec![tonal.clone(), room.clone()], MicsVerdict::Room),
        (vec![room.clone(), in_step.clone(), in_step.clone()], MicsVerdict::InStep { pairs: 2 }),
        (
            vec![fights([A, B], 2.0), fights([B, C], 1.0), in_step],
            MicsVerdict::Fight { mics: [A, B], more: 1 },
        ),
        (vec![fights([A, B], LEAST_COST_DB * 0.9), room], MicsVerdict::InStep { pairs: 1 }),
        (vec![PairLine { quiet_secs: VOTE_SECS, ..fights([A, B], 2.0) }], MicsVerdict::Unknown),
        (vec![fights([A, B], LEAST_COST_DB)], MicsVerdict::Fight { mics: [A, B], more: 0 }),
    ];
    for (lines, expected) in cases {
        assert_eq!(mics(lines.clone()).verdict(), expected, "{lines:#?}");
    }
}

#[test]
fn behind_a_fault_stands_the_pair_that_fights_by_the_delay_of_left_and_right() {
    let own = |ms, polarity| line([Mic::Left, Mic::Right], agreed(ms, polarity), 3.0, WIDE, 3.0);
    let dear = line([A, B], agreed(9.0, Polarity::Same), 3.0, WIDE, 2.0);
    let alike = line([B, C], agreed(-4.1, Polarity::Same), 3.0, WIDE, 1.0);
    let behind = |own: PairLine, alike: &PairLine| {
        mics(vec![own, dear.clone(), alike.clone()]).behind().map(|line| line.mics)
    };
    let same = || own(4.0, Polarity::Same);
    assert_eq!(behind(same(), &alike), Some([B, C]), "the delay of left and right, of either sign");
    assert_eq!(behind(own(9.2, Polarity::Same), &alike), Some([A, B]));
    assert_eq!(behind(own(4.0, Polarity::Inverted), &alike), None, "another polarity is another cause");
    assert_eq!(behind(own(6.0, Polarity::Same), &alike), None, "another delay as well");
    let unknown = line([Mic::Left, Mic::Right], Err(CannotTell::Moving), 0.0, WIDE, 0.0);
    assert_eq!(behind(unknown, &alike), None, "nobody is blamed for a delay that is not known");
    let silent = PairLine { quiet_secs: VOTE_SECS, ..alike.clone() };
    assert_eq!(behind(same(), &silent), None, "who is not heard is not the cause");
    let in_step =
        PairLine { reading: line([B, C], agreed(4.0, Polarity::Same), 0.0, WIDE, 0.0).reading, ..alike };
    assert_eq!(behind(same(), &in_step), None);
    let alone = mics(vec![same()]);
    assert_eq!(alone.behind(), None, "left and right are no layers");
}

#[test]
fn the_made_up_pairs_fight_as_they_should() {
    // Checks the pairs that the other tests use.
    assert!(third_at(1_000.0).is_some_and(|third| third > FIRST_ACCURATE_THIRD && third < THIRDS));
    let pair = line([A, B], agreed(4.0, Polarity::Same), 3.0, WIDE, 1.0);
    assert!(matches!(pair.advice(FrameRate::F25, 20.0), Advice::Repair(_)));
    let no_rate = PairLine { rate_hz: 0, ..pair };
    assert_eq!(no_rate.advice(FrameRate::F25, 20.0), Advice::Leave(NoFix::CannotTell(CannotTell::TooShort)));
}

fn fix(trails: Option<Side>, flip: bool) -> Fix {
    let by = Quantities { secs: 0.004, samples: 192.0, frames: 0.1, metres: 1.37 };
    Fix { trails, by, move_earlier: 192, flip, net_gain_db: 3.0, gains: Vec::new(), drift: None }
}

#[test]
fn who_leads_waits_and_who_trails_cannot_hurry() {
    let waits = Trial { delay_secs: [0.004; 2], flip: [true; 2], in_renders: false };
    assert_eq!(Trial::on(Side::First, &fix(Some(Side::Second), true)), Some(waits));
    assert_eq!(Trial::on(Side::Second, &fix(Some(Side::Second), true)), None);
    assert_eq!(Trial::on(Side::Second, &fix(Some(Side::First), true)), Some(waits));
    let flipped = Trial { flip: [true; 2], ..Trial::default() };
    assert_eq!(
        Trial::on(Side::Second, &fix(None, true)),
        Some(flipped),
        "without a delay either may be flipped"
    );
    let channels = |trails, flip| Trial::between_channels(&fix(trails, flip));
    assert_eq!(channels(Some(Side::Second), false).delay_secs, [0.004, 0.0], "right trails, left waits");
    assert_eq!(channels(Some(Side::First), false).delay_secs, [0.0, 0.004]);
    assert_eq!(channels(None, true), Trial { flip: [false, true], ..Trial::default() });
}

#[test]
fn a_trial_is_held_to_its_bounds_and_a_wire_is_none() {
    let wild = Trial { delay_secs: [f64::NAN, 3.0], ..Trial::default() }.sane();
    assert_eq!(wild.delay_secs, [0.0, LONGEST_TRIAL_SECS]);
    assert_eq!(Trial { delay_secs: [f64::NEG_INFINITY, -1.0], ..Trial::default() }.sane(), Trial::default());
    assert!(wild.alters() && !Trial { in_renders: true, ..Trial::default() }.alters());
    assert!(Trial { flip: [false, true], ..Trial::default() }.alters());
}

#[test]
fn a_short_delay_is_in_force_in_whole_samples_and_a_longer_one_as_asked() {
    let rate = |hz| SampleRate::new(hz).expect("a rate");
    let samples = |asked: f64, hz: u32| {
        let secs = asked / f64::from(hz);
        let trial = Trial { delay_secs: [secs, 0.0], flip: [true, false], in_renders: true };
        let forced = trial.in_force(rate(hz));
        assert_eq!((forced.flip, forced.in_renders, forced.delay_secs[1]), (trial.flip, true, 0.0));
        assert_eq!(forced.in_force(rate(hz)), forced, "once more changes nothing");
        forced.delay_secs[0] * f64::from(hz)
    };
    let cases = [
        (3.4, 3.0),
        (3.6, 4.0),
        (0.4, 0.0),
        (0.5, 1.0),
        (31.4, 31.0),
        (31.9, 32.0),
        (32.0, 32.0),
        (32.3, 32.3),
        (223.6, 223.6),
    ];
    for (asked, forced) in cases {
        for hz in [22_050, 44_100, 48_000, 96_000, 384_000] {
            assert!((samples(asked, hz) - forced).abs() < 1e-9, "{asked} at {hz}");
        }
    }
    // The same time is more samples at a higher rate, and keeps its fraction there.
    let trial = Trial { delay_secs: [0.4e-3; 2], ..Trial::default() };
    assert_eq!(trial.in_force(rate(44_100)).delay_secs[0] * 44_100.0, 18.0);
    assert_eq!(trial.in_force(rate(96_000)), trial);
    // A delay that rounds to 0 alters nothing, and NaN counts as no delay.
    assert!(!Trial { delay_secs: [4e-6, 0.0], ..Trial::default() }.in_force(rate(48_000)).alters());
    let broken = Trial { delay_secs: [f64::NAN, -1.0], ..Trial::default() };
    assert_eq!(broken.in_force(rate(48_000)), Trial::default());
    let endless = Trial { delay_secs: [f64::INFINITY, 9.0], ..Trial::default() };
    assert_eq!(endless.in_force(rate(48_000)).delay_secs, [0.0, LONGEST_TRIAL_SECS]);
}
