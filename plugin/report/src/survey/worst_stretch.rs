//! The worst stretch of a programme, beside the verdict on the whole: an average over an hour hides five bad seconds.

use crate::figures;
use crate::words::{self, State, VerdictText};
use plumbline_programme::Finding;
use plumbline_programme::findings::{Grade, Kind};
use plumbline_programme::survey::Survey;
use plumbline_programme::verdict::Mono;

/// The worst finding of a kind; of equals, the first.
fn worst(survey: &Survey, kind: Kind) -> Option<&Finding> {
    let of_kind = survey.findings.iter().filter(|finding| finding.kind == kind && !finding.worst.is_nan());
    of_kind.rev().max_by(|a, b| a.worst.abs().total_cmp(&b.worst.abs()))
}

/// "01:00:12:00, for 5.0 s".
fn when(finding: &Finding, survey: &Survey) -> String {
    let at = words::place(finding.grid, finding.start, survey.start, survey.rate);
    format!("{at}, for {}", words::length(finding.secs()))
}

/// The mono verdict on the whole, headed by its worst stretch if that loses more.
pub(super) fn mono(text: VerdictText, survey: &Survey) -> VerdictText {
    let Some(finding) = worst(survey, Kind::MonoLoss) else { return text };
    let over_all = match survey.verdicts.mono {
        Mono::Holds { loss_db } | Mono::Thins { loss_db, .. } | Mono::OneChannel { loss_db } => {
            Some(loss_db.abs())
        }
        Mono::Loses { .. } | Mono::Unknown => None,
    };
    let lost = if finding.worst == f64::INFINITY {
        "cancels completely".to_owned()
    } else {
        format!("loses {}", figures::db(Some(finding.worst)))
    };
    let span = finding.span.map(|span| format!(" ({})", figures::hz_span(&span))).unwrap_or_default();
    let stretch = format!("{lost} at {}{span}", when(finding, survey));
    let Some(over_all) = over_all else {
        return VerdictText { sentence: format!("{} At its worst it {stretch}.", text.sentence), ..text };
    };
    let state = if finding.grade == Grade::Slight { State::Note } else { State::Fault };
    let figure = if finding.worst.is_finite() { figures::db(Some(-finding.worst)) } else { String::new() };
    let sentence =
        format!("Mono {stretch}. Over the whole programme it is {} quieter.", figures::db(Some(over_all)));
    VerdictText::new(state, "Loses in places", figure, sentence)
}

/// The balance verdict on the whole, with the passage that is furthest off.
pub(super) fn balance(text: VerdictText, survey: &Survey) -> VerdictText {
    let Some(finding) = worst(survey, Kind::Balance) else { return text };
    let role = finding.role.map_or("a role", |role| role.name());
    let sentence = format!(
        "{} Furthest off at {}: {role} {}.",
        text.sentence,
        when(finding, survey),
        words::worst(finding)
    );
    let state = if text.state == State::Fine { State::Note } else { text.state };
    VerdictText { state, sentence, ..text }
}

/// The delivery verdict on the whole, with the places of the highest peak and of the worst flat top.
pub(super) fn delivery(mut text: VerdictText, survey: &Survey) -> VerdictText {
    let verdict = &survey.verdicts.delivery;
    let at = |kind| worst_place(survey, kind);
    if let Some(place) = at(Kind::Clipped).filter(|_| verdict.flat > 0) {
        text.sentence += &format!(" Most clipped samples at {place}.");
    }
    if let Some(place) = at(Kind::TruePeak).filter(|_| verdict.true_peak_over_db.is_some()) {
        text.sentence += &format!(" Highest peak at {place}.");
    }
    text
}

/// Place of the worst tenth of a kind. Levels are signed, so the highest counts.
fn worst_place(survey: &Survey, kind: Kind) -> Option<String> {
    let of_kind = survey.findings.iter().filter(|finding| finding.kind == kind && !finding.worst.is_nan());
    let finding = of_kind.rev().max_by(|a, b| a.worst.total_cmp(&b.worst))?;
    Some(words::place(finding.grid, finding.at, survey.start, survey.rate))
}
