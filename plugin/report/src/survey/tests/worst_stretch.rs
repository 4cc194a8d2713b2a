//! Words about a whole programme besides its average: the worst stretch, and why there is no answer.

use super::made::small;
use crate::survey::sentences;
use crate::words::{State, VerdictText};
use plumbline_measure::{Grid, Span};
use plumbline_programme::findings::{Grade, Kind};
use plumbline_programme::session::BalanceVerdict;
use plumbline_programme::survey::Survey;
use plumbline_programme::verdict::{Mono, Phase, Width};
use plumbline_programme::{Finding, Role};

/// A finding of 5 s from 12 s on.
fn finding(kind: Kind, worst: f64, grade: Grade) -> Finding {
    let made = small().findings[0].clone();
    let (start, end) = (120, 170);
    Finding {
        kind,
        worst,
        grade,
        start,
        end,
        at: 130,
        grid: Grid::Song,
        span: None,
        layers: Vec::new(),
        ..made
    }
}

fn said(survey: &Survey, on: &str) -> VerdictText {
    let mut all = sentences::verdicts(survey).into_iter();
    all.find(|(this, _)| *this == on).map(|(_, text)| text).expect("a verdict")
}

fn plain(text: &str) -> String {
    text.replace('\u{a0}', " ")
}

#[test]
fn five_seconds_that_lose_everything_head_the_mono_verdict_of_a_programme_that_holds() {
    let mut survey = small();
    survey.verdicts.mono = Mono::Holds { loss_db: -0.4 };
    assert_eq!(said(&survey, "mono").head, "Holds");
    let span = Some(Span { low_hz: 200.0, high_hz: 2_000.0 });
    survey.findings.push(finding(Kind::MonoLoss, 4.0, Grade::Slight));
    assert_eq!(said(&survey, "mono").state, State::Note);
    survey.findings.push(Finding { span, ..finding(Kind::MonoLoss, 23.7, Grade::Grave) });
    let text = said(&survey, "mono");
    assert_eq!(
        (text.state, text.head.as_str(), plain(&text.figure)),
        (State::Fault, "Loses in places", "−23.7 dB".into())
    );
    assert_eq!(
        plain(&text.sentence),
        "Mono loses 23.7 dB at 01:00:12:00, for 5.0 s (200 Hz–2 kHz). Over the whole programme it is 0.4 dB quieter."
    );
    survey.findings.push(finding(Kind::MonoLoss, f64::INFINITY, Grade::Grave));
    let text = said(&survey, "mono");
    assert!(
        text.figure.is_empty() && text.sentence.starts_with("Mono cancels completely at 01:00:12:00"),
        "{text:?}"
    );
    survey.verdicts.mono = Mono::Unknown;
    assert!(said(&survey, "mono").sentence.contains("At its worst it cancels"));
}

#[test]
fn balance_and_delivery_name_their_worst_place() {
    let mut survey = small();
    survey.verdicts.balance = BalanceVerdict::On { role: Role::Natural, share: 0.7 };
    let off = Finding { role: Some(Role::Natural), ..finding(Kind::Balance, -30.0, Grade::Grave) };
    survey.findings.extend([
        off,
        finding(Kind::TruePeak, -0.4, Grade::Clear),
        finding(Kind::TruePeak, 0.3, Grade::Grave),
    ]);
    let text = said(&survey, "balance");
    assert_eq!(text.state, State::Note);
    assert!(
        plain(&text.sentence).ends_with("Furthest off at 01:00:12:00, for 5.0 s: Natural 30 points under."),
        "{text:?}"
    );
    assert!(!said(&survey, "delivery").sentence.contains("peak at"));
    survey.verdicts.delivery.true_peak_over_db = Some(1.3);
    assert!(
        said(&survey, "delivery").sentence.ends_with("Highest peak at 01:00:13:00."),
        "{:?}",
        said(&survey, "delivery")
    );
}

#[test]
fn a_loud_sound_without_an_answer_is_short_not_quiet() {
    let mut survey = small();
    survey.pairs.pairs.clear();
    (survey.verdicts.width, survey.verdicts.phase) = (Width::Unknown, Phase::Unknown);
    let whole = &mut survey.bus.sound.spectral.whole;
    (whole.level_dbfs, whole.side_share, whole.coherence) = (Some(-15.0), Some(0.4), None);
    survey.frames = 6 * 48_000 + 33_600;
    assert_eq!(said(&survey, "width").sentence, "Too short to tell how wide it is.");
    assert_eq!(said(&survey, "mics").sentence, "Too short to tell whether left and right add up.");
    survey.frames = 60 * 48_000;
    assert_eq!(said(&survey, "width").sentence, "Too few events to tell how wide it is.");
    let whole = &mut survey.bus.sound.spectral.whole;
    (whole.level_dbfs, whole.side_share) = (None, None);
    assert_eq!(said(&survey, "width").sentence, "Too little signal to tell how wide it is.");
}
