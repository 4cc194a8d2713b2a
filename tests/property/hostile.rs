//! No input causes a crash, and no output is NaN or has a stray infinity.

use crate::numbers::{Numbers, of_glance, of_tenths};
use crate::strategies::{RATES, holds_for, hostile_signal, measured};
use plumbline_measure::{Analyzer, BandEdges, Glance, Grid, LARGEST_SAMPLE, Position, SampleRate};
use plumbline_programme::Programme;
use plumbline_programme::delivery::{DeliveryVerdict, PRESETS, Target};
use plumbline_programme::verdict::{Channels, Verdicts};
use proptest::prelude::*;

/// The first invalid number: NaN, or infinity other than the −∞ of an empty line and of a mono that cancels completely.
fn not_a_reading(numbers: &Numbers) -> Option<String> {
    let wrong = |(name, value): &&(String, Option<f64>)| match value {
        None => false,
        Some(value) if value.is_finite() => false,
        Some(value) => {
            let may =
                name.contains("lines_dbfs") || name.contains("hold_dbfs") || name.contains("mono_loss_db");
            !(may && *value == f64::NEG_INFINITY)
        }
    };
    numbers.iter().find(wrong).map(|(name, value)| format!("{name} reads {value:?}"))
}

/// Positions at or near the limits of their type.
fn positions() -> impl Strategy<Value = i64> {
    prop_oneof![
        Just(i64::MIN),
        Just(i64::MAX),
        Just(i64::MIN + 1),
        Just(i64::MAX - 100),
        Just(0),
        Just(-1),
        Just((1 << 52) - 300),
        Just(-(1 << 52) + 300),
        any::<i64>(),
        -100_000_i64..100_000,
    ]
}

fn grids() -> impl Strategy<Value = Grid> {
    prop_oneof![Just(Grid::Song), Just(Grid::Clock)]
}

#[test]
fn every_reading_is_a_number_whatever_comes_in() {
    let blocks = prop::collection::vec((positions(), grids(), 0_usize..20_000), 1..8);
    holds_for(
        96,
        0xBAD,
        (0..RATES.len(), 1_usize..3, any::<u64>(), blocks),
        |(rate, count, seed, blocks)| {
            let rate = SampleRate::new(RATES[rate]).expect("a rate that can be measured");
            let mut analyzer = Analyzer::new(rate, count, BandEdges::default());
            let (mut tenths, mut programme) = (Vec::new(), Programme::default());
            let (mut sent, mut not_finite) = (0, 0);
            for (i, (sample, grid, frames)) in blocks.into_iter().enumerate() {
                let signal = hostile_signal(seed ^ i as u64, frames);
                let block: Vec<&[f32]> = signal[..count].iter().map(Vec::as_slice).collect();
                analyzer.push(Position { grid, sample }, &block, &mut tenths);
                analyzer.note_loss(u32::MAX);
                sent += frames as u64;
                not_finite += signal[..count].iter().flatten().filter(|x| !x.is_finite()).count() as u64;
                let mut view = Glance::default();
                analyzer.fill(&mut view);
                prop_assert_eq!(not_a_reading(&of_glance(&view)), None);
                prop_assert_eq!(view.not_finite, not_finite);
            }
            analyzer.flush(&mut tenths);
            prop_assert_eq!(not_a_reading(&of_tenths(&tenths)), None);
            let counted: u64 = tenths.iter().map(|t| u64::from(t.faults.not_finite)).sum();
            prop_assert_eq!(counted, not_finite, "samples that were not finite, over the tenths");
            let heard: u64 = tenths.iter().map(|t| u64::from(t.sums.frames)).sum();
            prop_assert_eq!(heard, sent, "samples heard, over the tenths");

            tenths.iter().for_each(|tenth| programme.push(tenth));
            let mut view = Glance::default();
            analyzer.fill(&mut view);
            programme.fill(&mut view.loudness);
            prop_assert_eq!(not_a_reading(&of_glance(&view)), None);
            for spectral in &view.averages {
                let verdicts = Verdicts::of(spectral, &view.band_edges, Channels::of(view.channels));
                let told = format!("{verdicts:?}");
                prop_assert!(!told.contains("NaN"), "{}", told);
            }
            for preset in PRESETS {
                let whole = &view.averages[2].whole;
                let delivery = DeliveryVerdict::of(&view.loudness, &view.meters, whole, &preset.target);
                let told = format!("{delivery:?}");
                prop_assert!(!told.contains("NaN"), "{}", told);
            }
            Ok(())
        },
    );
}

#[test]
fn the_largest_samples_read_as_numbers() {
    let mut cases = 0;
    for value in [f32::MAX, -f32::MAX, LARGEST_SAMPLE, f32::MIN_POSITIVE, 1e-45, 1e-20] {
        for other in [value, -value, 0.0, 1.0] {
            let count = 60_000;
            // Alternating signs, so that it is not just an offset.
            let wave =
                |size: f32| (0..count).map(|n| if n % 2 == 0 { size } else { -size }).collect::<Vec<f32>>();
            let (tenths, view) = measured(22_050, &[wave(value), wave(other)]);
            assert_eq!(not_a_reading(&of_tenths(&tenths)), None, "{value} {other}");
            assert_eq!(not_a_reading(&of_glance(&view)), None, "{value} {other}");
            cases += 1;
        }
    }
    assert_eq!(cases, 24);
}

#[test]
fn odd_blocks_are_taken_as_documented() {
    let rate = SampleRate::new(48_000).expect("a rate that can be measured");
    let long = vec![0.25_f32; 9_600];
    let at = Position { grid: Grid::Song, sample: 0 };
    let heard = |channels: usize, block: &[&[f32]]| {
        let (mut analyzer, mut tenths) = (Analyzer::new(rate, channels, BandEdges::default()), Vec::new());
        analyzer.push(at, block, &mut tenths);
        analyzer.flush(&mut tenths);
        let frames: u32 = tenths.iter().map(|t| t.sums.frames).sum();
        let right: f64 = tenths.iter().map(|t| t.sums.rr).sum();
        (frames, right)
    };
    let square = 0.0625;
    let mut cases = 0;
    for (name, channels, block, frames, right) in [
        ("no channel", 2, &[][..], 0, 0.0),
        ("empty channels", 2, &[&[][..], &[][..]][..], 0, 0.0),
        ("the shorter channel counts", 2, &[&long[..], &long[..4_800]][..], 4_800, 4_800.0 * square),
        ("a missing second equals the first", 2, &[&long[..]][..], 9_600, 9_600.0 * square),
        ("one channel stands for both", 1, &[&long[..], &long[..1]][..], 9_600, 9_600.0 * square),
        ("a third is left alone", 2, &[&long[..], &long[..], &long[..1]][..], 9_600, 9_600.0 * square),
    ] {
        assert_eq!(heard(channels, block), (frames, right), "{name}");
        cases += 1;
    }
    assert_eq!(cases, 6);
}

#[test]
fn hostile_targets_are_made_sane() {
    let any = || {
        prop_oneof![
            Just(f64::NAN),
            Just(f64::INFINITY),
            Just(f64::NEG_INFINITY),
            -1e3..1e3_f64,
            -60.0..20.0_f64
        ]
    };
    // One field at a time, the others valid, so that an unchecked field cannot hide behind another.
    holds_for(400, 0x7A6, (0_usize..5, any()), |(field, value)| {
        let mut target = Target { max_short_term_lufs: Some(-18.0), ..Target::default() };
        let fields = [
            &mut target.integrated_lufs,
            &mut target.above_lu,
            &mut target.below_lu,
            &mut target.true_peak_dbtp,
            target.max_short_term_lufs.as_mut().expect("set above"),
        ];
        if let Some(slot) = fields.into_iter().nth(field) {
            *slot = value;
        }
        let may = [-60.0..=0.0, 0.0..=20.0, 0.0..=20.0, -20.0..=6.0, -60.0..=0.0][field].contains(&value);
        prop_assert_eq!(target.sane(), if may { target } else { Target::default() });
        Ok(())
    });
}

#[test]
fn band_edges_at_their_extremes_measure() {
    let rates = prop_oneof![Just(22_050_u32), Just(48_000), Just(384_000)];
    let edge = || prop_oneof![Just(f64::NAN), Just(f64::INFINITY), Just(-1.0), 1.0..30_000.0_f64];
    let edges = prop::collection::vec(edge(), 7).prop_map(|e| <[f64; 7]>::try_from(e).expect("seven"));
    let rising = (5.0..60.0_f64, prop::collection::vec(1.059..4.0_f64, 6)).prop_map(|(first, ratios)| {
        let mut edges = [first; 7];
        for (i, ratio) in ratios.into_iter().enumerate() {
            edges[i + 1] = edges[i] * ratio;
        }
        edges
    });
    holds_for(96, 0xED6E, (rates, prop_oneof![edges, rising]), |(rate, edges)| {
        let rises = edges.windows(2).all(|pair| pair[1] >= pair[0] * BandEdges::CLOSEST_RATIO);
        let may = rises && edges[0] >= 10.0 && edges[6] <= 22_000.0;
        prop_assert_eq!(BandEdges::new(edges).is_ok(), may);
        let Ok(valid) = BandEdges::new(edges) else { return Ok(()) };
        let rate = SampleRate::new(rate).expect("a rate that can be measured");
        let (mut analyzer, mut tenths) = (Analyzer::new(rate, 2, valid), Vec::new());
        let signal = hostile_signal(9, 20_000);
        analyzer.push(Position::default(), &[&signal[0], &signal[1]], &mut tenths);
        let mut view = Glance::default();
        analyzer.fill(&mut view);
        analyzer.flush(&mut tenths);
        prop_assert_eq!(not_a_reading(&of_glance(&view)), None);
        prop_assert_eq!(not_a_reading(&of_tenths(&tenths)), None);
        prop_assert_eq!(view.band_edges, valid);
        Ok(())
    });
}
