//! Silence, dead channels, very short sound, NaN and infinity, and plans that cannot be carried out.

use super::{Memory, layer, noise, scaled, surveyed};
use crate::engine::{Plan, PlanError, SurveyError, run};
use plumbline_programme::Role;
use plumbline_programme::survey::Survey;
use plumbline_report::{format, survey as report};
use std::ops::ControlFlow;

const FRAMES: usize = 4 * 48_000;

/// The report as data, read back from its text: NaN or ∞ would be null there, and could not be read.
fn read_back(survey: &Survey) -> format::Survey {
    let text = report::json(survey);
    let document: format::Survey =
        serde_json::from_str(&text).expect("every number that must be there is finite");
    assert_eq!(document, report::document(survey), "nothing is lost on the way");
    for text in [&report::html(survey), &report::findings_csv(survey), &report::joins_csv(survey)] {
        assert!(!text.contains("NaN") && !text.contains("inf "), "no number that is none");
    }
    assert!(report::html(survey).contains("</html>"));
    document
}

#[test]
fn silence_has_no_readings_and_no_zeros_in_their_place() {
    let plan = Plan {
        layers: vec![layer("tower", Role::Natural, &[0]), layer("nothing", Role::Foley, &[1])],
        ..Plan::default()
    };
    let tower = [1, 2].map(|seed| scaled(&noise(seed, FRAMES), 0.1)).to_vec();
    let (survey, _) =
        surveyed(Memory::new(48_000, vec![tower, vec![vec![0.0; FRAMES]]]), &plan).expect("surveyed");
    let document = read_back(&survey);
    let silent = &document.layers[1];
    assert_eq!(silent.share_percent, Some(0.0), "a silent layer has a share of 0 where others sound");
    assert_eq!((silent.integrated_lufs, silent.sound.measured.whole.level_dbfs), (None, None));
    assert_eq!(
        (silent.sound.measured.whole.width_percent, silent.sound.measured.whole.mono_loss_db),
        (None, None)
    );
    assert_eq!(silent.sound.measured.loudness.true_peak_dbtp, None);
    assert!(silent.sound.thirds.iter().all(|third| third.reading.level_dbfs.is_none()));
    assert_eq!(silent.sound.thirds.len(), 31);

    let (survey, _) =
        surveyed(Memory::new(48_000, vec![vec![vec![0.0; FRAMES]]; 2]), &plan).expect("surveyed");
    let document = read_back(&survey);
    assert_eq!(
        (document.layers[0].share_percent, document.bus.sound.measured.loudness.integrated_lufs),
        (None, None)
    );
    assert!(document.findings.is_empty() && document.joins.is_empty(), "{document:?}");
}

#[test]
fn a_dead_channel_has_no_correlation() {
    let plan = Plan { mix: Some(vec![0]), ..Plan::default() };
    let sides = vec![scaled(&noise(1, 3 * FRAMES), 0.1), vec![0.0; 3 * FRAMES]];
    let (survey, _) = surveyed(Memory::new(48_000, vec![sides]), &plan).expect("surveyed");
    let document = read_back(&survey);
    let whole = &document.bus.sound.measured.whole;
    assert_eq!(
        (whole.correlation, whole.coherence, whole.balance_db, whole.right_dbfs),
        (None, None, None, None)
    );
    assert!(whole.left_dbfs.is_some() && whole.width_percent == Some(50.0), "{whole:?}");
    assert!(document.findings.iter().any(|finding| finding.kind == "one_sided"), "{:?}", document.findings);
    assert!(document.layers.is_empty() && document.roles.is_empty());
    let verdict = document.verdicts.iter().find(|verdict| verdict.on == "width").expect("a verdict");
    assert_eq!((verdict.state.as_str(), verdict.head.as_str()), ("fault", "Left only"));
}

#[test]
fn opposed_channels_are_told_in_words_where_the_number_is_infinite() {
    let side = scaled(&noise(1, FRAMES), 0.1);
    let plan = Plan { mix: Some(vec![0]), ..Plan::default() };
    let (survey, _) = surveyed(Memory::new(48_000, vec![vec![side.clone(), scaled(&side, -1.0)]]), &plan)
        .expect("surveyed");
    let document = read_back(&survey);
    let whole = &document.bus.sound.measured.whole;
    assert_eq!((whole.mono_loss_db, whole.mono_loss_words.as_deref()), (None, Some("all of it")));
}

#[test]
fn fifty_milliseconds_and_a_single_sample_are_a_programme() {
    for frames in [1, 2_400, 4_799, 4_801] {
        let plan = Plan { layers: vec![layer("boom", Role::Natural, &[0])], ..Plan::default() };
        let (survey, tenths) =
            surveyed(Memory::new(48_000, vec![vec![scaled(&noise(1, frames), 0.5)]]), &plan)
                .expect("surveyed");
        let document = read_back(&survey);
        assert_eq!(document.programme.samples, Some(frames as u64));
        assert_eq!(tenths[0].len(), frames.div_ceil(4_800));
        assert_eq!(document.bus.sound.measured.loudness.integrated_lufs, None);
    }
    let plan = Plan { layers: vec![layer("boom", Role::Natural, &[0])], ..Plan::default() };
    let empty = surveyed(Memory::new(48_000, vec![vec![Vec::new()]]), &plan);
    assert!(matches!(empty, Err(SurveyError::Empty)));
}

#[test]
fn samples_that_are_no_numbers_are_counted_and_measured_as_silence() {
    let mut bad = scaled(&noise(1, FRAMES), 0.1);
    for (i, worst) in
        [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, f32::MAX, f32::MIN_POSITIVE].iter().enumerate()
    {
        bad[10_000 + 1_000 * i] = *worst;
    }
    let plan = Plan {
        layers: vec![layer("bad", Role::Natural, &[0]), layer("good", Role::Foley, &[1])],
        ..Plan::default()
    };
    let good = vec![scaled(&noise(2, FRAMES), 0.1)];
    let (survey, _) = surveyed(Memory::new(48_000, vec![vec![bad], good]), &plan).expect("surveyed");
    let document = read_back(&survey);
    assert_eq!(document.layers[0].sound.measured.not_finite, 3);
    assert_eq!(document.layers[1].sound.measured.not_finite, 0);
    // Each of them is also NaN or infinite in the sum, in both channels.
    assert_eq!(document.bus.sound.measured.not_finite, 2 * 3);
    assert!(document.layers[1].integrated_lufs.is_some());
}

#[test]
fn every_rate_is_surveyed() {
    let mut rates = 0;
    for rate_hz in [22_050, 44_100, 47_952, 96_000, 384_000] {
        let frames = rate_hz as usize * 3 / 2;
        let plan = Plan { layers: vec![layer("boom", Role::Natural, &[0])], ..Plan::default() };
        let (survey, tenths) =
            surveyed(Memory::new(rate_hz, vec![vec![scaled(&noise(1, frames), 0.1)]]), &plan)
                .expect("surveyed");
        let document = read_back(&survey);
        assert_eq!(tenths[0].len(), 15, "{rate_hz}");
        let mut programme = plumbline_programme::Programme::default();
        tenths[1].iter().for_each(|tenth| programme.push(tenth));
        let mut loudness = plumbline_measure::Loudness::default();
        programme.fill(&mut loudness);
        assert_eq!(survey.bus.sound.loudness.integrated_lufs, loudness.integrated_lufs, "{rate_hz}");
        assert_eq!(document.programme.sample_rate_hz, rate_hz);
        rates += 1;
    }
    assert_eq!(rates, 5);
}

#[test]
fn who_stops_it_gets_no_report() {
    let plan = Plan { layers: vec![layer("boom", Role::Natural, &[0])], ..Plan::default() };
    let mut memory = Memory::new(48_000, vec![vec![noise(1, FRAMES)]]);
    let mut told = 0;
    let stopped = run(&mut memory, &plan, None, &mut |_| {
        told += 1;
        if told == 2 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    });
    assert!(matches!(stopped, Err(SurveyError::Stopped)));
    assert_eq!(told, 2);
    let mut full = |_: usize, _: &plumbline_measure::Tenth| Err(std::io::ErrorKind::StorageFull.into());
    let mut memory = Memory::new(48_000, vec![vec![noise(1, FRAMES)]]);
    let failed = run(&mut memory, &plan, Some(&mut full), &mut |_| ControlFlow::Continue(()));
    assert!(matches!(failed, Err(SurveyError::Tenths(_))));
}

#[test]
fn plans_that_cannot_be_carried_out_say_why() {
    let check = |plan: Plan| match surveyed(Memory::new(48_000, vec![vec![vec![0.1; 100]]]), &plan) {
        Err(SurveyError::Plan(error)) => error,
        other => panic!("{:?}", other.map(|_| "surveyed")),
    };
    assert_eq!(check(Plan::default()), PlanError::Nothing);
    let none = Plan { layers: vec![layer("boom", Role::Natural, &[])], ..Plan::default() };
    assert_eq!(check(none), PlanError::NoStem { name: "boom".to_owned() });
    let beyond = Plan { mix: Some(vec![1]), ..Plan::default() };
    assert_eq!(check(beyond), PlanError::NoSuchStem { name: "the mix".to_owned(), stem: 1, got: 1 });
    let mix = Plan { layers: vec![layer("bus", Role::Mix, &[0])], ..Plan::default() };
    assert_eq!(check(mix), PlanError::MixAmongLayers { name: "bus".to_owned() });
    let many = Plan { layers: vec![layer("boom", Role::Natural, &[0]); 64], ..Plan::default() };
    assert_eq!(check(many.clone()), PlanError::TooMany { got: 64 });
    assert!(!check(many).to_string().contains('\n'));
}
