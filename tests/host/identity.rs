//! The identity that hosts keep in projects: ids, names, categories, buses. A change here breaks projects.

use crate::{MONO, STEREO, assert_quiet};
use plumbline_tests::rig::clap::{Label, Layout, Library};
use plumbline_tests::rig::{bundles, child, vst3};

/// Class ids of the VST3, derived from the CLAP ids. They are in projects and never change.
const VST3_IDS: [&str; 2] = ["08F4B94B5B1356F4A367F745DC89641A", "48921FCD413A57D482EEE1230CCCE6E1"];

#[test]
fn clap_has_its_two_classes() {
    let Some(quiet) = child::run(&[], || {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let classes = library.classes().unwrap();
        let ids: Vec<&str> = classes.iter().map(|c| c.id.as_str()).collect();
        assert_eq!(ids, [STEREO, MONO]);
        assert_eq!([&*classes[0].name, &*classes[1].name], ["Plumbline Stereo", "Plumbline Mono"]);
        for class in &classes {
            assert_eq!(class.features[..2], ["audio-effect", "analyzer"]);
            assert_eq!(class.version, env!("CARGO_PKG_VERSION"));
        }
        assert!(classes[0].features.iter().any(|f| f == "stereo"));
        assert!(classes[1].features.iter().any(|f| f == "mono"));
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_has_its_layouts() {
    let Some(quiet) = child::run(&[], || {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        // The first has no side-chain: VST3 uses the first, and its hosts pass an unrouted bus in ways that silence the
        // track or crash the host.
        let stereo = Layout { name: "Stereo".into(), channels: [2, 2], side_ports: 0 };
        let side = Layout { name: "Stereo with side-chain".into(), channels: [2, 2], side_ports: 1 };
        let mono = Layout { name: "Mono".into(), channels: [1, 1], side_ports: 0 };
        let layouts = |class| library.create(class, Label::default()).unwrap().layouts().unwrap();
        assert_eq!(layouts(STEREO), [stereo, side, mono.clone()]);
        assert_eq!(layouts(MONO), [mono]);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_has_its_two_classes_and_their_buses() {
    let Some(quiet) = child::run(&[], || {
        let bundle = bundles::vst3().unwrap();
        let (classes, category) = vst3::classes(&bundle).unwrap();
        let names: Vec<&str> = classes.iter().map(|c| c.name.as_str()).collect();
        assert_eq!(names, ["Plumbline Stereo", "Plumbline Mono"]);
        assert!(category.contains("Analyzer"), "{category}");
        let ids: Vec<&str> = classes.iter().map(|c| c.id.as_str()).collect();
        assert_eq!(ids, VST3_IDS);
        let buses = |class: &vst3::Class| {
            vst3::Instance::create(&bundle, &class.id, 48_000.0, 512).unwrap().buses().unwrap()
        };
        assert_eq!(buses(&classes[0]), [vec![2], vec![2]]);
        assert_eq!(buses(&classes[1]), [vec![1], vec![1]]);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
