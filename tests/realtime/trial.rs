//! A repair on trial: exact, click-free, and without any effect while off.

use crate::guard::allocator_calls;
use crate::rig::{OFFLINE, STEREO, my_turn, noise};
use plumbline_live::{Format, Layer, Stamp, Tap};
use plumbline_programme::Trial;
use plumbline_tests::signal::Noise;
use std::f64::consts::{PI, TAU};

/// Frames after which any change is complete at 48 kHz: the longest delay and a fade, with a margin.
const SETTLED: usize = 6_000;
/// Frames of a fade of 20 ms at 48 kHz.
const FADE: usize = 960;

/// A trial in samples at 48 kHz.
fn delayed(left: f64, right: f64) -> Trial {
    Trial { delay_secs: [left / 48_000.0, right / 48_000.0], ..Trial::default() }
}

/// Alters a signal block by block and returns the output.
fn pass(tap: &mut Tap, input: &[Vec<f32>; 2], block: usize) -> [Vec<f32>; 2] {
    let mut out = input.clone();
    let [left, right] = &mut out;
    for (left, right) in left.chunks_mut(block).zip(right.chunks_mut(block)) {
        tap.alter(&mut [left, right]);
    }
    out
}

fn bits(signal: &[Vec<f32>; 2]) -> [Vec<u32>; 2] {
    [0, 1].map(|c| signal[c].iter().map(|sample| sample.to_bits()).collect())
}

/// Random bit patterns, NaN payloads and denormals included.
fn any_bits(seed: u64, frames: usize) -> [Vec<f32>; 2] {
    let mut source = Noise::new(seed);
    #[expect(clippy::cast_possible_truncation, reason = "the lower half of the bits")]
    let mut next = || f32::from_bits(source.bits() as u32);
    [0, 1].map(|_| (0..frames).map(|_| next()).collect())
}

fn sine(frames: usize, cycles_per_frame: f64, level: f64) -> [Vec<f32>; 2] {
    #[expect(clippy::cast_possible_truncation, reason = "audio is single precision")]
    let one: Vec<f32> =
        (0..frames).map(|k| (level * (TAU * cycles_per_frame * k as f64).sin()) as f32).collect();
    [one.clone(), one]
}

#[test]
fn no_call_of_the_allocator_while_trials_come_and_go() {
    let _turn = my_turn();
    let audio = noise(40, 4_096, 0.1);
    let mut random = Noise::new(41);
    let trials = [
        Some(Trial { delay_secs: [0.1, 0.05], flip: [true, false], in_renders: false }),
        Some(Trial { delay_secs: [0.0, 1e-5], ..Trial::default() }),
        None,
        Some(Trial { delay_secs: [0.004_661, 0.0], flip: [false, true], in_renders: true }),
    ];
    let (mut cases, mut altered) = (0, 0);
    for rate_hz in [22_050.0, 44_100.0, 48_000.0, 96_000.0, 192_000.0, 384_000.0] {
        for (channels, side_channels) in [(1, 0), (2, 0), (1, 1), (2, 2)] {
            for size in [Some(1), Some(64), Some(511), Some(4_096), None] {
                let layer = Layer::join();
                // Every other opening begins with a trial.
                layer.change(|settings| settings.trial = (cases % 2 == 0).then_some(delayed(0.75, 40.25)));
                let mut tap =
                    layer.open(Format { rate_hz, channels, side_channels, offline: false }).unwrap();
                for block in 0..60 {
                    let n = size.unwrap_or_else(|| 1 + (random.bits() % 4_096) as usize);
                    // At each third block, and twice in a row, so that changes occur during fades.
                    if block % 3 == 0 || block % 3 == 1 && block % 2 == 0 {
                        layer.change(|settings| settings.trial = trials[block % trials.len()]);
                    }
                    let (mut left, mut right) = (audio[0][..n].to_vec(), audio[1][..n].to_vec());
                    let stamp = Stamp { song: Some(block as i64 * 4_096), playing: true };
                    let calls = allocator_calls(|| {
                        let mut both = [left.as_mut_slice(), right.as_mut_slice()];
                        let main = &mut both[..usize::from(channels)];
                        tap.alter(main);
                        let main: [&[f32]; 2] = [&left, &right];
                        let side = &main[..usize::from(side_channels)];
                        tap.push(stamp, &main[..usize::from(channels)], side);
                        if block % 20 == 19 {
                            tap.restart();
                        }
                    });
                    assert_eq!(calls, 0, "{rate_hz} Hz, {channels}+{side_channels}, {size:?}, block {block}");
                    altered += usize::from(left != audio[0][..n]);
                }
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 6 * 4 * 5);
    assert!(altered > 1_000, "{altered} blocks were altered: the case tested nothing");
}

#[test]
fn off_is_bit_equal_before_and_again_after() {
    let _turn = my_turn();
    let mut cases = 0;
    for block in [1, 7, 64, 511, 4_096] {
        let layer = Layer::join();
        let mut tap = layer.open(STEREO).unwrap();
        let input = any_bits(42, 2 * SETTLED);
        assert!(bits(&pass(&mut tap, &input, block)) == bits(&input), "before, block {block}");
        layer.change(|settings| {
            settings.trial = Some(Trial { flip: [true, false], ..delayed(223.7, 4_800.0) })
        });
        let out = pass(&mut tap, &input, block);
        assert!(bits(&out)[0] != bits(&input)[0] && bits(&out)[1] != bits(&input)[1]);
        layer.change(|settings| settings.trial = None);
        pass(&mut tap, &input, block);
        assert!(bits(&pass(&mut tap, &input, block)) == bits(&input), "after, block {block}");
        cases += 1;
    }
    assert_eq!(cases, 5);
}

#[test]
fn what_alters_nothing_is_off() {
    let _turn = my_turn();
    let nothing = [
        delayed(0.0, 0.0),
        Trial { delay_secs: [f64::NAN, f64::NEG_INFINITY], ..Trial::default() },
        Trial { delay_secs: [-1.0, 0.0], in_renders: true, ..Trial::default() },
    ];
    let mut cases = 0;
    for trial in nothing {
        let layer = Layer::join();
        let mut tap = layer.open(STEREO).unwrap();
        layer.change(|settings| settings.trial = Some(trial));
        assert_eq!(layer.settings().trial, None);
        let input = any_bits(43, SETTLED);
        assert!(bits(&pass(&mut tap, &input, 480)) == bits(&input), "{trial:?}");
        cases += 1;
    }
    assert_eq!(cases, 3);
}

#[test]
fn whole_samples_are_copied_bit_for_bit_at_any_block() {
    let _turn = my_turn();
    let mut cases = 0;
    for block in [1, 63, 512, 4_096] {
        for (left, right, flip) in [
            (1_u16, 0_u16, [false, true]),
            (224, 31, [true; 2]),
            (4_800, 2_400, [false; 2]),
            (0, 4_800, [true, false]),
        ] {
            let layer = Layer::join();
            let mut tap = layer.open(STEREO).unwrap();
            layer.change(|settings| {
                settings.trial = Some(Trial { flip, ..delayed(f64::from(left), f64::from(right)) })
            });
            let input = any_bits(44, 2 * SETTLED);
            let out = bits(&pass(&mut tap, &input, block));
            let from = bits(&input);
            for (c, delay) in [left, right].map(usize::from).into_iter().enumerate() {
                let sign = if flip[c] { 0x8000_0000 } else { 0 };
                for k in SETTLED..2 * SETTLED {
                    assert_eq!(out[c][k], from[c][k - delay] ^ sign, "{left}, {right}, block {block}, {k}");
                }
            }
            cases += 1;
        }
    }
    assert_eq!(cases, 16);
}

/// Errors in dB of gain and in samples of delay, from a sine of `turns` cycles in `frames`.
fn off_by(out: &[f32], frames: usize, turns: usize, level: f64, delay: f64) -> (f64, f64) {
    let w = TAU * turns as f64 / frames as f64;
    let start = out.len() - frames;
    let (mut re, mut im) = (0.0, 0.0);
    for (k, sample) in out.iter().enumerate().skip(start) {
        // Divided by the ideal e^(−jωd), which leaves the error.
        let angle = w * (k as f64 - delay);
        re += f64::from(*sample) * angle.sin();
        im += f64::from(*sample) * angle.cos();
    }
    let scale = 2.0 / (frames as f64 * level);
    let (re, im) = (re * scale, im * scale);
    (20.0 * re.hypot(im).log10(), -im.atan2(re) / w)
}

#[test]
fn fractions_of_a_sample_have_the_ideal_phase_and_a_flat_gain() {
    let _turn = my_turn();
    let frames = 4_800;
    let mut cases = 0;
    // Samples at 48 kHz.
    for (left, right) in [(223.7, 0.0), (32.5, 40.25), (4_799.9, 1_234.567), (33.1, 4_799.5)] {
        let layer = Layer::join();
        layer.change(|settings| settings.trial = Some(delayed(left, right)));
        let mut tap = layer.open(STEREO).unwrap();
        // 20 Hz to 0.8 of half the rate.
        for turns in [2, 10, 100, 500, 1_000, 1_500, 1_920] {
            let input = sine(2 * SETTLED, turns as f64 / frames as f64, 0.5);
            let out = pass(&mut tap, &input, 512);
            for (out, delay) in out.iter().zip([left, right]) {
                let (gain_db, late) = off_by(out, frames, turns, 0.5, delay);
                assert!(gain_db.abs() < 0.1, "{delay} at {turns}: {gain_db} dB");
                assert!(late.abs() < 0.01, "{delay} at {turns}: {late} samples");
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 4 * 7 * 2);
}

#[test]
fn a_switch_makes_no_step_that_the_sine_and_the_fade_do_not_explain() {
    let _turn = my_turn();
    let changes = [
        Some(delayed(480.0, 223.7)),
        Some(Trial { flip: [true, true], ..delayed(0.0, 0.0) }),
        Some(delayed(100.5, 4_800.0)),
        None,
        Some(Trial { flip: [true, false], ..delayed(240.0, 33.3) }),
        Some(Trial { flip: [false, true], ..delayed(240.0, 33.3) }),
        None,
    ];
    let (level, cycles) = (0.5, 100.0 / 48_000.0);
    // A sine's largest step, plus a crossfade over twice its amplitude at the raised cosine's steepest point.
    let bound = level * TAU * cycles + 2.0 * level * PI / 2.0 / (FADE as f64 + 1.0) + 1e-6;
    let mut cases = 0;
    // Long enough to settle, and short enough that changes occur during fades.
    for every in [2 * SETTLED, FADE / 3] {
        let layer = Layer::join();
        let mut tap = layer.open(STEREO).unwrap();
        let input = sine(every * (changes.len() + 1) + 2 * SETTLED, cycles, level);
        let mut out = input.clone();
        let [left, right] = &mut out;
        for (number, (left, right)) in left.chunks_mut(every).zip(right.chunks_mut(every)).enumerate() {
            if let Some(change) = number.checked_sub(1).and_then(|n| changes.get(n)) {
                layer.change(|settings| settings.trial = *change);
            }
            for (left, right) in left.chunks_mut(97).zip(right.chunks_mut(97)) {
                tap.alter(&mut [left, right]);
            }
        }
        assert!(out != input);
        for (c, channel) in out.iter().enumerate() {
            for (k, pair) in channel.windows(2).enumerate() {
                let step = f64::from((pair[1] - pair[0]).abs());
                assert!(step <= bound, "channel {c}, frame {k}, every {every}: {step} over {bound}");
            }
        }
        assert_eq!(out[0][out[0].len() - SETTLED..], input[0][out[0].len() - SETTLED..]);
        cases += 1;
    }
    assert_eq!(cases, 2);
}

#[test]
fn a_render_is_untouched_unless_the_trial_is_meant_for_it() {
    let _turn = my_turn();
    let layer = Layer::join();
    let trial = Trial { flip: [true, false], ..delayed(10.5, 223.7) };
    let input = any_bits(45, SETTLED);
    layer.change(|settings| settings.trial = Some(trial));
    let mut tap = layer.open(OFFLINE).unwrap();
    assert!(bits(&pass(&mut tap, &input, 512)) == bits(&input));
    layer.change(|settings| settings.trial = Some(Trial { delay_secs: [0.05, 0.0], ..trial }));
    assert!(bits(&pass(&mut tap, &input, 512)) == bits(&input), "changed while it renders");
    tap.close();
    // For renders too: from the first frame on, preceded by silence.
    layer.change(|settings| {
        settings.trial = Some(Trial { in_renders: true, flip: [false, true], ..delayed(100.0, 3.0) })
    });
    let mut tap = layer.open(OFFLINE).unwrap();
    let out = pass(&mut tap, &input, 512);
    assert!(out[0][..100].iter().all(|sample| *sample == 0.0));
    let [left, right] = bits(&out);
    let from = bits(&input);
    assert!(left[100..] == from[0][..SETTLED - 100]);
    assert!(right[3..].iter().zip(&from[1]).all(|(out, input)| *out == *input ^ 0x8000_0000));
}

#[test]
fn a_short_fraction_is_rounded_and_off_is_a_wire_again_at_once() {
    let _turn = my_turn();
    let layer = Layer::join();
    let input = any_bits(46, 2 * SETTLED);
    let mut tap = layer.open(STEREO).unwrap();
    let mut cases = 0;
    for (asked, whole) in [(10.4, 10), (10.6, 11), (0.5, 1), (31.4, 31), (31.6, 32)] {
        layer.change(|settings| settings.trial = Some(delayed(asked, 0.0)));
        let out = bits(&pass(&mut tap, &input, 512));
        assert!(out[0][SETTLED..] == bits(&input)[0][SETTLED - whole..2 * SETTLED - whole], "{asked}");
        assert!(out[1][SETTLED..] == bits(&input)[1][SETTLED..], "{asked}");
        layer.change(|settings| settings.trial = None);
        pass(&mut tap, &input, 512);
        assert!(bits(&pass(&mut tap, &input, 512)) == bits(&input), "off after {asked}");
        cases += 1;
    }
    assert_eq!(cases, 5);
    // A delay of less than half a sample is not a trial.
    layer.change(|settings| settings.trial = Some(delayed(0.4, 0.0)));
    assert!(bits(&pass(&mut tap, &input, 512)) == bits(&input));
}

#[test]
fn a_trial_goes_on_over_a_change_of_rate_and_is_the_same_time() {
    let _turn = my_turn();
    let layer = Layer::join();
    layer.change(|settings| settings.trial = Some(Trial { delay_secs: [0.01, 0.0], ..Trial::default() }));
    let mut cases = 0;
    for (rate_hz, frames) in [(44_100.0, 441), (48_000.0, 480), (96_000.0, 960), (192_000.0, 1_920)] {
        let mut tap = layer.open(Format { rate_hz, ..STEREO }).unwrap();
        let input = any_bits(47, SETTLED);
        let out = bits(&pass(&mut tap, &input, 512));
        assert!(out[0][frames..] == bits(&input)[0][..SETTLED - frames], "{rate_hz} Hz");
        cases += 1;
    }
    assert_eq!(cases, 4);
}

#[test]
fn a_mono_layer_takes_the_left_ones_delay_and_flip() {
    let _turn = my_turn();
    let mono = Format { channels: 1, ..STEREO };
    let input = any_bits(48, 2 * SETTLED);
    let cases = [
        (Trial { flip: [true, false], ..delayed(224.0, 0.5) }, 224, 0x8000_0000),
        (Trial { flip: [false, true], ..delayed(0.0, 0.5) }, 0, 0),
    ];
    for (trial, delay, sign) in cases {
        let layer = Layer::join();
        layer.change(|settings| settings.trial = Some(trial));
        let mut tap = layer.open(mono).unwrap();
        // A surplus slice passes unchanged.
        let out = bits(&pass(&mut tap, &input, 512));
        let from = bits(&input);
        assert!((SETTLED..2 * SETTLED).all(|k| out[0][k] == from[0][k - delay] ^ sign), "{trial:?}");
        assert!(out[1] == from[1], "{trial:?}");
    }
    assert_eq!(cases.len(), 2);
}
