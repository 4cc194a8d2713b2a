//! Audio passes bit-exact and without delay, at every rate and block size.

use crate::signals::{arbitrary_bits, arbitrary_bits_never_silent, assert_bit_equal};
use crate::{BLOCKS, MONO, RATES_HZ, STEREO, assert_quiet};
use plumbline_tests::rig::clap::{Label, Library};
use plumbline_tests::rig::{Moment, bundles, child, vst3};

/// Frames to play: several blocks and part of one, but few enough that blocks of one frame do not take too long.
fn frames_for(block: usize) -> usize {
    (3 * block + 17).max(2_000)
}

#[test]
fn clap_passes_audio_bit_for_bit_without_delay() {
    let Some(quiet) = child::run(&[], || {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut cases = 0;
        for (class, layout, channels) in [(STEREO, 0, 2), (STEREO, 1, 2), (STEREO, 2, 1), (MONO, 0, 1)] {
            let mut instance = library.create(class, Label::default()).unwrap();
            instance.select_layout(layout).unwrap();
            for rate_hz in RATES_HZ {
                for block in BLOCKS {
                    let mut processor = instance.activate(rate_hz, block).unwrap();
                    assert_eq!(instance.latency().unwrap(), 0);
                    let input = arbitrary_bits(channels, frames_for(block));
                    let out = processor.play(&input, Moment::playing_at(-48_000)).unwrap();
                    let case = format!("{class} layout {layout} at {rate_hz} Hz, block {block}");
                    assert_bit_equal(&out, &input, &case);
                    instance.deactivate(processor);
                    cases += 1;
                }
            }
        }
        assert_eq!(cases, 4 * RATES_HZ.len() * BLOCKS.len());
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_passes_audio_at_rates_it_cannot_measure() {
    let Some(quiet) = child::run(&[], || {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let mut cases = 0;
        // Rates from 22.05 kHz to 384 kHz are measured; these are not.
        for rate_hz in [8_000.0, 11_025.0, 768_000.0] {
            let mut processor = instance.activate(rate_hz, 64).unwrap();
            let input = arbitrary_bits(2, 1_000);
            let out = processor.play(&input, Moment::stopped()).unwrap();
            assert_bit_equal(&out, &input, &format!("{rate_hz} Hz"));
            instance.deactivate(processor);
            cases += 1;
        }
        assert_eq!(cases, 3);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_leaves_the_side_chain_out_of_its_output() {
    let Some(quiet) = child::run(&[], || {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        instance.select_layout(1).unwrap();
        let mut processor = instance.activate(48_000.0, 512).unwrap();
        let input = arbitrary_bits(2, 512);
        let side = vec![vec![0.5_f32; 512]; 2];
        let main: Vec<&[f32]> = input.iter().map(Vec::as_slice).collect();
        let side: Vec<&[f32]> = side.iter().map(Vec::as_slice).collect();
        let out = processor.process(&main, Some(&side), Moment::stopped(), &[]).unwrap();
        assert_bit_equal(&out, &input, "with a side-chain");
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn clap_passes_audio_while_the_transport_plays_loops_jumps_and_stops() {
    let Some(quiet) = child::run(&[], || {
        let library = Library::load(&bundles::clap().unwrap()).unwrap();
        let mut instance = library.create(STEREO, Label::default()).unwrap();
        let mut processor = instance.activate(48_000.0, 480).unwrap();
        let input = arbitrary_bits(2, 4_800);
        let moments = [
            Moment::playing_at(0),
            Moment::playing_at(0),
            Moment::playing_at(1_000_000),
            Moment { song_frame: Some(1_004_800), playing: false },
            Moment::stopped(),
            Moment { song_frame: None, playing: true },
            Moment::playing_at(i64::from(i32::MAX)),
            Moment::playing_at(-96_000),
        ];
        for (case, moment) in moments.into_iter().enumerate() {
            let out = processor.play(&input, moment).unwrap();
            assert_bit_equal(&out, &input, &format!("transport {case}"));
            processor.reset();
        }
        assert_eq!(moments.len(), 8);
        instance.deactivate(processor);
    }) else {
        return;
    };
    assert_quiet(&quiet);
}

#[test]
fn vst3_passes_audio_bit_for_bit_without_delay() {
    let Some(quiet) = child::run(&[], || {
        let bundle = bundles::vst3().unwrap();
        let (classes, _) = vst3::classes(&bundle).unwrap();
        let mut cases = 0;
        for (class, channels) in classes.iter().zip([2, 1]) {
            let mut instance = vst3::Instance::create(&bundle, &class.id, 48_000.0, 512).unwrap();
            for rate_hz in RATES_HZ {
                for block in BLOCKS {
                    instance.reconfigure(rate_hz, block).unwrap();
                    instance.start().unwrap();
                    assert_eq!(instance.latency(), 0);
                    let input = arbitrary_bits_never_silent(channels, frames_for(block), block);
                    let out = instance.play(&input, Moment::playing_at(0)).unwrap();
                    assert_bit_equal(&out, &input, &format!("{} at {rate_hz} Hz, block {block}", class.name));
                    instance.stop().unwrap();
                    cases += 1;
                }
            }
        }
        assert_eq!(cases, 2 * RATES_HZ.len() * BLOCKS.len());
    }) else {
        return;
    };
    assert_quiet(&quiet);
}
