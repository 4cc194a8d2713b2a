use super::*;
use plumbline_measure::delivery::{DeliveryVerdict, PRESETS, Target};
use plumbline_measure::{Loudness, Span};

fn found(opposed: bool) -> OutOfStep {
    OutOfStep {
        span: Span { low_hz: 400.0, high_hz: 3_000.0 },
        worst: 0.95,
        worst_hz: 1_000.0,
        correlation: -0.62,
        opposed,
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
        (DeliveryVerdict { overs: 12, ..none }, 60.0),
        (DeliveryVerdict { dead_channel: Some(true), ..none }, 60.0),
        (DeliveryVerdict { dead_channel: Some(false), ..none }, 60.0),
        (DeliveryVerdict { dc: Some(0.012), ..none }, 60.0),
        (DeliveryVerdict { short_term_over_lu: Some(1.0), ..none }, 60.0),
    ]
}

fn said_of(delivery_case: &(DeliveryVerdict, f64)) -> Said {
    let loudness = Loudness { measured_secs: delivery_case.1, ..Loudness::default() };
    delivery(&delivery_case.0, &loudness, &PRESETS[0].target)
}

#[test]
fn every_verdict_is_one_plain_sentence_without_a_bare_infinity_or_nan() {
    let all: Vec<Said> = widths()
        .iter()
        .map(width)
        .chain(monos().iter().map(mono))
        .chain(phases().iter().map(phase))
        .chain(deliveries().iter().map(said_of))
        .collect();
    assert!(all.len() >= 34, "only {} cases ran", all.len());
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
    assert_eq!(width(&Width::Unknown).sentence, "Too little signal yet.");
    let spacious = width(&Width::Spacious { side_share: 0.62, coherence: 0.04 });
    assert_eq!((spacious.state, spacious.figure.as_str()), (State::Fine, "62\u{a0}% side"));
    assert!(spacious.sentence.contains("Not a fault"));
    let delayed = width(&Width::OutOfStep(found(false)));
    assert_eq!(delayed.state, State::Fault);
    assert_eq!(
        delayed.sentence,
        "No true width at 400\u{a0}Hz–3\u{a0}kHz: one sound arrives twice. Check delay or polarity between the \
         channels."
    );
    assert!(width(&Width::OutOfStep(found(true))).sentence.contains("Flip the polarity"));
    assert_eq!(width(&Width::Panned { balance_db: -6.0 }).head, "Off left");
    assert!(width(&Width::OneSided { right: false }).sentence.starts_with("Only left sounds"));
}

#[test]
fn mono_names_the_loss_and_the_band() {
    let said: Vec<Said> = monos().iter().map(mono).collect();
    assert_eq!(said[2].sentence, "A phone keeps it all: nothing lost in mono.");
    assert!(
        said[3].sentence.starts_with("A phone plays it 2.9\u{a0}dB quieter, Presence most (−3.1\u{a0}dB).")
    );
    assert_eq!(said[3].state, State::Note);
    assert!(said[4].sentence.starts_with("A phone loses 6.2\u{a0}dB of Low mid, 2.1\u{a0}dB overall."));
    assert!(said[4].sentence.ends_with("align the channels."));
    assert!(said[5].sentence.starts_with("Low mid cancels completely in mono"));
    assert_eq!(said[6].head, "Vanishes");
    assert!(said[6].sentence.starts_with("It cancels completely in mono."));
}

#[test]
fn phase_says_whether_there_is_anything_to_align() {
    let said: Vec<Said> = phases().iter().map(phase).collect();
    assert_eq!(said[0].head, DASH);
    assert_eq!(said[1].head, "In step");
    assert!(said[2].sentence.contains("nothing to align"));
    assert_eq!(
        said[3].sentence,
        "Worst at 1\u{a0}kHz: out of step 0.95, correlation −0.62. Nudge one channel, or flip its polarity."
    );
    assert_eq!(said[4].head, "Opposed");
}

#[test]
fn delivery_puts_the_worst_first_and_tells_all() {
    let target = Target::default();
    let loudness = Loudness { measured_secs: 90.0, ..Loudness::default() };
    let verdict = DeliveryVerdict {
        off_target_lu: Some(2.3),
        loudness_off: true,
        true_peak_over_db: Some(0.8),
        overs: 1,
        ..DeliveryVerdict::default()
    };
    let said = delivery(&verdict, &loudness, &target);
    assert_eq!((said.state, said.head.as_str()), (State::Fault, "Clipped"));
    assert_eq!(said.figure, "+2.3\u{a0}LU");
    assert_eq!(
        said.sentence,
        "1\u{a0}sample at full scale: lower the gain before it. True peak 0.8\u{a0}dB above −1.0\u{a0}dBTP. \
         2.3\u{a0}LU over −23.0\u{a0}LUFS."
    );
    let settling = said_of(&deliveries()[2]);
    assert_eq!(settling.head, "Settling");
    assert!(settling.sentence.starts_with("4 of 10\u{a0}s measured"));
}

#[test]
fn the_sick_numbers_of_a_broken_measurement_stay_words() {
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e308] {
        let sick =
            OutOfStep { worst: bad, worst_hz: bad, span: Span { low_hz: bad, high_hz: bad }, ..found(false) };
        let worst = BandLoss { band: 99, loss_db: bad };
        for said in [
            width(&Width::Spacious { side_share: bad, coherence: bad }),
            width(&Width::Panned { balance_db: bad }),
            width(&Width::OutOfStep(sick)),
            phase(&Phase::OutOfStep(sick)),
            mono(&Mono::Holds { loss_db: bad }),
            mono(&Mono::OneChannel { loss_db: bad }),
            mono(&Mono::Thins { loss_db: bad, worst }),
            mono(&Mono::Loses { loss_db: bad, worst, fixable: true }),
        ] {
            let text = said.aloud("Title");
            assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
        }
    }
}
