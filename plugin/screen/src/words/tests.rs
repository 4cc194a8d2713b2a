//! The words for a session whose layers are playing.

use super::*;
use plumbline_measure::Span;
use plumbline_measure::reading::Maybe;
use plumbline_programme::session::{
    Aim, BalanceVerdict, Covered, LayerLine, LeftOut, LossByLayer, Match, RolePart, SessionNote,
};
use plumbline_programme::{BalanceTarget, Identity, LayerId, Role, Session, Stretch};
use plumbline_report::figures::DASH;

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
    let said: Vec<VerdictText> =
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
        "Natural is 24\u{a0}points under its aim. Raise it by 4.4\u{a0}dB, or lower Foley, which has 38\u{a0}%. The \
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
            .starts_with("Natural is 21\u{a0}points over its aim. Lower it by 6.4\u{a0}dB, or raise")
    );
    assert!(
        said[7].sentence.starts_with("Natural is 30\u{a0}points over its aim. Lower it."),
        "{:?}",
        said[7]
    );
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
        spread_db: [Maybe::new(Some(0.9)); 31],
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
    assert_eq!(said.behind, "From 41.2\u{a0}s in which both play. Level offset: +3.1\u{a0}dB.");
    // If the difference scatters by more than its size, or the two are rarely heard together, no move is named.
    found.spread_db[11] = Maybe::new(Some(4.3));
    found.spread_db[28] = Maybe::NONE;
    assert_eq!(
        matched(&found, &session).moves,
        "add 2\u{a0}dB around 31.5\u{a0}Hz, cut 2\u{a0}dB around 200\u{a0}Hz, add 3\u{a0}dB around 4\u{a0}kHz"
    );
    found.spread_db = [Maybe::new(Some(6.0)); 31];
    assert!(matched(&found, &session).moves.starts_with("no move is advised"));
    found.tenths = 12;
    assert_eq!(
        matched(&found, &session).behind,
        "From 1.2\u{a0}s in which both play: few yet, wait for more. Level offset: +3.1\u{a0}dB."
    );
}

#[test]
fn a_loss_names_who_causes_it_and_how_much_of_it_is_known() {
    let session = shares([0.6, 0.3, 0.1], 0.7);
    let out =
        |layers: &[u64], loss_db| LeftOut { layers: layers.iter().map(|id| LayerId(*id)).collect(), loss_db };
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
            "Without Tower ambience: 0.4\u{a0}dB lost",
            "Without Tower ambience with Foley chisel: nothing of Mid is left",
            "Without Unnamed layer: still gone",
            "Without a layer that left: 6.0\u{a0}dB lost",
        ]
    );
    assert!(said.behind.is_some_and(|b| b.starts_with("The layers explain 62\u{a0}% of this band")));
    let unexplained = loss(&LossByLayer { explained: 0.7, left_out: Vec::new(), ..found }, &session);
    assert_eq!((unexplained.behind, unexplained.rows.len()), (None, 1));
    assert!(unexplained.rows[0].starts_with("No layer"), "{:?}", unexplained.rows);
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
    assert!(note(&SessionNote::Unreadable { files: 2 }).1.starts_with("2\u{a0}layers of another version"));
}
