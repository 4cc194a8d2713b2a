//! Instances are created and dropped in any order, and leave nothing behind.

use crate::signals::sine;
use crate::{MONO, STEREO, assert_quiet};
use plumbline_tests::rig::clap::{Instance, Label, Library, Processor};
use plumbline_tests::rig::readings::Port;
use plumbline_tests::rig::{Moment, bundles, child, threads, vst3};

/// The number of instances.
const EIGHT: usize = 8;

/// Orders in which eight instances are dropped: forwards, backwards, from the middle, crosswise.
const ORDERS: [[usize; EIGHT]; 4] =
    [[0, 1, 2, 3, 4, 5, 6, 7], [7, 6, 5, 4, 3, 2, 1, 0], [3, 4, 2, 5, 1, 6, 0, 7], [5, 0, 6, 3, 1, 7, 2, 4]];

#[test]
fn clap_eight_instances_go_in_any_order_and_the_worker_with_the_last() {
    let Some(quiet) = child::run(&[], || {
        let path = bundles::clap().unwrap();
        let library = Library::load(&path).unwrap();
        let port = Port::open(&path).unwrap();
        let Some(before) = threads::names() else { return };
        let signal = sine(2, 4_800, 0.01, 0.5, 0.3);
        let mut cases = 0;
        for order in ORDERS {
            let mut all: Vec<Option<(Instance, Processor)>> = (0..EIGHT)
                .map(|i| {
                    let class = if i % 3 == 2 { MONO } else { STEREO };
                    let mut instance = library.create(class, Label::default()).unwrap();
                    let mut processor = instance.activate(48_000.0, 256).unwrap();
                    let channels = if class == MONO { 1 } else { 2 };
                    processor.play(&signal[..channels], Moment::playing_at(0)).unwrap();
                    Some((instance, processor))
                })
                .collect();
            assert_eq!(port.instances().unwrap(), 8);
            assert_ne!(threads::names().unwrap(), before, "a worker runs");
            for gone in order {
                let (mut instance, processor) = all[gone].take().expect("each goes once");
                instance.deactivate(processor);
                drop(instance);
                // The others go on.
                for (instance, processor) in all.iter_mut().flatten() {
                    let channels = instance.channels();
                    processor.play(&signal[..channels], Moment::stopped()).unwrap();
                }
            }
            assert_eq!(port.instances().unwrap(), 0);
            threads::wait_for(&before).expect("every thread is joined with the last instance");
            cases += 1;
        }
        assert_eq!(cases, ORDERS.len());
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_can_be_unloaded_and_loaded_again() {
    let Some(quiet) = child::run(&[], || {
        let path = bundles::clap().unwrap();
        let Some(before) = threads::names() else { return };
        for _ in 0..3 {
            let library = Library::load(&path).unwrap();
            let mut instance = library.create(STEREO, Label::default()).unwrap();
            let mut processor = instance.activate(96_000.0, 512).unwrap();
            processor.play(&sine(2, 9_600, 0.02, 0.25, 0.0), Moment::playing_at(0)).unwrap();
            instance.deactivate(processor);
            drop(instance);
            drop(library);
            threads::wait_for(&before).expect("nothing runs on after the library is gone");
        }
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_eight_instances_go_in_any_order_and_the_worker_with_the_last() {
    let Some(quiet) = child::run(&[], || {
        let bundle = bundles::vst3().unwrap();
        let (classes, _) = vst3::classes(&bundle).unwrap();
        let Some(before) = threads::names() else { return };
        let signal = sine(2, 4_800, 0.01, 0.5, 0.3);
        let mut cases = 0;
        for order in ORDERS {
            let mut all: Vec<Option<vst3::Instance>> = (0..EIGHT)
                .map(|i| {
                    let class = i % 2;
                    let mut instance =
                        vst3::Instance::create(&bundle, &classes[class].id, 48_000.0, 256).unwrap();
                    instance.start().unwrap();
                    instance.play(&signal[..2 - class], Moment::playing_at(0)).unwrap();
                    Some(instance)
                })
                .collect();
            assert_ne!(threads::names().unwrap(), before, "a worker runs");
            for gone in order {
                let mut instance = all[gone].take().expect("each goes once");
                instance.stop().unwrap();
                drop(instance);
                for (index, instance) in all.iter_mut().enumerate() {
                    if let Some(instance) = instance {
                        instance.play(&signal[..2 - index % 2], Moment::stopped()).unwrap();
                    }
                }
            }
            threads::wait_for(&before).expect("every thread is joined with the last instance");
            cases += 1;
        }
        assert_eq!(cases, ORDERS.len());
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
