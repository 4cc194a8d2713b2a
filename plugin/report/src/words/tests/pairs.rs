//! The advice on a pair of microphones.

use super::super::pair_advice::cannot_tell;
use super::super::*;
use super::plain;
use plumbline_measure::Maybe;
use plumbline_measure::bands::THIRDS;
use plumbline_programme::arrival::SPACED_SECS;
use plumbline_programme::pair::{Agreed, CannotTell, Drift, Polarity, Reading, ThirdReading};
use plumbline_programme::{LayerId, Mic, PairLine};

/// 5 ms apart at 48 kHz; aligned, the blend gains `gain_db` in all thirds.
fn line(agreed: Agreed, gain_db: f64) -> PairLine {
    let third = ThirdReading {
        coherence: Maybe::new(Some(0.9)),
        under_loudest_db: Maybe::new(Some(-5.0)),
        gain_db: Maybe::new(Some(gain_db)),
        ..ThirdReading::default()
    };
    PairLine {
        mics: [Mic::Layer(LayerId(1)), Mic::Layer(LayerId(2))],
        reading: Reading {
            outcome: Ok(agreed),
            thirds: [third; THIRDS],
            coherence: Some(0.9),
            level_db: Some(-2.0),
            won: Some(0.5),
            net_gain_db: Some(gain_db),
        },
        cost_db: Some(1.0),
        rate_hz: 48_000,
        spaced_secs: SPACED_SECS,
        trace: Vec::new(),
        delays: Vec::new(),
        heard: None,
        quiet_secs: 0.0,
        stretches: Vec::new(),
    }
}

fn agreed() -> Agreed {
    Agreed {
        delay_secs: 0.005,
        sigma_secs: 2e-5,
        polarity: Polarity::Same,
        confidence: 0.8,
        second_secs: None,
        drift: None,
        windows: [9, 10],
    }
}

fn told(line: &PairLine) -> VerdictText {
    let names = ["boom".to_owned(), "lavalier".to_owned()];
    let said = pair(line, &names, (FrameRate::F24, 20.0), Context::Files);
    let [figure, sentence, short] = [&said.figure, &said.sentence, &said.short].map(|text| plain(text));
    VerdictText { figure, sentence, short, ..said }
}

#[test]
fn a_fight_names_who_trails_by_how_much_and_what_a_move_wins() {
    let said = told(&line(agreed(), 2.0));
    assert_eq!((said.state, said.head.as_str()), (State::Fault, "Fight"));
    assert_eq!(said.figure, "5.00 ± 0.02 ms");
    // 343.2 m/s at 20 °C (ISO 9613-1).
    assert_eq!(
        said.sentence,
        "lavalier trails boom by 5.00 ms (240.0 samples, 0.12 frames, 1.72 m): move it 240 samples earlier, keep \
         polarity; the sum gains 2.0 dB, most at 17.8 Hz–22.4 kHz (2.0 dB)."
    );
    assert_eq!(said.short, "lavalier trails boom by 5.00 ms: move it 240 samples earlier.");
    let sure = told(&line(Agreed { sigma_secs: 1e-6, ..agreed() }, 2.0));
    assert_eq!(sure.figure, "5.00 ms", "a deviation too small for the decimals is not shown");
    let other = told(&line(Agreed { delay_secs: -0.005, polarity: Polarity::Inverted, ..agreed() }, 2.0));
    assert!(other.sentence.starts_with("boom trails lavalier by 5.00 ms"), "{other:?}");
    assert!(other.sentence.contains("240 samples earlier, and invert its polarity;"), "{other:?}");
    let flipped = told(&line(Agreed { delay_secs: 0.0, polarity: Polarity::Inverted, ..agreed() }, 2.0));
    assert_eq!(flipped.head, "Inverted");
    assert!(flipped.sentence.starts_with("lavalier is polarity inverted against boom: invert one of them"));
}

#[test]
fn a_drift_has_its_deviation_unless_the_decimals_are_too_few_for_it() {
    let drift = |sigma_ppm| {
        let drift = Some(Drift { ppm: -12.5, sigma_ppm, plain: true });
        told(&line(Agreed { drift, ..agreed() }, 2.0)).sentence
    };
    assert!(
        drift(1.04).ends_with(
            ". The gap shrinks by 12.5 ± 1.0 ppm, 1 ms in 80 s: the recorders' clocks differ, and one move does not \
             hold for long. Correct the speed, or cut more often."
        ),
        "{}",
        drift(1.04)
    );
    assert!(drift(0.01).contains("shrinks by 12.5 ppm, 1 ms"), "{}", drift(0.01));
    assert!(drift(f64::INFINITY).contains("shrinks by 12.5 ± – ppm"), "{}", drift(f64::INFINITY));
}

#[test]
fn what_needs_no_move_is_left_alone() {
    let in_step = told(&line(agreed(), 0.0));
    assert_eq!((in_step.state, in_step.figure.as_str()), (State::Fine, "5.00 ms"));
    assert!(in_step.sentence.starts_with("boom and lavalier add up, 5.00 ms apart: no move wins"));
    let mut apart = line(agreed(), 2.0);
    apart.reading.thirds = [ThirdReading::default(); THIRDS];
    apart.reading.coherence = Some(0.3);
    let room = told(&apart);
    assert_eq!(
        room.sentence,
        "Keep boom and lavalier as they are: what they share is room, not a fault (coherence 0.30)."
    );
    apart.reading.coherence = None;
    assert!(told(&apart).sentence.ends_with("room, not a fault."));
}

#[test]
fn of_files_nobody_is_told_to_wait_or_to_reach_for_a_fader() {
    let reasons = [
        CannotTell::TooShort,
        CannotTell::TooQuiet,
        CannotTell::OneSilent,
        CannotTell::Unrelated,
        CannotTell::Tonal,
        CannotTell::Ambiguous,
        CannotTell::Moving,
    ];
    let mut differ = 0;
    for reason in reasons {
        let [now, whole] = [Context::Live, Context::Files].map(|told| cannot_tell(reason, told));
        for said in [&now, &whole] {
            assert_eq!(said.state, State::Unknown);
            assert!(said.sentence.starts_with("Cannot tell: ") && said.sentence.ends_with('.'), "{said:?}");
            assert!(!said.sentence.contains("  ") && said.short.len() < said.sentence.len(), "{said:?}");
        }
        for live in ["Wait", "wait", "fader", "clap once"] {
            assert!(!whole.sentence.contains(live), "{live} in {whole:?}");
        }
        differ += u32::from(now != whole);
    }
    assert_eq!(differ, 4);
}
