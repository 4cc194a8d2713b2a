use super::*;
use crate::arrival::SPACED_SECS;
use crate::mics::Mic;
use crate::mics::tests::{WIDE, agreed, line};
use crate::pair::Polarity;
use plumbline_measure::bands::{THIRDS, third_span};
use plumbline_measure::cross::StereoPower;
use plumbline_measure::reading::{Coherent, Gate, Maybe};

/// All thirds and bands alike: the same matrix and coherence.
fn uniform(ll: f64, rr: f64, re: f64, coherence: Option<f64>) -> Spectral {
    let cross = StereoPower { ll, rr, re };
    let correlation = cross.correlation().unwrap_or(0.0).max(0.0);
    let coherent = Coherent {
        coherence: Maybe::new(coherence),
        out_of_step: Maybe::new(coherence.map(|c| (c - correlation * correlation).max(0.0))),
    };
    let readings = Readings::of(&cross, coherent, Gate::broadband());
    Spectral { thirds: [readings; THIRDS], bands: [readings; BANDS], whole: readings, ..Spectral::default() }
}

fn judged(spectral: &Spectral) -> Verdicts {
    Verdicts::of(spectral, &BandEdges::default(), Channels::of(2))
}

#[test]
fn each_kind_of_width_is_told_apart() {
    let kinds = [
        (uniform(0.0, 0.0, 0.0, None), "Unknown"),
        (uniform(0.1, 0.1, 0.1, Some(1.0)), "Mono"),
        (uniform(0.1, 0.0, 0.0, None), "OneSided { right: false }"),
        (uniform(0.0, 0.1, 0.0, None), "OneSided { right: true }"),
        (uniform(0.1, 0.01, 0.1_f64.sqrt() * 0.1, Some(1.0)), "Panned"),
        (uniform(0.1, 0.1, 0.09, Some(0.85)), "Narrow"),
        (uniform(0.1, 0.1, 0.06, Some(0.5)), "Wide"),
        (uniform(0.1, 0.1, 0.0, Some(0.05)), "Spacious"),
        (uniform(0.1, 0.1, 0.0, Some(0.9)), "OutOfStep"),
        (uniform(0.1, 0.1, 0.07, None), "Wide"),
        (uniform(0.1, 0.1, 0.06, None), "Unknown"),
        (uniform(0.1, 0.1, -0.1, None), "Unknown"),
    ];
    for (spectral, kind) in &kinds {
        let width = format!("{:?}", judged(spectral).width);
        assert!(width.starts_with(kind), "expected {kind}, got {width}");
    }
    assert!(
        matches!(judged(&kinds[2].0).mono, Mono::OneChannel { loss_db } if (loss_db + 3.0103).abs() < 1e-4)
    );
    assert_eq!(Verdicts::of(&kinds[1].0, &BandEdges::default(), Channels::of(1)).width, Width::Mono);
}

#[test]
fn unrelated_channels_lose_three_decibels_and_are_no_fault() {
    let verdicts = judged(&uniform(0.1, 0.1, 0.0, Some(0.05)));
    let Mono::Thins { loss_db, .. } = verdicts.mono else { panic!("{:?}", verdicts.mono) };
    assert!((loss_db + 3.0103).abs() < 1e-4);
    assert_eq!(verdicts.phase, Phase::Unrelated);
}

#[test]
fn a_flipped_polarity_is_opposed_and_a_delay_is_not() {
    let Width::OutOfStep(flipped) = judged(&uniform(0.1, 0.1, -0.1, Some(1.0))).width else { panic!() };
    assert_eq!(flipped.cause, Cause::Inverted);
    assert_eq!(flipped.worst, 1.0);
    let mono = judged(&uniform(0.1, 0.1, -0.1, Some(1.0))).mono;
    assert!(matches!(mono, Mono::Loses { loss_db, fixable: true, .. } if loss_db == f64::NEG_INFINITY));
    let mut delayed = uniform(0.1, 0.1, 0.0, Some(0.9));
    delayed.thirds[20].correlation = Some(0.4);
    let Width::OutOfStep(found) = judged(&delayed).width else { panic!() };
    assert_eq!(found.cause, Cause::Unexplained);
}

#[test]
fn the_run_of_thirds_steps_over_one_that_adds_up_and_ends_at_two() {
    let mut spectral = uniform(0.1, 0.1, 0.1, Some(1.0));
    for third in [10, 11, 13, 14] {
        spectral.thirds[third].out_of_step = Some(0.8);
        spectral.thirds[third].correlation = Some(0.1);
    }
    spectral.thirds[17].out_of_step = Some(0.7);
    let found =
        out_of_step(&spectral.thirds, OUT_OF_STEP_FAULT, SPACED_SECS).expect("a third over the limit");
    assert_eq!((found.cause, found.broad), (Cause::Unexplained, false));
    // A few thirds without a common cause decide nothing.
    assert_eq!(judged(&spectral).phase, Phase::InStep);
    // Edges are powers, whose last bit differs between math libraries.
    let near = |is: f64, wanted: f64| (is / wanted - 1.0).abs() < 1e-12;
    assert!(
        near(found.span.low_hz, third_span(10).low_hz) && near(found.span.high_hz, third_span(14).high_hz)
    );
}

/// For noise that arrives late, the thirds show that it is out of step, but not why.
#[test]
fn what_the_pair_of_channels_knows_is_in_every_verdict() {
    let spectral = uniform(0.1, 0.1, 0.0, Some(0.9));
    let judged = |delay_ms: f64| {
        let pair = line([Mic::Left, Mic::Right], agreed(delay_ms, Polarity::Same), 3.0, WIDE, 3.0);
        Verdicts::of(
            &spectral,
            &BandEdges::default(),
            Channels { left_right: Some(&pair), ..Channels::of(2) },
        )
    };
    let alone = self::judged(&spectral);
    assert!(matches!(alone.phase, Phase::OutOfStep(found) if found.cause == Cause::Unexplained), "{alone:?}");
    assert!(matches!(alone.mono, Mono::Thins { .. }), "{alone:?}");

    let late = judged(8.0);
    assert!(matches!(late.width, Width::OutOfStep(found) if found.is_fault()), "{late:?}");
    assert!(matches!(late.phase, Phase::OutOfStep(found) if found.is_fault()), "{late:?}");
    assert!(matches!(late.mono, Mono::Loses { fixable: true, .. }), "{late:?}");

    let spaced = judged(0.8);
    assert!(matches!(spaced.width, Width::Spaced { secs, .. } if (secs - 0.8e-3).abs() < 1e-9), "{spaced:?}");
    assert!(matches!(spaced.phase, Phase::OutOfStep(found) if !found.is_fault()), "{spaced:?}");
    assert!(matches!(spaced.mono, Mono::Thins { .. }), "{spaced:?}");
}

#[test]
fn quiet_thirds_do_not_decide() {
    let mut spectral = uniform(0.1, 0.1, 0.1, Some(1.0));
    spectral.thirds[13].out_of_step = Some(1.0);
    spectral.thirds[13].level_dbfs = spectral.thirds[13].level_dbfs.map(|l| l - VERDICT_RANGE_DB - 0.1);
    assert_eq!(out_of_step(&spectral.thirds, OUT_OF_STEP_FAULT, SPACED_SECS), None);
    spectral.thirds[13].level_dbfs = spectral.thirds[14].level_dbfs.map(|l| l - VERDICT_RANGE_DB + 0.1);
    assert!(out_of_step(&spectral.thirds, OUT_OF_STEP_FAULT, SPACED_SECS).is_some());
}

#[test]
fn a_standing_fault_gives_way_later_than_it_came() {
    let edges = BandEdges::default();
    let at = |value: f64| uniform(0.1, 0.1, 0.0, Some(value));
    let below = judged(&at(0.58));
    assert!(!matches!(below.phase, Phase::OutOfStep(_)));
    let standing = below.followed_by(&at(0.62), &edges, Channels::of(2));
    assert!(matches!(standing.phase, Phase::OutOfStep(_)));
    let held = standing.followed_by(&at(0.55), &edges, Channels::of(2));
    assert!(matches!(held.phase, Phase::OutOfStep(_)));
    let gone = held.followed_by(&at(0.49), &edges, Channels::of(2));
    assert!(!matches!(gone.phase, Phase::OutOfStep(_)));
}

#[test]
fn a_channel_that_falls_silent_is_seen_in_the_quick_average() {
    let slow = judged(&uniform(0.1, 0.09, 0.0, Some(0.05)));
    assert!(matches!(slow.width, Width::Spacious { .. }));
    let quick = |left: f64, right: f64| uniform(left, right, 0.0, None).whole;
    assert_eq!(slow.with_silent_channel(&quick(0.1, 0.1)), slow);
    assert_eq!(slow.with_silent_channel(&quick(0.1, 0.1e-3)), slow);
    assert_eq!(slow.with_silent_channel(&quick(0.1, 0.9e-5)).width, Width::OneSided { right: false });
    assert_eq!(slow.with_silent_channel(&quick(0.0, 0.1)).width, Width::OneSided { right: true });
    assert_eq!(slow.with_silent_channel(&quick(0.0, 0.0)), slow);
    let mono = slow.with_silent_channel(&quick(0.1, 0.0)).mono;
    assert!(matches!(mono, Mono::OneChannel { .. }));
}

#[test]
fn a_lone_third_under_63_hertz_is_no_fault() {
    let mut spectral = uniform(0.1, 0.1, 0.1, Some(1.0));
    spectral.thirds[0].out_of_step = Some(0.9);
    assert_eq!(out_of_step(&spectral.thirds, OUT_OF_STEP_FAULT, SPACED_SECS), None);
    spectral.thirds[1].out_of_step = Some(0.6);
    assert!(out_of_step(&spectral.thirds, OUT_OF_STEP_FAULT, SPACED_SECS).is_some());
}

#[test]
fn common_sound_that_mostly_does_not_add_up_is_not_in_step() {
    // Under the limit of a fault in every third, yet nothing adds up.
    assert_eq!(judged(&uniform(0.1, 0.1, 0.0, Some(0.55))).phase, Phase::Unknown);
    assert_eq!(judged(&uniform(0.1, 0.1, 0.05, Some(0.55))).phase, Phase::Unknown);
    assert_eq!(judged(&uniform(0.1, 0.1, 0.06, Some(0.55))).phase, Phase::InStep);
    assert_eq!(judged(&uniform(0.1, 0.1, 0.0, None)).phase, Phase::Unknown);
}

/// A band at a level relative to the others of [`uniform`], dB, with a matrix of its own.
fn set_band(spectral: &mut Spectral, band: usize, level_db: f64, re: f64, coherence: f64) {
    let scale = 0.1 * 10.0_f64.powf(level_db / 10.0);
    let cross = StereoPower { ll: scale, rr: scale, re: scale * re };
    let coherent = Coherent { coherence: Maybe::new(Some(coherence)), out_of_step: Maybe::new(Some(0.0)) };
    spectral.bands[band] = Readings::of(&cross, coherent, Gate::broadband());
}

#[test]
fn what_mono_loses_where_nobody_hears_it_is_no_fault() {
    // Birds: Mid and Presence in both channels alike, rumble 24 dB under them that loses 10 dB.
    let mut birds = uniform(0.1, 0.1, 0.095, Some(0.95));
    for band in [0, 1, 2, 5] {
        set_band(&mut birds, band, -40.0, 0.9, 0.9);
    }
    set_band(&mut birds, SUB, -24.0, -0.8, 0.9);
    assert!(matches!(judged(&birds).mono, Mono::Holds { .. }), "{:?}", judged(&birds).mono);
    // Low is heard, down to 20 dB under the loudest, K-weighted; there it is a fault.
    for (level_db, is_fault) in [(-10.0, true), (-30.0, false)] {
        let mut low = birds.clone();
        set_band(&mut low, 1, level_db, -0.8, 0.9);
        let mono = judged(&low).mono;
        assert_eq!(matches!(mono, Mono::Loses { worst, .. } if worst.band == 1), is_fault, "{mono:?}");
    }
    // Sub as loud as the rest: no phone plays it, so a note.
    let mut sub = birds.clone();
    set_band(&mut sub, SUB, 0.0, -0.8, 0.9);
    let mono = judged(&sub).mono;
    assert!(
        matches!(mono, Mono::Thins { worst, .. } if worst.band == SUB && worst.loss_db < -9.9),
        "{mono:?}"
    );
}

#[test]
fn common_lows_under_unrelated_sound_are_named() {
    let mut mostly = uniform(0.1, 0.1, 0.05, Some(0.29));
    for band in 2..BANDS {
        set_band(&mut mostly, band, 0.0, 0.1, 0.2);
    }
    set_band(&mut mostly, 0, -31.0, 0.9, 0.9);
    set_band(&mut mostly, 1, 0.0, 0.8, 0.7);
    let common = [false, true, false, false, false, false];
    assert_eq!(judged(&mostly).phase, Phase::MostlyUnrelated { common }, "Sub is too quiet to count");
    set_band(&mut mostly, 1, 0.0, 0.49, 0.49);
    assert_eq!(judged(&mostly).phase, Phase::Unrelated);
}
