//! Time through the built plug-in: marks by automation and in the project, findings and statistics of a render.

use crate::measuring::wait_for;
use crate::parameters::MARK;
use crate::signals::sine;
use crate::{STEREO, assert_quiet};
use plumbline_measure::Grid;
use plumbline_programme::Mark;
use plumbline_programme::findings::Kind;
use plumbline_tests::rig::clap::{Change, Instance, Label, Library};
use plumbline_tests::rig::readings::Port;
use plumbline_tests::rig::{Moment, bundles, child};

#[test]
fn marks_come_by_automation_and_stay_with_the_project() {
    let Some(quiet) = child::run(&[], || {
        let path = bundles::clap().unwrap();
        let library = Library::load(&path).unwrap();
        let port = Port::open(&path).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        instance.set_offline(true).unwrap();
        port.watch(0, true).unwrap();
        let mut processor = instance.activate(48_000.0, 4_800).unwrap();
        let mut audio = sine(2, 30 * 4_800, 1.0 / 48.0, 0.1, 0.0);
        // A right channel that is silent for 0.5 s is not a finding; one that is silent for 1.5 s is.
        audio[1][5 * 4_800..20 * 4_800].fill(0.0);
        for block in 0..30_usize {
            let part: Vec<&[f32]> = audio.iter().map(|c| &c[block * 4_800..(block + 1) * 4_800]).collect();
            // Rises twice: at 1 s and at 2 s.
            let change = |value| Change { frame: 0, parameter: MARK, value };
            let changes = match block {
                10 | 20 => vec![change(1.0)],
                11 | 21 => vec![change(0.0)],
                _ => Vec::new(),
            };
            let at = Moment::playing_at(i64::try_from(block * 4_800).unwrap());
            processor.process(&part, None, at, &changes).unwrap();
        }
        instance.deactivate(processor);
        let marks = [10, 20].map(|index| Mark { grid: Grid::Song, index });
        let shown = wait_for(&port, "the log", |r| {
            r.tenths.len() == 30 && r.view.log.passages.len() == 4 && r.view.log.passages[0].secs == 3.0
        });
        assert_eq!(shown.view.log.marks, marks);
        let lengths: Vec<f64> = shown.view.log.passages.iter().map(|p| p.secs).collect();
        assert_eq!(lengths, [3.0, 1.0, 1.0, 1.0]);
        let found: Vec<_> = shown.view.log.findings.iter().map(|f| (f.kind, f.start, f.end)).collect();
        assert!(found.contains(&(Kind::OneSided, 5, 20)), "{found:?}");
        assert_eq!(shown.view.lanes.extent, [0, 30]);
        let saved = instance.save().unwrap();
        drop(instance);

        let mut again = library.create(STEREO, Label::default()).unwrap();
        again.load(&saved).unwrap();
        port.watch(0, true).unwrap();
        let mut processor = again.activate(48_000.0, 512).unwrap();
        processor.play(&sine(2, 48_000, 1.0 / 48.0, 0.1, 0.0), Moment::playing_at(0)).unwrap();
        wait_for(&port, "the marks of the project", |r| r.view.log.marks == marks);
        assert_eq!(again.save().unwrap(), saved, "saved again, the state is the same");
        again.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

/// A switch that is left on, saved on, or on at the first sample is no rise; a pulse shorter than a block is one.
#[test]
fn only_a_rise_marks_however_short_and_whatever_was_saved() {
    let Some(quiet) = child::run(&[], || {
        let path = bundles::clap().unwrap();
        let library = Library::load(&path).unwrap();
        let port = Port::open(&path).unwrap();
        let change = |frame, value| Change { frame, parameter: MARK, value };
        let play = |instance: &mut Instance, changes: &dyn Fn(i64) -> Vec<Change>| {
            instance.set_offline(true).unwrap();
            port.watch(0, true).unwrap();
            let mut processor = instance.activate(48_000.0, 4_800).unwrap();
            let audio = sine(2, 4_800, 1.0 / 48.0, 0.1, 0.0);
            let part: Vec<&[f32]> = audio.iter().map(|c| &c[..]).collect();
            for block in 0..12 {
                processor.process(&part, None, Moment::playing_at(block * 4_800), &changes(block)).unwrap();
            }
            instance.deactivate(processor);
            let shown = wait_for(&port, "all blocks", |r| r.settled && r.tenths.len() == 12);
            shown.view.log.marks.iter().map(|mark| mark.index).collect::<Vec<_>>()
        };
        let mut first = library.create(STEREO, Label::default()).unwrap();
        let left_on = |block| if block == 3 { vec![change(0, 1.0)] } else { Vec::new() };
        assert_eq!(play(&mut first, &left_on), [3]);
        assert_eq!(first.value(MARK).unwrap(), 1.0);
        let saved = first.save().unwrap();
        drop(first);

        let mut second = library.create(STEREO, Label::default()).unwrap();
        second.load(&saved).unwrap();
        assert_eq!(second.value(MARK).unwrap(), 0.0);
        let at_once_and_short = |block| match block {
            0 => vec![change(0, 1.0)],
            6 => vec![change(5, 0.0), change(10, 1.0), change(20, 0.0)],
            _ => Vec::new(),
        };
        assert_eq!(play(&mut second, &at_once_and_short), [3, 6]);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
