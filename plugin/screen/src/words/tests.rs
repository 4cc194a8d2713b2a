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

mod session {
    use super::*;
    use plumbline_measure::reading::Maybe;
    use plumbline_measure::session::{
        Aim, BalanceVerdict, Covered, LayerLine, LeftOut, LossByLayer, Match, RolePart, SessionNote,
        Unaccounted,
    };
    use plumbline_measure::{BalanceTarget, Identity, LayerId, Role, Session, Stretch};

    fn line(id: u64, name: &str, role: Role) -> LayerLine {
        let identity = Identity { name: name.to_owned(), role, colour: None };
        LayerLine { id: LayerId(id), identity, running: true, on_song: true, ..LayerLine::default() }
    }

    /// Natural, Foley and Design with these shares now, and one of Natural in the programme.
    fn shares(now: [f64; 3], natural_in_all: f64) -> Session {
        let mut session = Session {
            letter: 'A',
            layers: vec![
                line(1, "Tower ambience", Role::Natural),
                line(2, "Foley chisel", Role::Foley),
                line(3, "", Role::Design),
            ],
            ..Session::default()
        };
        for (at, share) in now.into_iter().enumerate() {
            session.roles[at] = RolePart { layers: 1, ..RolePart::default() };
            session.roles[at].parts[Stretch::Now.place()].share = Some(share);
        }
        session.roles[0].parts[Stretch::Programme.place()].share = Some(natural_in_all);
        session
    }

    const AIM: Aim = Aim { share: 0.70, tolerance: 0.10 };

    fn verdicts() -> Vec<(BalanceVerdict, Session)> {
        let role = Role::Natural;
        vec![
            (BalanceVerdict::Alone, Session::default()),
            (BalanceVerdict::Silent, shares([0.0; 3], 0.7)),
            (BalanceVerdict::Free, shares([0.64, 0.21, 0.15], 0.71)),
            (BalanceVerdict::On { role, share: 0.64 }, shares([0.64, 0.21, 0.15], 0.71)),
            (BalanceVerdict::Off { role, share: 0.46, aim: AIM }, shares([0.46, 0.38, 0.16], 0.48)),
            (BalanceVerdict::Off { role, share: 0.46, aim: AIM }, shares([0.46, 0.38, 0.16], 0.71)),
            (BalanceVerdict::Off { role, share: 0.91, aim: AIM }, shares([0.91, 0.03, 0.06], 0.92)),
            (BalanceVerdict::Off { role, share: 1.0, aim: AIM }, shares([1.0, 0.0, 0.0], 1.0)),
            (BalanceVerdict::Off { role, share: 0.0, aim: AIM }, Session::default()),
        ]
    }

    #[test]
    fn every_balance_is_one_plain_sentence_of_bounded_length() {
        let mut ran = 0;
        for (verdict, session) in verdicts() {
            let said = balance(&verdict, &session, &BalanceTarget::default());
            assert!(said.sentence.ends_with('.') && said.sentence.len() <= 150, "{said:?}");
            assert!(!said.short.is_empty() && said.short.len() <= said.sentence.len(), "{said:?}");
            assert_eq!(said.state == State::Unknown, said.head == DASH, "{said:?}");
            for broken in ["inf", "NaN", "∞", "  ", "– dB"] {
                assert!(!said.aloud("Balance").contains(broken), "{broken:?} in {said:?}");
            }
            ran += 1;
        }
        assert_eq!(ran, 9);
    }

    #[test]
    fn a_balance_off_its_aim_says_what_to_do_and_by_how_much() {
        let said: Vec<Said> =
            verdicts().iter().map(|(v, s)| balance(v, s, &BalanceTarget::default())).collect();
        assert_eq!((said[3].state, said[3].head.as_str()), (State::Fine, "Natural 64\u{a0}%"));
        assert_eq!(said[3].figure, "aim 70 ± 10\u{a0}%");
        assert_eq!(
            said[3].sentence,
            "Of what is heard now 64\u{a0}% is Natural, 21\u{a0}% Foley, 15\u{a0}% Design. The programme has \
             71\u{a0}% Natural."
        );
        // 10·lg(0.70·0.54/(0.46·0.30)) = 4.376: energies add up.
        assert_eq!(
            said[4].sentence,
            "Natural is 24\u{a0}% under its aim. Raise it by 4.4\u{a0}dB, or lower Foley, which has 38\u{a0}%. The \
             programme has 48\u{a0}% Natural."
        );
        assert_eq!(
            (said[4].state, said[5].state),
            (State::Fault, State::Note),
            "the programme is within its aim"
        );
        assert!(
            said[6]
                .sentence
                .starts_with("Natural is 21\u{a0}% over its aim. Lower it by 6.4\u{a0}dB, or raise")
        );
        assert!(
            said[7].sentence.starts_with("Natural is 30\u{a0}% over its aim. Lower it."),
            "{:?}",
            said[7]
        );
    }

    #[test]
    fn what_is_not_accounted_for_is_told_from_one_decibel_on_with_its_reason() {
        let of = |db| unaccounted(Unaccounted { db });
        for quiet in [None, Some(0.0), Some(0.99), Some(-0.99), Some(f64::NAN)] {
            assert_eq!(of(quiet), None);
        }
        assert!(of(Some(2.3)).is_some_and(|s| s.sentence.starts_with("The mix holds 2.3\u{a0}dB more")));
        assert!(of(Some(-2.3)).is_some_and(|s| s.sentence.contains("less") && s.sentence.contains("cancel")));
        let gone = of(Some(f64::NEG_INFINITY)).expect("worth words");
        assert_eq!(gone.state, State::Fault);
        assert!(gone.sentence.starts_with("The layers cancel: the mix is silent while its layers sound."));
        assert!(of(Some(f64::INFINITY)).is_some_and(|s| s.sentence.contains("missing")));
    }

    #[test]
    fn flags_come_the_gravest_first_and_silence_has_none() {
        let session = shares([0.6, 0.3, 0.1], 0.7);
        assert_eq!(flags(&session.layers[0], &session), []);
        let mut line = session.layers[1].clone();
        line.running = false;
        line.on_song = false;
        line.late_secs = Some(-0.3);
        line.missed = 1;
        let span = Span { low_hz: 900.0, high_hz: 2_800.0 };
        line.covered = Some(Covered { by_db: 12.4, by: LayerId(1), span });
        let shorts: Vec<String> = flags(&line, &session).into_iter().map(|flag| flag.short).collect();
        assert_eq!(
            shorts,
            [
                "not running",
                "covered 12\u{a0}dB by Tower ambience",
                "0.3\u{a0}s early",
                "no song position",
                "1\u{a0}tenth missed"
            ]
        );
    }

    #[test]
    fn a_match_names_its_largest_moves_in_order_of_frequency() {
        let session = shares([0.6, 0.3, 0.1], 0.7);
        let mut found = Match {
            change: LayerId(2),
            like: LayerId(1),
            change_db: [Maybe::new(Some(0.4)); 31],
            spread_db: [Maybe::NONE; 31],
            louder_db: 3.1,
            tenths: 412,
        };
        assert!(matched(&found, &session).moves.starts_with("nothing to change"));
        for (third, db) in [(10, -2.0), (11, -4.2), (12, -1.6), (23, 3.1), (26, 1.0), (28, 5.8), (2, 1.6)] {
            found.change_db[third] = Maybe::new(Some(db));
        }
        let said = matched(&found, &session);
        assert_eq!(said.title, "To make Foley chisel sound like Tower ambience");
        assert_eq!(
            said.moves,
            "cut 4\u{a0}dB around 250\u{a0}Hz, add 3\u{a0}dB around 4\u{a0}kHz, add 6\u{a0}dB around 12.5\u{a0}kHz"
        );
        assert_eq!(said.behind, "From 41.2\u{a0}s in which both sound. Level apart: +3.1\u{a0}dB.");
        found.tenths = 12;
        assert!(matched(&found, &session).behind.ends_with("wait for more."));
    }

    #[test]
    fn a_loss_names_who_causes_it_and_how_much_of_it_is_known() {
        let session = shares([0.6, 0.3, 0.1], 0.7);
        let out = |layers: &[u64], loss_db| LeftOut {
            layers: layers.iter().map(|id| LayerId(*id)).collect(),
            loss_db,
        };
        let found = LossByLayer {
            band: 3,
            span: Span { low_hz: 800.0, high_hz: 2_500.0 },
            loss_db: -6.8,
            left_out: vec![
                out(&[1], Some(-0.4)),
                out(&[1, 2], None),
                out(&[3], Some(f64::NEG_INFINITY)),
                out(&[9], Some(-6.0)),
            ],
            explained: 0.62,
        };
        let said = loss(&found, &session);
        assert_eq!(said.head, "In mono Mid (800\u{a0}Hz–2.5\u{a0}kHz) loses 6.8\u{a0}dB.");
        assert_eq!(
            said.rows,
            [
                "Without Tower ambience: 0.4\u{a0}dB",
                "Without Tower ambience with Foley chisel: nothing of Mid is left",
                "Without Unnamed layer: still gone",
                "Without a layer that left: 6.0\u{a0}dB",
            ]
        );
        assert!(said.behind.is_some_and(|b| b.starts_with("The layers explain 62\u{a0}% of this band")));
        assert_eq!(loss(&LossByLayer { explained: 0.7, ..found }, &session).behind, None);
    }

    #[test]
    fn notes_say_what_is_wrong_and_the_way_out() {
        let (state, alone) = note(&SessionNote::Alone("the folder is read-only.".to_owned()));
        assert_eq!(state, State::Fault);
        assert!(
            alone.starts_with("Other layers cannot be heard: the folder is read-only. This layer"),
            "{alone}"
        );
        let (_, many) = note(&SessionNote::TooMany { beyond: 1, own: true });
        assert!(many.starts_with("1\u{a0}layer is beyond the 64 of one session"), "{many}");
        assert!(many.contains("This layer is one of them.") && many.ends_with("Use another letter."));
        assert!(
            note(&SessionNote::Unreadable { files: 2 }).1.starts_with("2\u{a0}layers of another version")
        );
    }
}
