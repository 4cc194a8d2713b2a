//! The verdicts on two channels and on delivery, as worded while audio plays and of a whole programme.

use super::super::*;
use plumbline_measure::Loudness;
use plumbline_programme::Role;
use plumbline_programme::arrival::Cause;
use plumbline_programme::delivery::{DeliveryVerdict, PRESETS, Target};
use plumbline_programme::session::Unaccounted;
use plumbline_programme::verdict::{BandLoss, Mono, OutOfStep, Phase, Width};

const BOTH: [Context; 2] = [Context::Live, Context::Files];

fn found(inverted: bool) -> OutOfStep {
    of_cause(if inverted { Cause::Inverted } else { Cause::Delayed { secs: 0.003 } })
}

fn of_cause(cause: Cause) -> OutOfStep {
    OutOfStep {
        span: Span { low_hz: 400.0, high_hz: 3_000.0 },
        worst: 0.95,
        worst_hz: 1_000.0,
        correlation: -0.62,
        cause,
        broad: true,
        thirds: 9,
    }
}

fn widths() -> Vec<Width> {
    vec![
        Width::Unknown,
        Width::Mono,
        Width::OneSided { right: true },
        Width::OneSided { right: false },
        Width::Panned { balance_db: -6.0 },
        Width::Panned { balance_db: 3.0 },
        Width::Narrow { side_share: 0.12 },
        Width::Wide { side_share: 0.38 },
        Width::Spacious { side_share: 0.62, coherence: 0.04 },
        Width::OutOfStep(found(false)),
        Width::OutOfStep(found(true)),
        Width::OutOfStep(of_cause(Cause::Unexplained)),
        Width::OutOfStep(of_cause(Cause::Opposed)),
        Width::Spaced { side_share: 0.3, secs: 0.0003 },
    ]
}

fn monos() -> Vec<Mono> {
    let worst = BandLoss { band: 2, loss_db: -6.2 };
    let gone = BandLoss { band: 2, loss_db: f64::NEG_INFINITY };
    vec![
        Mono::Unknown,
        Mono::Holds { loss_db: -0.3 },
        Mono::Holds { loss_db: 0.0 },
        Mono::Thins { loss_db: -2.9, worst: BandLoss { band: 4, loss_db: -3.1 } },
        Mono::Loses { loss_db: -2.1, worst, fixable: true },
        Mono::Loses { loss_db: -2.1, worst: gone, fixable: false },
        Mono::Loses { loss_db: f64::NEG_INFINITY, worst: gone, fixable: true },
        Mono::Thins { loss_db: -0.2, worst: BandLoss { band: 0, loss_db: -10.2 } },
        Mono::OneChannel { loss_db: -3.01 },
    ]
}

fn phases() -> Vec<Phase> {
    vec![
        Phase::Unknown,
        Phase::InStep,
        Phase::Unrelated,
        Phase::OutOfStep(found(false)),
        Phase::OutOfStep(found(true)),
        Phase::OutOfStep(of_cause(Cause::Unexplained)),
        Phase::OutOfStep(of_cause(Cause::Opposed)),
        Phase::OutOfStep(of_cause(Cause::Spaced { secs: 0.0003 })),
        Phase::MostlyUnrelated { common: [true, true, false, false, false, false] },
    ]
}

fn deliveries() -> Vec<(DeliveryVerdict, f64)> {
    let none = DeliveryVerdict::default();
    let off = |lu: f64, fault: bool| DeliveryVerdict {
        off_target_lu: Some(lu),
        loudness_off: fault,
        ..DeliveryVerdict::default()
    };
    vec![
        (none, 0.0),
        (off(0.1, false), 60.0),
        (off(1.4, false), 4.2),
        (off(2.3, true), 60.0),
        (off(-2.3, true), 60.0),
        (DeliveryVerdict { true_peak_over_db: Some(0.8), ..none }, 60.0),
        (DeliveryVerdict { overs: 12, flat: 12, ..none }, 60.0),
        (DeliveryVerdict { overs: 2, dc: Some(0.001), ..off(0.1, false) }, 60.0),
        (DeliveryVerdict { dead_channel: Some(true), ..none }, 60.0),
        (DeliveryVerdict { dead_channel: Some(false), ..none }, 60.0),
        (DeliveryVerdict { dc: Some(0.012), ..none }, 60.0),
        (DeliveryVerdict { short_term_over_lu: Some(1.0), ..none }, 60.0),
    ]
}

fn said_of((verdict, measured_secs): &(DeliveryVerdict, f64), told: Context) -> VerdictText {
    let loudness = Loudness { measured_secs: *measured_secs, ..Loudness::default() };
    delivery(verdict, &loudness, &PRESETS[0].target, None, told)
}

#[test]
fn every_verdict_is_one_plain_sentence_without_a_bare_infinity_or_nan() {
    let mut all = Vec::new();
    for told in BOTH {
        all.extend(widths().iter().map(|verdict| width(verdict, told)));
        all.extend(monos().iter().map(|verdict| mono(verdict, told)));
        all.extend(phases().iter().map(|verdict| phase(verdict, told)));
        all.extend(deliveries().iter().map(|verdict| said_of(verdict, told)));
    }
    assert_eq!(all.len(), 2 * 44, "every case in both tellings");
    for said in &all {
        assert!(said.sentence.ends_with('.'), "no sentence: {said:?}");
        assert!(said.sentence.chars().next().is_some_and(|c| !c.is_lowercase()), "{said:?}");
        assert!(said.sentence.len() <= 140, "too long to read at a glance: {said:?}");
        assert!(!said.short.is_empty() && said.short.len() <= said.sentence.len(), "{said:?}");
        assert!(!said.head.is_empty());
        let text = said.aloud("Title");
        for broken in ["inf", "NaN", "∞", "  ", "– dB"] {
            assert!(!text.contains(broken), "{broken:?} in {text}");
        }
        assert_eq!(said.state == State::Unknown, said.head == DASH || said.head == "Settling", "{said:?}");
    }
}

#[test]
fn width_says_what_it_is_and_whether_to_act() {
    assert_eq!(width(&Width::Unknown, Context::Live).sentence, "Too little signal yet.");
    assert_eq!(width(&Width::Unknown, Context::Files).sentence, "Too little signal to tell how wide it is.");
    let spacious = width(&Width::Spacious { side_share: 0.62, coherence: 0.04 }, Context::Live);
    assert_eq!((spacious.state, spacious.figure.as_str()), (State::Fine, "62\u{a0}%\u{a0}side"));
    assert!(spacious.sentence.contains("Not a fault"));
    let delayed = width(&Width::OutOfStep(found(false)), Context::Live);
    // One cause raises one alarm: that of the microphones, which has the remedy.
    assert_eq!(
        (delayed.state, phase(&Phase::OutOfStep(found(false)), Context::Live).state),
        (State::Note, State::Fault)
    );
    assert_eq!(
        delayed.sentence,
        "No true width at 400\u{a0}Hz–3\u{a0}kHz: one sound arrives twice. What to do is under Mics."
    );
    let inverted = Phase::OutOfStep(found(true));
    assert!(phase(&inverted, Context::Live).sentence.contains("nvert"));
    assert_eq!(width(&Width::Panned { balance_db: -6.0 }, Context::Live).head, "Off left");
    assert!(
        width(&Width::OneSided { right: false }, Context::Live)
            .sentence
            .starts_with("Only left sounds; right is silent or nearly")
    );
}

#[test]
fn mono_names_the_loss_and_the_band() {
    let said: Vec<VerdictText> = monos().iter().map(|verdict| mono(verdict, Context::Files)).collect();
    assert_eq!(said[2].sentence, "Mono holds: no quieter.");
    assert!(
        said[3].sentence.starts_with("A phone plays it 2.9\u{a0}dB quieter, Presence most (−3.1\u{a0}dB).")
    );
    assert_eq!(said[3].state, State::Note);
    assert!(said[4].sentence.starts_with("A phone loses 6.2\u{a0}dB of Low mid, 2.1\u{a0}dB overall."));
    assert!(said[4].sentence.ends_with("It follows from what is under Mics."));
    assert_eq!((said[4].state, said[5].state), (State::Note, State::Fault));
    assert!(said[5].sentence.starts_with("Low mid cancels completely in mono"));
    assert_eq!(said[6].head, "Vanishes");
    // No phone plays Sub.
    assert_eq!(said[7].state, State::Note);
    assert_eq!(
        said[7].sentence,
        "Mono is 0.2\u{a0}dB quieter; Sub loses 10.2\u{a0}dB, which no phone plays: check it on large speakers."
    );
    assert!(said[6].sentence.starts_with("It cancels completely in mono."));
}

#[test]
fn a_figure_that_is_no_reading_is_left_out() {
    let said = mono(&Mono::Holds { loss_db: f64::NAN }, Context::Live);
    assert_eq!((said.head.as_str(), said.figure.as_str()), ("Holds", ""));
    assert_eq!(width(&Width::Wide { side_share: f64::NAN }, Context::Live).figure, "");
}

#[test]
fn phase_says_whether_there_is_anything_to_align() {
    let said: Vec<VerdictText> = phases().iter().map(|verdict| phase(verdict, Context::Live)).collect();
    assert_eq!(said[0].head, DASH);
    assert_eq!(said[1].head, "In step");
    assert!(said[2].sentence.contains("no common sound found"));
    assert_eq!(
        said[3].sentence,
        "Worst at 1\u{a0}kHz: out of step 0.95, correlation −0.62. One sound arrives twice."
    );
    assert_eq!(said[4].head, "Opposed");
    assert_eq!(
        (said[8].state, said[8].sentence.as_str()),
        (
            State::Fine,
            "Left and right are mostly unrelated; Sub and Low are common to both. Nothing found to align."
        )
    );
    let one =
        phase(&Phase::MostlyUnrelated { common: [false, true, false, false, false, false] }, Context::Files);
    assert!(one.sentence.contains("; Low is common to both."), "{one:?}");
}

#[test]
fn delivery_puts_the_worst_first_and_tells_all() {
    let target = Target::default();
    let loudness = Loudness { measured_secs: 90.0, ..Loudness::default() };
    let verdict = DeliveryVerdict {
        off_target_lu: Some(2.3),
        loudness_off: true,
        true_peak_over_db: Some(0.8),
        overs: 4,
        flat: 3,
        ..DeliveryVerdict::default()
    };
    let said = delivery(&verdict, &loudness, &target, None, Context::Live);
    assert_eq!((said.state, said.head.as_str()), (State::Fault, "Clipped"));
    assert_eq!(said.figure, "+2.3\u{a0}LU");
    assert_eq!(
        said.sentence,
        "3\u{a0}samples at full scale: lower the gain before it. True peak 0.8\u{a0}dB above −1.0\u{a0}dBTP. \
         2.3\u{a0}LU over −23.0\u{a0}LUFS."
    );
    let settling = said_of(&deliveries()[2], Context::Live);
    assert_eq!(settling.head, "Settling");
    assert!(settling.sentence.starts_with("4 of 10\u{a0}s measured"));
    let short = said_of(&deliveries()[2], Context::Files);
    assert_eq!((short.state, short.head.as_str()), (State::Note, "Short"));
    assert!(short.sentence.ends_with("under 10\u{a0}s. No fault found in peaks and channels."), "{short:?}");
}

#[test]
fn a_lone_sample_at_full_scale_and_a_little_dc_are_notes_not_the_headline() {
    let loudness = Loudness { integrated_lufs: Some(-23.0), measured_secs: 90.0, ..Loudness::default() };
    let on = DeliveryVerdict { off_target_lu: Some(0.0), ..DeliveryVerdict::default() };
    let tell = |verdict| delivery(&verdict, &loudness, &Target::default(), None, Context::Files);
    let lone = tell(DeliveryVerdict { overs: 2, dc: Some(0.001), ..on });
    assert_eq!((lone.state, lone.head.as_str()), (State::Note, "On target"));
    assert_eq!(
        lone.sentence,
        "Within tolerance of −23.0\u{a0}LUFS. 2\u{a0}samples at full scale, no three in a row. DC of 0.1\u{a0}% of full \
         scale."
    );
    let cut = tell(DeliveryVerdict { overs: 3, flat: 3, ..on });
    assert_eq!((cut.state, cut.head.as_str()), (State::Fault, "Clipped"));
    let dc = tell(DeliveryVerdict { dc: Some(0.01), ..on });
    assert_eq!((dc.state, dc.head.as_str()), (State::Fault, "DC offset"));
    // With a fault, the notes come after it.
    let loud = tell(DeliveryVerdict { off_target_lu: Some(2.0), loudness_off: true, overs: 1, ..on });
    assert_eq!(loud.head, "Too loud");
    assert!(loud.sentence.ends_with("1\u{a0}sample at full scale, no three in a row."), "{loud:?}");
    let part = delivery_of_a_part(&DeliveryVerdict { overs: 1, ..on }, &loudness, Role::Foley);
    assert_eq!(part.state, State::Unknown);
    assert!(part.sentence.contains("1\u{a0}sample at full scale"), "{part:?}");
}

#[test]
fn delivery_of_a_whole_programme_has_its_loudness_and_names_its_target() {
    let loudness = Loudness { integrated_lufs: Some(-20.7), measured_secs: 90.0, ..Loudness::default() };
    let off = DeliveryVerdict { off_target_lu: Some(2.3), ..DeliveryVerdict::default() };
    let tell = |name| delivery(&off, &loudness, &Target::default(), name, Context::Files);
    let said = tell(Some(" EBU R 128 "));
    assert_eq!((said.state, said.figure.as_str()), (State::Fine, "−20.7\u{a0}LUFS"));
    assert_eq!(
        said.sentence,
        "Within tolerance of −23.0\u{a0}LUFS (EBU R 128); no fault found in peaks and channels."
    );
    for none in [None, Some(" ")] {
        assert_eq!(tell(none).short, "Within tolerance of −23.0\u{a0}LUFS.");
    }
}

#[test]
fn the_sick_numbers_of_a_broken_measurement_stay_words() {
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e308] {
        let sick =
            OutOfStep { worst: bad, worst_hz: bad, span: Span { low_hz: bad, high_hz: bad }, ..found(false) };
        let worst = BandLoss { band: 99, loss_db: bad };
        for said in [
            width(&Width::Spacious { side_share: bad, coherence: bad }, Context::Live),
            width(&Width::Panned { balance_db: bad }, Context::Live),
            width(&Width::OutOfStep(sick), Context::Live),
            phase(&Phase::OutOfStep(sick), Context::Live),
            mono(&Mono::Holds { loss_db: bad }, Context::Live),
            mono(&Mono::OneChannel { loss_db: bad }, Context::Live),
            mono(&Mono::Thins { loss_db: bad, worst }, Context::Live),
            mono(&Mono::Loses { loss_db: bad, worst, fixable: true }, Context::Live),
        ] {
            let text = said.aloud("Title");
            assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
        }
    }
}

#[test]
fn what_is_not_accounted_for_is_told_from_one_decibel_on_with_its_reason() {
    let of = |db| unaccounted(Unaccounted { db }, Context::Live);
    for quiet in [None, Some(0.0), Some(0.99), Some(-0.99), Some(f64::NAN)] {
        assert_eq!(of(quiet), None);
    }
    assert!(of(Some(2.3)).is_some_and(|s| s.sentence.starts_with("The mix holds 2.3\u{a0}dB more")));
    assert!(of(Some(-2.3)).is_some_and(|s| s.sentence.contains("less") && s.sentence.contains("cancel")));
    let gone = of(Some(f64::NEG_INFINITY)).expect("worth words");
    assert_eq!(gone.state, State::Fault);
    assert!(gone.sentence.starts_with("The mix is silent while its layers sound: they cancel"));
    assert!(of(Some(f64::INFINITY)).is_some_and(|s| s.sentence.contains("missing")));
    assert!(of(Some(1.5)).is_some_and(|s| !s.sentence.contains("faders")), "layers are heard behind theirs");
    let files = unaccounted(Unaccounted { db: Some(1.5) }, Context::Files).expect("worth words");
    assert_eq!(files.figure, "+1.5\u{a0}dB");
    assert!(files.sentence.contains(", faders are above these files, or the bus"), "{files:?}");
}

#[test]
fn a_part_of_the_mix_is_told_its_loudness_and_no_verdict_of_the_programme() {
    let loudness = |lufs| Loudness { integrated_lufs: lufs, measured_secs: 60.0, ..Loudness::default() };
    let quiet = DeliveryVerdict {
        off_target_lu: Some(-9.4),
        loudness_off: true,
        true_peak_over_db: Some(0.5),
        short_term_over_lu: Some(1.0),
        ..DeliveryVerdict::default()
    };
    for role in Role::PARTS {
        let said = delivery_of_a_part(&quiet, &loudness(Some(-32.4)), role);
        assert_eq!((said.state, said.head.as_str()), (State::Unknown, "Not judged"), "{said:?}");
        assert_eq!(said.figure, "−32.4\u{a0}LUFS");
        assert_eq!(
            said.sentence,
            format!(
                "−32.4\u{a0}LUFS integrated. A {} layer is a part of the mix: only a layer of role Mix is held against the \
                 target.",
                role.name()
            )
        );
        assert!(said.sentence.len() <= 140 && said.short.len() <= said.sentence.len());
    }
    let none = delivery_of_a_part(&DeliveryVerdict::default(), &loudness(None), Role::Foley);
    assert!(none.sentence.starts_with("No integrated loudness yet."), "{none:?}");
    assert_eq!((none.state, none.figure.as_str()), (State::Unknown, ""));
    // Faults of any layer are reported for a part too.
    let broken = DeliveryVerdict { overs: 3, flat: 3, dead_channel: Some(true), dc: Some(0.01), ..quiet };
    let said = delivery_of_a_part(&broken, &loudness(Some(-32.4)), Role::Voice);
    assert_eq!((said.state, said.head.as_str()), (State::Fault, "Dead channel"));
    assert!(said.sentence.contains("3\u{a0}samples at full scale") && said.sentence.contains("DC of"));
    assert!(!said.sentence.contains("dBTP") && !said.sentence.contains("under"), "{said:?}");
}
