//! Parameters: numbers that never change, texts for values, and effects.

use crate::{STEREO, assert_quiet};
use plumbline_tests::rig::clap::{Change, Label, Library};
pub(crate) use plumbline_tests::rig::parameters::{HOLD, MARK, RESET};
use plumbline_tests::rig::{Moment, bundles, child, vst3};

#[test]
fn clap_describes_its_parameters() {
    let Some(quiet) = child::run(&[], || {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let all = instance.parameters().unwrap();
        let numbers: Vec<(u32, &str)> = all.iter().map(|p| (p.number, p.name.as_str())).collect();
        assert_eq!(numbers, [(HOLD, "Hold"), (RESET, "Reset"), (MARK, "Mark")]);
        assert_eq!(all[0].words, ["Live", "Frozen"]);
        assert_eq!(all[1].words, ["Ready", "Reset"]);
        assert_eq!(all[2].words, ["Ready", "Mark"]);
        for parameter in &all {
            // A bypass crashed the validator of one plug-in format, and an unchanged path does not need one.
            assert!(!parameter.is_bypass);
            assert_eq!((parameter.range, parameter.default), ([0.0, 1.0], 0.0));
        }
        let pages = instance.remote_pages().unwrap();
        assert_eq!(pages, [("Measure".to_owned(), vec![HOLD, RESET, MARK])]);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_takes_parameters_at_rest_and_with_blocks() {
    let Some(quiet) = child::run(&[], || {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        instance.set_value(HOLD, 1.0).unwrap();
        assert_eq!(instance.value(HOLD).unwrap(), 1.0);
        let mut processor = instance.activate(48_000.0, 64).unwrap();
        let silence = [0.0_f32; 64];
        let off = Change { frame: 13, parameter: HOLD, value: 0.0 };
        processor.process(&[&silence[..]; 2], None, Moment::stopped(), &[off]).unwrap();
        assert_eq!(instance.value(HOLD).unwrap(), 0.0);
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_describes_its_parameters() {
    let Some(quiet) = child::run(&[], || {
        let bundle = bundles::vst3().unwrap();
        let (classes, _) = vst3::classes(&bundle).unwrap();
        let instance = vst3::Instance::create(&bundle, &classes[0].id, 48_000.0, 512).unwrap();
        let all = instance.parameters().unwrap();
        let expect = |number, name: &str, off: &str, on: &str| {
            let found = all.iter().find(|p| p.number == number).expect("the number never changes");
            assert_eq!((found.name.as_str(), found.value), (name, 0.0));
            assert_eq!(found.words, [off, on]);
        };
        expect(HOLD, "Hold", "Live", "Frozen");
        expect(RESET, "Reset", "Ready", "Reset");
        expect(MARK, "Mark", "Ready", "Mark");
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
