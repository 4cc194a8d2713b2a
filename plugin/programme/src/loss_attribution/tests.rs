use super::*;
use crate::session::LeftOut;
use plumbline_measure::bands::{BANDS, BandEdges};

fn rate(hz: u32) -> SampleRate {
    SampleRate::new(hz).unwrap()
}

/// Noise with a fixed seed, uniform in ±½.
fn noise(seed: u32, frames: usize) -> Vec<f32> {
    let mut state = seed.wrapping_mul(2_654_435_761).max(1);
    (0..frames)
        .map(|_| {
            state ^= state << 13;
            state ^= state >> 17;
            state ^= state << 5;
            f32::from(u16::try_from(state >> 16).unwrap()) / 65_536.0 - 0.5
        })
        .collect()
}

fn span(band: usize) -> Span {
    BandEdges::default().span(band)
}

fn ask(hz: u32, band: usize, mix: [&[f32]; 2], layers: &[&[&[f32]]]) -> Option<LossByLayer> {
    let layers: Vec<LayerAudio<'_>> =
        layers.iter().zip(1..).map(|(channels, id)| LayerAudio { id: LayerId(id), channels }).collect();
    LeaveOut::new(rate(hz)).ask(&Passage { band, span: span(band), mix, layers: &layers })
}

#[test]
fn one_inverted_layer_is_all_of_it() {
    let mut asked = 0;
    for hz in [22_050, 44_100, 48_000, 47_951, 96_000, 384_000] {
        let x = noise(1, 2 * hz as usize);
        let inverted: Vec<f32> = x.iter().map(|v| -v).collect();
        for band in 0..BANDS {
            let found = ask(hz, band, [&x, &inverted], &[&[&x, &inverted]]);
            let found = found.unwrap();
            assert_eq!(found.loss_db, f64::NEG_INFINITY, "{hz} Hz, band {band}");
            assert_eq!(found.left_out, [LeftOut { layers: vec![LayerId(1)], loss_db: None }]);
            assert!(found.explained > 1.0 - 1e-9);
            asked += 1;
        }
    }
    assert_eq!(asked, 36);
}

#[test]
fn nothing_to_say_says_nothing() {
    let x = noise(2, 96_000);
    let silence = vec![0.0; 96_000];
    let broken = vec![f32::NAN; 96_000];
    assert_eq!(ask(48_000, 3, [&[], &[]], &[&[&x]]), None);
    assert_eq!(ask(48_000, 3, [&x[..20_000], &x], &[&[&x]]), None);
    assert_eq!(ask(48_000, 3, [&silence, &silence], &[&[&x]]), None);
    assert_eq!(ask(48_000, 3, [&broken, &broken], &[&[&x]]), None);
    for (low_hz, high_hz) in [(30_000.0, 40_000.0), (f64::NAN, 1.0), (900.0, 800.0), (1.0, f64::INFINITY)] {
        let layers = [LayerAudio { id: LayerId(1), channels: &[&x] }];
        let passage = Passage { band: 9, span: Span { low_hz, high_hz }, mix: [&x, &x], layers: &layers };
        assert_eq!(LeaveOut::new(rate(48_000)).ask(&passage), None, "{low_hz}");
    }
}

#[test]
fn layers_that_cannot_be_heard_take_no_part() {
    let (x, y) = (noise(3, 96_000), noise(4, 96_000));
    let inverted: Vec<f32> = x.iter().map(|v| -0.5 * v).collect();
    let silence = vec![0.0; 96_000];
    let mut broken = vec![f32::INFINITY; 96_000];
    broken[7] = f32::NAN;
    let alone = ask(48_000, 3, [&x, &inverted], &[&[&x]]).unwrap();
    let layers: &[&[&[f32]]] =
        &[&[&x], &[&silence, &silence], &[&broken], &[], &[&[], &[]], &[&silence, &broken]];
    assert_eq!(ask(48_000, 3, [&x, &inverted], layers).unwrap(), alone);
    let none = ask(48_000, 3, [&x, &y], &[]).unwrap();
    assert!(none.left_out.is_empty() && none.explained == 0.0);
}

#[test]
fn lengths_may_differ() {
    let (x, y) = (noise(5, 150_000), noise(6, 96_000));
    let inverted: Vec<f32> = x.iter().map(|v| -v).collect();
    let mixes: [[&[f32]; 2]; 3] =
        [[&x, &inverted], [&x[..96_000], &inverted], [&x[..30_000], &inverted[..29_999]]];
    for mix in mixes {
        for layer in [1, 1_000, 50_000, 150_000] {
            let found = ask(48_000, 4, mix, &[&[&x[..layer], &inverted[..layer]], &[&y]]).unwrap();
            assert!((0.0..=1.0).contains(&found.explained), "{layer}");
        }
    }
}

#[test]
fn more_layers_than_are_fitted() {
    let all: Vec<Vec<f32>> = (0..40).map(|seed| noise(100 + seed, 96_000)).collect();
    let last = &all[39];
    let loud: Vec<f32> = last.iter().map(|v| 4.0 * v).collect();
    let channels: Vec<[&[f32]; 1]> =
        all.iter().take(39).map(|x| [x.as_slice()]).chain([[loud.as_slice()]]).collect();
    let layers: Vec<&[&[f32]]> = channels.iter().map(<[_; 1]>::as_slice).collect();
    let left: Vec<f32> =
        (0..96_000).map(|n| all[..39].iter().map(|x| 0.1 * x[n]).sum::<f32>() + last[n]).collect();
    let right: Vec<f32> = (0..96_000).map(|n| left[n] - 2.0 * last[n]).collect();
    let found = ask(48_000, 4, [&left, &right], &layers).unwrap();
    assert_eq!(found.left_out[0].layers, [LayerId(40)]);
    assert!(found.explained < 0.95, "{}", found.explained);
    // In the lowest band, 40 stereo layers need more gains than the sound can determine.
    let doubled: Vec<[&[f32]; 2]> = (0..39).map(|i| [all[i].as_slice(), all[i + 1].as_slice()]).collect();
    let many: Vec<&[&[f32]]> = doubled.iter().map(<[_; 2]>::as_slice).collect();
    let narrow = Span { low_hz: 20.0, high_hz: 40.0 };
    let layers: Vec<LayerAudio<'_>> =
        many.iter().zip(1..).map(|(channels, id)| LayerAudio { id: LayerId(id), channels }).collect();
    let passage = Passage { band: 0, span: narrow, mix: [&left, &right], layers: &layers };
    assert_eq!(LeaveOut::new(rate(48_000)).ask(&passage), None);
}
