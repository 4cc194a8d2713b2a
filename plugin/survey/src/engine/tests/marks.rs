//! Joins at the marks of a plan: measured as by the plug-in's code, written out and read back.

use super::{Memory, layer, noise, scaled, surveyed};
use crate::engine::Plan;
use crate::marks::{Entry, Line, place, read_edit_list, read_table};
use plumbline_measure::{FrameRate, Grid, SampleRate, Timecode};
use plumbline_programme::survey::{Mark, Survey};
use plumbline_programme::{Events, Join, Mark as At, Role, Rules};
use plumbline_report::survey as report;
use proptest::collection::vec;
use proptest::prelude::*;

const FRAMES: usize = 20 * 48_000;

fn mark(sample: i64, name: &str) -> Mark {
    Mark { sample, name: Some(name.to_owned()), transition_frames: 0 }
}

/// Steady noise that steps up by 12 dB at 12 s.
fn step() -> Vec<Vec<Vec<f32>>> {
    let side = |seed| {
        let mut side = scaled(&noise(seed, FRAMES), 0.05);
        side[12 * 48_000..].iter_mut().for_each(|sample| *sample *= 4.0);
        side
    };
    vec![vec![side(1), side(2)]]
}

fn plan(marks: &[Mark]) -> Plan {
    Plan { layers: vec![layer("tower", Role::Natural, &[0])], marks: marks.to_vec(), ..Plan::default() }
}

#[test]
fn a_mark_is_measured_where_nothing_is_found() {
    let (plain, _) = surveyed(Memory::new(48_000, step()), &plan(&[])).expect("surveyed");
    let [found] = &plain.joins[..] else { panic!("one step, and {:?}", plain.joins) };
    assert!(found.found && !found.marked && found.at == 120);
    let marks =
        [mark(6 * 48_000 + 1_921, "rope"), mark(12 * 48_000 - 9_600, "bell"), mark(19 * 48_000, "dusk")];
    let (survey, _) = surveyed(Memory::new(48_000, step()), &plan(&marks)).expect("surveyed");
    let flags: Vec<_> = survey.joins.iter().map(|join| (join.sample, join.marked, join.found)).collect();
    // The step is 0.2 s after a mark: they are one join, at the mark.
    let expected =
        [(marks[0].sample, true, false), (marks[1].sample, true, true), (marks[2].sample, true, false)];
    assert_eq!(flags, expected);
    let names: Vec<_> = survey.joins.iter().map(|join| survey.mark_of(join)?.name.clone()).collect();
    assert_eq!(names, ["rope", "bell", "dusk"].map(|name| Some(name.to_owned())));
    assert!(survey.joins[0].size() < 0.25, "no jump in steady noise: {:?}", survey.joins[0].size());
    let change = survey.joins[1].loudness_lu().expect("both sides sound");
    assert!((9.0..12.0).contains(&change), "12 dB, but for 0.2 s of the quiet side: {change}");
    assert_eq!((survey.joins[2].before.tenths, survey.joins[2].after.tenths), (20, 10));
    // Every form of the report has the name.
    let document = report::document(&survey);
    assert_eq!(document.joins[0].name.as_deref(), Some("rope"));
    assert!(report::html(&survey).contains("rope") && report::joins_csv(&survey).contains(",rope,"));
}

#[test]
fn joins_at_marks_are_those_that_the_plug_ins_code_makes() {
    let marks = [mark(5 * 48_000, "rope"), mark(12 * 48_000, "bell"), mark(15 * 48_000 + 4_800, "dusk")];
    let plan = plan(&marks);
    let (survey, tenths) = surveyed(Memory::new(48_000, step()), &plan).expect("surveyed");
    let mut events = Events::new(Rules::default(), &plan.target, plan.band_edges);
    events.set_rate(SampleRate::new(48_000).expect("a rate"));
    let bus = tenths.last().expect("the bus");
    bus.iter().for_each(|tenth| events.push(tenth));
    // Set after the last audio, and measured from the history, as after a click.
    let at = |index| At { grid: Grid::Song, index };
    events.set_marks(&[at(50), at(120), at(151)], |_, range| {
        bus.iter().filter(move |tenth| range.contains(&tenth.index))
    });
    let mut compared = 0;
    for (survey, live) in survey.joins.iter().zip(events.joins()) {
        assert_eq!((survey.at, survey.marked, survey.found), (live.at, live.marked, live.found));
        // The history does not have shares.
        for (survey, live) in [(&survey.before, &live.before), (&survey.after, &live.after)] {
            assert_eq!((survey.tenths, survey.loudness_lufs), (live.tenths, live.loudness_lufs));
            assert_eq!((survey.side_share, survey.thirds_dbfs), (live.side_share, live.thirds_dbfs));
        }
        compared += 1;
    }
    assert_eq!((compared, survey.joins.len()), (3, 3));
}

#[test]
fn a_mark_behind_the_end_is_dropped() {
    let marks = [mark(19 * 48_000, "dusk"), mark(25 * 48_000, "night")];
    let (survey, _) = surveyed(Memory::new(48_000, step()), &plan(&marks)).expect("surveyed");
    assert_eq!(survey.marks, marks[..1]);
    assert_eq!(survey.joins.iter().filter(|join| join.marked).count(), 1);
}

/// Joins at marks, some with a name or a transition, none within 0.2 s of another.
fn joins() -> impl Strategy<Value = Vec<(i64, Option<String>, u32)>> {
    let name = proptest::option::of("[A-Za-z0-9=+@,;\"é][A-Za-z0-9 ,;:\"'*é–-]{0,20}[a-z]");
    // Gaps in thousands of samples, plus a few samples.
    vec((20_i64..6_000, 0_i64..480, name, 0_u32..4), 1..40).prop_map(|all| {
        let mut at = 0;
        let one = |(gap, more, name, transition): (i64, i64, Option<String>, u32)| {
            at += gap * 1_000 + more;
            (at, name, transition)
        };
        all.into_iter().map(one).collect()
    })
}

/// A survey of any length, rate and start, with these joins.
fn with_joins(base: &Survey, line: Line, joins: &[(i64, Option<String>, u32)]) -> Survey {
    let marks = joins.iter().map(|(sample, name, transition_frames)| Mark {
        sample: *sample,
        name: name.clone(),
        transition_frames: *transition_frames,
    });
    let join = |(sample, ..): &(i64, Option<String>, u32)| Join {
        grid: Grid::Song,
        sample: *sample,
        marked: true,
        ..Join::default()
    };
    Survey {
        rate: line.rate,
        start: line.start,
        frames: line.frames.unwrap_or(0),
        marks: marks.collect(),
        joins: joins.iter().map(join).collect(),
        ..base.clone()
    }
}

fn base() -> Survey {
    let sound = vec![vec![scaled(&noise(1, 9_600), 0.1)]];
    surveyed(Memory::new(48_000, sound), &plan(&[])).expect("surveyed").0
}

#[test]
fn marks_that_go_out_come_in_again() {
    let base = base();
    let mut rates = 0;
    for frames in FrameRate::ALL {
        let starts = 0..frames.frames_per_day();
        let hz = proptest::sample::select(vec![44_100_u32, 48_000, 96_000, 22_050, 47_952]);
        let config = ProptestConfig {
            cases: 40,
            rng_seed: proptest::test_runner::RngSeed::Fixed(0x3600),
            failure_persistence: None,
            ..ProptestConfig::default()
        };
        let mut runner = proptest::test_runner::TestRunner::new(config);
        let outcome = runner.run(&(joins(), starts, hz), |(joins, start, hz)| {
            let end = joins.last().map_or(0, |join| join.0) + i64::from(hz);
            let line = Line {
                start: Timecode::from_frame(frames, start),
                rate: SampleRate::new(hz).expect("a rate"),
                frames: u64::try_from(end).ok(),
            };
            let survey = with_joins(&base, line, &joins);
            for table in [report::marks_csv(&survey), report::joins_csv(&survey)] {
                let entries = read_table(table.as_bytes(), frames).map_err(|fault| fail(&fault))?;
                prop_assert_eq!(&place(&entries, line).marks, &survey.marks, "{}", table);
            }
            let list = report::marks_edl(&survey);
            let entries = read_edit_list(list.as_bytes(), frames).map_err(|fault| fail(&fault))?;
            let back = place(&entries, line);
            let to_frame = |mark: &Mark| {
                (frames.frame_at(mark.sample, line.rate), mark.name.clone(), mark.transition_frames)
            };
            let [gone, come] =
                [&survey.marks, &back.marks].map(|marks| marks.iter().map(to_frame).collect::<Vec<_>>());
            prop_assert_eq!(gone, come, "{}", list);
            prop_assert_eq!((back.outside, back.crowded), (0, 0));
            Ok(())
        });
        outcome.unwrap_or_else(|error| panic!("{}: {error}", frames.name()));
        rates += 1;
    }
    assert_eq!(rates, 10);
}

fn fail(fault: &crate::marks::MarksFault) -> TestCaseError {
    TestCaseError::fail(fault.to_string())
}

#[test]
fn an_edit_list_runs_from_join_to_join() {
    let line = Line {
        start: Timecode::parse(FrameRate::F29_97Drop, "00:00:58;00").expect("a label"),
        rate: SampleRate::new(48_000).expect("a rate"),
        frames: Some(480_000),
    };
    let joins =
        [(96_096, Some("bell".to_owned()), 0), (200_200, Some("dusk".to_owned()), 12), (200_300, None, 0)];
    let mut survey = with_joins(&base(), line, &joins);
    survey.bus.name = "Bell tower\n".to_owned();
    // Frames of 1001/30000 s: 60 are 96 096 samples; SMPTE ST 12-1 skips 00:01:00;00 and ;01. Joins in one frame are one.
    let expected = "\
TITLE: Bell tower
FCM: DROP FRAME

001  AX       AA/V  C        00:00:58;00 00:01:00;02 00:00:58;00 00:01:00;02
002  AX       AA/V  C        00:01:00;02 00:01:02;07 00:01:00;02 00:01:02;07
* FROM CLIP NAME: bell
003  AX       AA/V  C        00:01:02;07 00:01:02;07 00:01:02;07 00:01:02;07
003  AX       AA/V  D    012 00:01:02;07 00:01:08;02 00:01:02;07 00:01:08;02
* TO CLIP NAME: dusk
";
    assert_eq!(report::marks_edl(&survey), expected.replace('\n', "\r\n"));
    survey.joins.clear();
    let list = report::marks_edl(&survey);
    let entries = read_edit_list(list.as_bytes(), FrameRate::F29_97Drop).expect("our own list");
    assert_eq!(entries, [Entry { label: Some(line.start), ..Entry::default() }]);
    assert_eq!(place(&entries, line).marks, []);
}
