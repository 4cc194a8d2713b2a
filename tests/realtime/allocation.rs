//! The audio thread never calls the allocator, at any rate, block size or layout.

use crate::guard::allocator_calls;
use crate::rig::{STEREO, my_turn, noise};
use plumbline_live::{Format, Layer, Stamp};
use plumbline_tests::signal::Noise;

/// Blocks in one case: enough to fill and send many chunks.
const BLOCKS: usize = 40;

/// Either a fixed block size, or 1 to 4096 at random.
const SIZES: [Option<usize>; 7] = [Some(1), Some(32), Some(64), Some(511), Some(512), Some(4_096), None];

#[test]
fn no_call_of_the_allocator_over_rates_blocks_and_layouts() {
    let _turn = my_turn();
    let audio = noise(1, 4_096, 0.1);
    let [left, right] = &audio;
    let mut random = Noise::new(2);
    let mut cases = 0;
    for rate_hz in [22_050.0, 44_100.0, 48_000.0, 96_000.0, 192_000.0, 384_000.0] {
        for (channels, side_channels) in [(1, 0), (2, 0), (1, 1), (2, 1), (2, 2)] {
            let layer = Layer::join();
            for size in SIZES {
                let mut tap =
                    layer.open(Format { rate_hz, channels, side_channels, offline: false }).unwrap();
                let mut at = 0;
                for block in 0..BLOCKS {
                    let n = size.unwrap_or_else(|| 1 + (random.bits() % 4_096) as usize);
                    let both: [&[f32]; 2] = [&left[..n], &right[..n]];
                    let (main, side) = (&both[..usize::from(channels)], &both[..usize::from(side_channels)]);
                    // The transport changes every ten blocks.
                    let (song, playing) = match block / 10 {
                        0 => (Some(at), true),
                        1 => (None, false),
                        2 => (Some(at + 100_000), true),
                        _ => (Some(-at), true),
                    };
                    let calls = allocator_calls(|| {
                        tap.push(Stamp { song, playing }, main, side);
                        if block % 15 == 14 {
                            tap.restart();
                            tap.reset();
                        }
                    });
                    assert_eq!(
                        calls, 0,
                        "{rate_hz} Hz, {channels}+{side_channels} channels, {size:?}, block {block}"
                    );
                    at += n as i64;
                }
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 6 * 5 * SIZES.len());
}

#[test]
fn no_call_of_the_allocator_when_the_queue_is_full_or_the_slices_do_not_fit() {
    let _turn = my_turn();
    let [left, right] = noise(3, 512, 0.1);
    let layer = Layer::join();
    let mut tap = layer.open(STEREO).unwrap();
    layer.change(|settings| settings.watched = true);
    // The worker cannot store its tenths while the history is locked, so the queue fills.
    let calls = layer.with_history(|_| {
        allocator_calls(|| {
            for k in 0..600 {
                let stamp = Stamp { song: Some(k * 512), playing: true };
                tap.push(stamp, &[&left, &right], &[]);
            }
            let odd = Stamp { song: None, playing: true };
            tap.push(odd, &[&left, &right[..17]], &[&left]);
            tap.push(odd, &[&left], &[]);
            tap.push(odd, &[], &[]);
            tap.push(odd, &[&left, &[]], &[]);
            tap.push(odd, &[&left, &right, &left, &right], &[&left, &right, &left]);
        })
    });
    assert_eq!(calls, 0);
    let view = crate::rig::settle(&layer, tap);
    assert!(view.health.lost_frames > 0, "the queue was not full: the case tested nothing");
    assert!(layer.misfits() >= 5);
}
