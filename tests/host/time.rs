//! Time through the built plug-in: marks by automation and in the project, findings and statistics of a render.

use crate::measuring::wait_for;
use crate::parameters::MARK;
use crate::signals::sine;
use crate::{STEREO, assert_quiet};
use plumbline_measure::Grid;
use plumbline_programme::Mark;
use plumbline_programme::findings::Kind;
use plumbline_tests::rig::clap::{Change, Label, Library};
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
