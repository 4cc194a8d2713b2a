//! The layer that causes a mono loss: independent of channel order, level, layer order and polarity.

use crate::strategies::{holds_for, hostile_sample};
use plumbline_measure::{BandEdges, SampleRate};
use plumbline_programme::LayerId;
use plumbline_programme::loss_attribution::{LayerAudio, LeaveOut, Passage};
use plumbline_programme::session::{LeftOut, LossByLayer};
use plumbline_tests::signal::{Noise, single};
use proptest::prelude::*;
use proptest::test_runner::TestCaseError;
use std::cell::Cell;

/// A mix and its layers, each with a gain into each channel.
#[derive(Clone, Debug)]
struct Scene {
    mix: [Vec<f32>; 2],
    layers: Vec<(u64, Vec<Vec<f32>>)>,
}

const RATE: u32 = 48_000;

/// Layers of noise, mono and stereo, one of them with its right channel inverted, and some sound that no layer has.
fn scene(seed: u64, count: usize) -> Scene {
    let mut dice = Noise::new(seed);
    let frames = RATE as usize;
    let mut mix = [dice.white(frames, 0.01), dice.white(frames, 0.01)];
    let layers = (0..count as u64)
        .map(|id| {
            let own = [dice.white(frames, 0.1), dice.white(frames, 0.1)];
            let sign = if id == 0 { -1.0 } else { 1.0 };
            // Loud enough to cause a loss in most draws.
            let fader = if id == 0 { 2.0 } else { 1.0 };
            let gains = [1.0, sign].map(|sign| fader * sign * (0.3 + dice.uniform()));
            let stereo = id % 2 == 1;
            for (side, mix) in mix.iter_mut().enumerate() {
                let source = &own[if stereo { side } else { 0 }];
                mix.iter_mut().zip(source).for_each(|(slot, x)| *slot += gains[side] * x);
            }
            (id, own[..=usize::from(stereo)].iter().map(|c| single(c)).collect())
        })
        .collect();
    Scene { mix: mix.map(|side| single(&side)), layers }
}

fn ask(scene: &Scene, band: usize) -> Option<LossByLayer> {
    let slices: Vec<Vec<&[f32]>> =
        scene.layers.iter().map(|(_, c)| c.iter().map(Vec::as_slice).collect()).collect();
    let layers: Vec<LayerAudio<'_>> = scene
        .layers
        .iter()
        .zip(&slices)
        .map(|((id, _), channels)| LayerAudio { id: LayerId(*id), channels })
        .collect();
    let span = BandEdges::default().span(band);
    let mix = [scene.mix[0].as_slice(), scene.mix[1].as_slice()];
    let rate = SampleRate::new(RATE).expect("a rate that can be measured");
    LeaveOut::new(rate).ask(&Passage { band, span, mix, layers: &layers })
}

/// The lines in a fixed order, because the two lines of a pair, and lines of equal gain, may swap.
fn lines(found: &LossByLayer) -> Vec<LeftOut> {
    let mut lines = found.left_out.clone();
    lines.iter_mut().for_each(|line| line.layers.sort());
    lines.sort_by(|a, b| a.layers.cmp(&b.layers));
    lines
}

fn same(a: &Option<LossByLayer>, b: &Option<LossByLayer>) -> Result<(), TestCaseError> {
    let (Some(a), Some(b)) = (a, b) else {
        prop_assert!(false, "an answer is missing: {:?}, {:?}", a, b);
        return Ok(());
    };
    // Scaled single-precision samples are rounded: 1e-7 of an amplitude.
    let near = |a: f64, b: f64| a == b || (a - b).abs() < 1e-4;
    prop_assert!(near(a.loss_db, b.loss_db) && near(a.explained, b.explained), "{:?} against {:?}", a, b);
    let (a, b) = (lines(a), lines(b));
    prop_assert_eq!(a.len(), b.len());
    for (a, b) in a.iter().zip(&b) {
        prop_assert_eq!(&a.layers, &b.layers);
        let (Some(a), Some(b)) = (a.loss_db, b.loss_db) else {
            prop_assert_eq!(a.loss_db, b.loss_db);
            continue;
        };
        prop_assert!(near(a, b), "{} against {}", a, b);
    }
    Ok(())
}

fn draws() -> impl Strategy<Value = (u64, usize, usize)> {
    (any::<u64>(), 1_usize..6, 1_usize..6)
}

#[test]
fn sides_levels_polarity_and_order_do_not_matter() {
    let told = Cell::new(0);
    holds_for(40, 0x1EA7, (draws(), 0.1_f32..8.0), |((seed, count, band), gain)| {
        let scene = scene(seed, count);
        let found = ask(&scene, band);
        told.set(told.get() + found.as_ref().map_or(0, |f| f.left_out.len()));

        let mut swapped = scene.clone();
        swapped.mix.swap(0, 1);
        swapped.layers.iter_mut().for_each(|(_, channels)| channels.reverse());
        same(&found, &ask(&swapped, band))?;

        let mut louder = scene.clone();
        louder.mix.iter_mut().flatten().for_each(|x| *x *= gain);
        same(&found, &ask(&louder, band))?;

        // A fader or a polarity inversion before the mix: other gains, the same parts.
        let mut faded = scene.clone();
        for (id, channels) in &mut faded.layers {
            let gain = if *id % 2 == 0 { -gain } else { 1.0 / gain };
            channels.iter_mut().flatten().for_each(|x| *x *= gain);
        }
        same(&found, &ask(&faded, band))?;

        let mut turned = scene.clone();
        turned.layers.reverse();
        same(&found, &ask(&turned, band))
    });
    assert!(told.get() >= 20, "lines compared: {}", told.get());
}

#[test]
fn what_is_told_is_finite_and_ranked_whatever_comes() {
    let told = Cell::new(0);
    holds_for(60, 0x1EA8, draws(), |(seed, count, band)| {
        let mut scene = scene(seed, count);
        let mut dice = Noise::new(seed ^ 0x5A);
        let layers = scene.layers.iter_mut().flat_map(|(_, channels)| channels);
        for channel in scene.mix.iter_mut().chain(layers) {
            match dice.bits() % 16 {
                0 => channel.iter_mut().for_each(|x| *x = hostile_sample(&mut dice)),
                1 => channel.truncate(usize::try_from(dice.bits() % 60_000).expect("small")),
                2 => channel.fill(f32::NAN),
                _ => {}
            }
        }
        let Some(found) = ask(&scene, band) else { return Ok(()) };
        told.set(told.get() + found.left_out.len());
        prop_assert!((0.0..=1.0).contains(&found.explained));
        prop_assert!(found.loss_db <= 0.0);
        let wins: Vec<f64> = found
            .left_out
            .iter()
            .map(|l| l.loss_db.unwrap_or(0.0).max(-60.0) - found.loss_db.max(-60.0))
            .collect();
        prop_assert!(wins.iter().all(|win| *win >= 1.0), "{:?}", found);
        prop_assert!(wins.is_sorted_by(|a, b| a >= b), "{:?}", found);
        Ok(())
    });
    assert!(told.get() >= 10, "lines seen: {}", told.get());
}
