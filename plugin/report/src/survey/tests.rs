//! A survey made by hand: what its texts must and must not contain.

mod made;
mod worst_stretch;

use super::*;
use crate::conversion::spaced;
use made::{hostile, small};
use plumbline_programme::Kind;

#[test]
fn values_stand_where_and_as_they_should() {
    let document = document(&small());
    let programme = &document.programme;
    assert_eq!((programme.seconds, programme.end_timecode.as_deref()), (Some(30.0), Some("01:00:30:00")));
    assert_eq!(document.bus.sound.measured.whole.width_percent, Some(12.5));
    assert_eq!((document.bus.source.as_str(), document.bus.name.as_str()), ("mix", "Mix"));
    assert_eq!((document.bus.sound.measured.bands.len(), document.bus.sound.thirds.len()), (6, 31));
    assert_eq!(document.layers[0].share_percent, Some(70.0));
    assert_eq!(document.layers[0].files[0].path, "stems/tower.wav");
    let whole = &document.layers[1].sound.measured.whole;
    assert_eq!((whole.mono_loss_db, whole.mono_loss_words.as_deref()), (None, Some("all of it")));
    let pair = &document.pairs[0];
    assert_eq!((pair.delay_ms, pair.delay_samples), (Some(-5.0), Some(-240.0)));
    // 343.2 m/s at 20 °C (ISO 9613-1).
    assert_eq!((pair.distance_m, pair.delay_frames), (Some(-1.716), Some(-0.125)));
    assert_eq!(pair.polarity.as_deref(), Some("inverted"));
    assert_eq!(pair.read_at.as_ref().map(|at| (at.seconds, at.sample)), Some((12.0, 576_000)));
    let finding = &document.findings[0];
    assert_eq!((finding.kind.as_str(), finding.severity.as_str()), ("dropout", "grave"));
    assert_eq!((finding.start.seconds, finding.end.seconds, finding.start.sample), (1.2, 1.5, 57_600));
    assert_eq!(finding.start.timecode.as_deref(), Some("01:00:01:05"));
    assert_eq!((&finding.layers[0], finding.owner.as_str()), (&document.layers[0].layer, "tower"));
    assert_eq!(document.matches[0].change.name, "chisel");
    let loss = &document.mono_losses[0];
    assert_eq!((loss.start.seconds, loss.end.seconds, loss.explained_percent), (2.0, 4.0, 50.0));
    assert_eq!(loss.without[0].mono_loss_words.as_deref(), Some("nothing is left"));
    assert_eq!(
        document.roles.iter().map(|role| role.role.as_str()).collect::<Vec<_>>(),
        ["Natural", "Foley"]
    );
}

#[test]
fn csv_has_the_columns_of_the_plug_in() {
    let survey = small();
    let findings = findings_csv(&survey);
    let mut lines = findings.split("\r\n");
    assert!(lines.next().is_some_and(|head| {
        head.starts_with("layer,number,kind,severity,clock,start_timecode,start_seconds")
    }));
    assert!(
        lines
            .next()
            .is_some_and(|line| line.starts_with("Mix,1,dropout,grave,song,01:00:01:05,1.200000,57600"))
    );
    assert!(joins_csv(&survey).starts_with("layer,number,clock,at_timecode"));
}

#[test]
fn numbers_that_are_none_leave_no_trace() {
    let survey = hostile();
    let text = json(&survey);
    let read: format::Survey = serde_json::from_str(&text).expect("what must be a number is one");
    assert_eq!(read, document(&survey));
    let mut texts = 0;
    for text in [text, html(&survey), findings_csv(&survey), joins_csv(&survey)] {
        for none in ["NaN", "Infinity", "inf,", "-inf", " inf"] {
            assert!(
                !text.contains(none),
                "{none} in {}",
                &text[text.find(none).unwrap_or(0).saturating_sub(80)..][..160]
            );
        }
        texts += 1;
    }
    assert_eq!(texts, 4);
}

#[test]
fn names_are_text_and_the_page_has_no_script() {
    let page = html(&hostile());
    assert!(page.contains("&lt;script&gt;"), "the name is shown");
    for bad in ["<script", "javascript:", "onload", "http://", "https://", "<img", "<link"] {
        assert!(!page.contains(bad), "{bad}");
    }
    assert_eq!(page.matches("<svg").count(), page.matches("</svg>").count());
    assert_eq!(page.matches("<figure").count(), page.matches("</figure>").count());
    assert!(page.contains("default-src 'none'"));
}

#[test]
fn the_page_tells_the_verdicts_first_and_has_every_picture() {
    let page = html(&small());
    let place = |text: &str| page.find(text).unwrap_or_else(|| panic!("{text} is not on the page"));
    assert!(place("class=\"verdicts\"") < place("<h2>Over time</h2>"));
    for label in [
        "Loudness, width, correlation and shares over time",
        "Long-term spectrum by layer",
        "Width per third",
        "Correlation, coherence and out of step per third",
        "Mono loss per third",
        "Shares of the roles per third",
        "Difference in tone per third",
        "Delay over time of boom and lavalier, ms",
    ] {
        place(&format!("aria-label=\"{label}\""));
    }
    // The picture over time appears twice: wide, and for a phone.
    assert_eq!(page.matches("aria-label=\"Loudness, width, correlation and shares over time\"").count(), 2);
}

#[test]
fn equal_data_give_equal_texts() {
    let [one, other] = [small(), small()];
    assert_eq!((json(&one), html(&one)), (json(&other), html(&other)));
}

#[test]
fn every_verdict_has_a_state_and_a_sentence() {
    use plumbline_measure::Span;
    use plumbline_programme::Role;
    use plumbline_programme::session::{Aim, BalanceVerdict};
    use plumbline_programme::verdict::{BandLoss, Mono, OutOfStep, Phase, Width};
    let fault = OutOfStep {
        span: Span { low_hz: 200.0, high_hz: 2_000.0 },
        worst: 0.9,
        worst_hz: 500.0,
        correlation: -0.5,
        cause: plumbline_programme::arrival::Cause::Inverted,
        broad: true,
        thirds: 9,
    };
    let worst = BandLoss { band: 3, loss_db: f64::NEG_INFINITY };
    let widths = [
        Width::Unknown,
        Width::Mono,
        Width::OneSided { right: true },
        Width::Panned { balance_db: -4.0 },
        Width::Narrow { side_share: 0.05 },
        Width::Wide { side_share: 0.3 },
        Width::Spacious { side_share: 0.5, coherence: 0.1 },
        Width::OutOfStep(fault),
    ];
    let monos = [
        Mono::Unknown,
        Mono::Holds { loss_db: 0.0 },
        Mono::Thins { loss_db: -2.5, worst: BandLoss { band: 5, loss_db: -3.0 } },
        Mono::OneChannel { loss_db: -3.01 },
        Mono::Loses { loss_db: -4.0, worst, fixable: true },
        Mono::Loses { loss_db: f64::NEG_INFINITY, worst, fixable: false },
    ];
    let balances = [
        BalanceVerdict::Alone,
        BalanceVerdict::Silent,
        BalanceVerdict::Free,
        BalanceVerdict::On { role: Role::Natural, share: 0.7 },
        BalanceVerdict::Off { role: Role::Natural, share: 0.3, aim: Aim { share: 0.7, tolerance: 0.1 } },
        BalanceVerdict::Off { role: Role::Foley, share: 0.0, aim: Aim { share: 0.2, tolerance: 0.1 } },
    ];
    let phases = [Phase::Unknown, Phase::InStep, Phase::Unrelated, Phase::OutOfStep(fault)];
    let mut told = 0;
    for at in 0..8 {
        let mut survey = small();
        survey.pairs.pairs.clear();
        survey.verdicts.width = widths[at];
        survey.verdicts.mono = monos[at % monos.len()];
        survey.verdicts.balance = balances[at % balances.len()];
        survey.verdicts.phase = phases[at % phases.len()];
        for verdict in document(&survey).verdicts {
            assert!(["fine", "note", "fault", "unknown"].contains(&verdict.state.as_str()), "{verdict:?}");
            assert!(verdict.sentence.ends_with('.') && !verdict.sentence.contains(".."), "{verdict:?}");
            assert!(!verdict.sentence.contains("inf") && !verdict.sentence.contains("NaN"), "{verdict:?}");
            told += 1;
        }
    }
    assert_eq!(told, 8 * 7);
    let mut survey = small();
    survey.verdicts.width = widths[7];
    let sentence = |survey: &Survey, at: usize| document(survey).verdicts[at].sentence.clone();
    assert_eq!(
        sentence(&survey, 0),
        "No true width at 200 Hz–2 kHz: left and right oppose each other. What to do is under Mics."
    );
    survey.verdicts.balance = balances[4];
    assert_eq!(
        sentence(&survey, 3),
        "Natural is 40 points under its aim. Raise it by 7.4 dB, or lower Foley. Of all that is heard 70 % is Natural, \
         30 % Foley."
    );
    assert!(survey.findings.iter().any(|finding| finding.kind == Kind::Dropout));
}

#[test]
fn what_mono_loses_by_layer_has_its_place_and_no_infinity() {
    let mut survey = small();
    let told = |survey: &Survey| {
        let (head, rows) = sentences::losses(&survey.losses[0], survey);
        (spaced(head), rows.into_iter().map(spaced).collect::<Vec<_>>())
    };
    let (head, rows) = told(&survey);
    assert_eq!(head, "In mono Low mid (200–800 Hz) loses 9.0 dB in the 2 s from 01:00:02:00.");
    assert_eq!(rows[0], "Without chisel: nothing of Low mid is left");
    assert!(rows[1].starts_with("The layers explain 50 % of this band"), "{rows:?}");
    let loss = &mut survey.losses[0].loss;
    (loss.loss_db, loss.left_out[0].loss_db) = (f64::NEG_INFINITY, Some(f64::NEG_INFINITY));
    let (head, rows) = told(&survey);
    assert_eq!(head, "In mono Low mid (200–800 Hz) is gone in the 2 s from 01:00:02:00.");
    assert_eq!(rows[0], "Without chisel: still gone");
}

#[test]
fn microphones_that_hardly_cost_the_sum_anything_are_no_fault() {
    let mut survey = small();
    let mics = |survey: &Survey| document(survey).verdicts.swap_remove(2);
    let fight = mics(&survey);
    assert_eq!((fight.on.as_str(), fight.state.as_str(), fight.head.as_str()), ("mics", "fault", "Fight"));
    survey.pairs.pairs[0].line.cost_db = Some(0.05);
    let cheap = mics(&survey);
    assert_eq!((cheap.state.as_str(), cheap.head.as_str()), ("fine", "In step"));
    assert!(cheap.sentence.starts_with("1 pair of microphones adds up"), "{cheap:?}");
}
