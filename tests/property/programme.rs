//! The programme: each song tenth counts once, and only if complete.

use crate::strategies::holds_for;
use plumbline_measure::loudness::{integrated_lufs, lufs, range_lu};
use plumbline_measure::{Grid, Loudness, Tenth, TimeSums};
use plumbline_programme::Programme;
use proptest::prelude::*;

/// A tenth of 4800 samples with a K-weighted mean square, of which `frames` were measured.
fn tenth(grid: Grid, index: i64, mean_square: f64, frames: u32) -> Tenth {
    let sums = TimeSums { k: mean_square * f64::from(frames), frames, ..TimeSums::default() };
    Tenth { grid, index, sums, length: 4_800, ..Tenth::default() }
}

fn whole(index: i64, mean_square: f64) -> Tenth {
    tenth(Grid::Song, index, mean_square, 4_800)
}

fn filled(programme: &mut Programme) -> Loudness {
    let mut loudness = Loudness::default();
    programme.fill(&mut loudness);
    loudness
}

fn of(tenths: &[Tenth]) -> Loudness {
    let mut programme = Programme::default();
    tenths.iter().for_each(|t| programme.push(t));
    filled(&mut programme)
}

/// Mean squares from −80 to −5 LUFS.
fn passages() -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec((-80.0..-5.0_f64).prop_map(|db| 10.0_f64.powf(db / 10.0)), 1..120)
}

fn tenths(passage: &[f64]) -> Vec<Tenth> {
    (-20_i64..).zip(passage).map(|(index, mean_square)| whole(index, *mean_square)).collect()
}

fn near(a: Option<f64>, b: Option<f64>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() < 1e-9,
        (None, None) => true,
        _ => false,
    }
}

#[test]
fn a_programme_is_its_blocks_gated() {
    holds_for(200, 0x960, passages(), |passage| {
        let mean = |window: &[f64]| window.iter().sum::<f64>() / window.len() as f64;
        let got = of(&tenths(&passage));
        prop_assert!(near(got.integrated_lufs, integrated_lufs(passage.windows(4).map(mean))));
        prop_assert!(near(got.range_lu, range_lu(passage.windows(30).map(mean))));
        prop_assert!((got.measured_secs - passage.len() as f64 / 10.0).abs() < 1e-9);
        Ok(())
    });
}

#[test]
fn a_loop_counts_once() {
    holds_for(40, 0x100, passages(), |passage| {
        let once = of(&tenths(&passage));
        let mut programme = Programme::default();
        for _ in 0..100 {
            tenths(&passage).iter().for_each(|t| programme.push(t));
        }
        prop_assert_eq!(filled(&mut programme), once);
        programme.clear();
        prop_assert_eq!(filled(&mut programme), Loudness::default());
        Ok(())
    });
}

#[test]
fn the_order_of_arrival_does_not_matter() {
    let shuffled = passages().prop_flat_map(|passage| {
        let all = tenths(&passage);
        (Just(all.clone()), Just(all).prop_shuffle())
    });
    holds_for(100, 0x0D, shuffled, |(in_order, shuffled)| {
        prop_assert_eq!(of(&in_order), of(&shuffled));
        Ok(())
    });
}

#[test]
fn a_tenth_heard_in_part_enters_no_block() {
    let broken = passages().prop_flat_map(|passage| {
        let count = passage.len();
        (Just(passage), 0..count, 1_u32..4_800, -5.0..60.0_f64)
    });
    holds_for(200, 0x9A27, broken, |(passage, at, frames, louder_db)| {
        let mut all = tenths(&passage);
        let loud = passage[at] * 10.0_f64.powf(louder_db / 10.0);
        all[at] = tenth(Grid::Song, all[at].index, loud, frames);
        let mean = |window: &[f64]| window.iter().sum::<f64>() / window.len() as f64;
        let blocks = passage[..at].windows(4).chain(passage[at + 1..].windows(4));
        prop_assert!(near(of(&all).integrated_lufs, integrated_lufs(blocks.map(mean))));
        let windows = passage[..at].windows(30).chain(passage[at + 1..].windows(30));
        prop_assert!(near(of(&all).range_lu, range_lu(windows.map(mean))));
        Ok(())
    });
}

#[test]
fn the_fuller_pass_of_a_tenth_counts_and_of_equals_the_later() {
    let mut cases = 0;
    let passage = |k: f64| (0..8).map(|i| whole(i, k)).collect::<Vec<_>>();
    let partial: Vec<_> = (0..8).map(|i| tenth(Grid::Song, i, 0.9, 3_000)).collect();
    for (first, second, kept) in [
        (passage(0.01), passage(0.02), 0.02),
        (passage(0.01), partial.clone(), 0.01),
        (partial, passage(0.02), 0.02),
    ] {
        let all: Vec<_> = first.into_iter().chain(second).collect();
        assert!(near(of(&all).integrated_lufs, Some(lufs(kept))));
        cases += 1;
    }
    assert_eq!(cases, 3);
}

#[test]
fn song_time_and_clock_time_stay_apart() {
    holds_for(100, 0xC10C, (passages(), passages()), |(song, clock)| {
        let on_clock: Vec<_> = (0..).zip(&clock).map(|(i, k)| tenth(Grid::Clock, i, *k, 4_800)).collect();
        let alone = of(&tenths(&song));
        let both: Vec<_> = on_clock.iter().copied().chain(tenths(&song)).collect();
        prop_assert_eq!(of(&both), alone);
        let expected = of(&tenths(&clock));
        prop_assert_eq!(of(&on_clock), expected);
        Ok(())
    });
}

#[test]
fn a_gap_breaks_the_blocks() {
    holds_for(100, 0x6A9, (passages(), passages(), 1_i64..50), |(first, second, gap)| {
        let mut all = tenths(&first);
        let next = all.last().map_or(0, |t| t.index + 1) + gap;
        all.extend((next..).zip(&second).map(|(i, k)| whole(i, *k)));
        let mean = |window: &[f64]| window.iter().sum::<f64>() / window.len() as f64;
        let blocks = first.windows(4).chain(second.windows(4)).map(mean);
        prop_assert!(near(of(&all).integrated_lufs, integrated_lufs(blocks)));
        Ok(())
    });
}
