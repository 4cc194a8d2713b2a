use super::*;
use crate::paged::Page;
use plumbline_measure::TimeSums;
use std::collections::BTreeMap;

fn tenth(grid: Grid, index: i64, short_term: f64) -> Tenth {
    Tenth {
        grid,
        index,
        length: 4_800,
        sums: TimeSums { frames: 4_800, ..TimeSums::default() },
        short_term: Maybe::new(Some(short_term)),
        max_momentary: Maybe::new(Some(short_term + 2.0)),
        lowest_correlation: Maybe::new(Some((index.rem_euclid(17)) as f64 / 17.0)),
        ..Tenth::default()
    }
}

/// The same columns, from a walk over all tenths.
fn walked(tenths: &BTreeMap<i64, f64>, lanes: &Lanes) -> Vec<(u32, Option<f64>, Option<f64>)> {
    (0..lanes.columns.len() as i64)
        .map(|column| {
            let from = lanes.first + column * i64::from(lanes.per_column);
            let values = || tenths.range(from..from + i64::from(lanes.per_column)).map(|(_, v)| *v);
            (u32::try_from(values().count()).unwrap(), values().reduce(f64::min), values().reduce(f64::max))
        })
        .collect()
}

#[test]
fn columns_are_what_a_walk_over_the_tenths_gives_at_any_zoom() {
    let mut timeline = Timeline::default();
    let mut known = BTreeMap::new();
    for index in (-700..9_000_i64).filter(|i| i.rem_euclid(1_000) > 130) {
        let value = -30.0 + (index * 7_919 % 101) as f64 / 8.0;
        timeline.push(&tenth(Grid::Song, index, value));
        known.insert(index, Maybe::new(Some(value)).get().unwrap());
    }
    let mut cases = 0;
    for tenths in [Some(50), Some(300), Some(1_200), Some(6_000), Some(36_000), None] {
        for end in [None, Some(0), Some(4_321), Some(9_500), Some(-2_000)] {
            for columns in [1, 7, 300, 801, 2_048] {
                let lanes = timeline.lanes(&TimeWindow { tenths, end, columns });
                let expected = walked(&known, &lanes);
                for (column, (count, low, high)) in lanes.columns.iter().zip(expected) {
                    assert_eq!(
                        (column.tenths, column.short_term.low.get(), column.short_term.high.get()),
                        (count, low, high)
                    );
                }
                assert!(lanes.columns.len() <= usize::from(columns) + 2);
                assert!(lanes.first <= lanes.left && lanes.left < lanes.right);
                assert!(
                    lanes.first + lanes.columns.len() as i64 * i64::from(lanes.per_column) >= lanes.right
                );
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 150);
}

#[test]
fn a_later_pass_replaces_the_older_and_keeps_it_one_back() {
    let mut timeline = Timeline::default();
    let play = |timeline: &mut Timeline, range: std::ops::Range<i64>, value: f64| {
        range.for_each(|i| timeline.push(&tenth(Grid::Song, i, value)));
    };
    let at = |timeline: &mut Timeline, index: i64| {
        let lanes = timeline.lanes(&TimeWindow { tenths: Some(1), end: Some(index + 1), columns: 1 });
        let column = lanes.columns[0];
        (column.short_term.low.get(), column.former_short_term.low.get())
    };
    play(&mut timeline, 0..100, -20.0);
    assert_eq!(at(&mut timeline, 50), (Some(-20.0), None));
    play(&mut timeline, 40..60, -25.0);
    play(&mut timeline, 40..60, -30.0);
    assert_eq!(at(&mut timeline, 50), (Some(-30.0), Some(-25.0)), "one back, not the first");
    assert_eq!(at(&mut timeline, 70), (Some(-20.0), None), "not played again");
    timeline.push(&tenth(Grid::Song, 59, -31.0));
    assert_eq!(
        at(&mut timeline, 59),
        (Some(-31.0), Some(-25.0)),
        "a tenth that a stop cut in two is one pass"
    );
}

#[test]
fn stopped_the_song_stays_in_sight_and_clock_time_shows_where_there_is_no_song() {
    let mut timeline = Timeline::default();
    assert_eq!(timeline.lanes(&TimeWindow::default()), Lanes::default());
    timeline.push(&tenth(Grid::Clock, 5_000, -20.0));
    assert_eq!(timeline.lanes(&TimeWindow::default()).grid, Grid::Clock);
    (0..20).for_each(|i| timeline.push(&tenth(Grid::Song, i, -20.0)));
    (6_000..6_020).for_each(|i| timeline.push(&tenth(Grid::Clock, i, -70.0)));
    let lanes = timeline.lanes(&TimeWindow::default());
    assert_eq!((lanes.grid, lanes.newest, lanes.right, lanes.extent), (Grid::Song, 19, 20, [0, 20]));
}

#[test]
fn shares_come_later_than_tenths_and_silence_has_none() {
    let mut timeline = Timeline::default();
    (0..10).for_each(|i| timeline.push(&tenth(Grid::Song, i, -20.0)));
    let lens = TimeWindow { tenths: Some(10), end: Some(10), columns: 1 };
    assert_eq!(timeline.lanes(&lens).columns[0].shares, [Maybe::NONE; PARTS]);
    for i in 0..10 {
        timeline.set_energies(Grid::Song, i, [3e-3, 1e-3, 0.0, 0.0, f64::NAN]);
    }
    timeline.set_energies(Grid::Song, 99_999, [1.0; PARTS]);
    let shares = timeline.lanes(&lens).columns[0].shares.map(Maybe::get);
    assert!(
        (shares[0].unwrap() - 0.75).abs() < 1e-6 && (shares[1].unwrap() - 0.25).abs() < 1e-6,
        "{shares:?}"
    );
    (0..10).for_each(|i| timeline.set_energies(Grid::Song, i, [1e-9; PARTS]));
    assert_eq!(timeline.lanes(&lens).columns[0].shares, [Maybe::NONE; PARTS]);
}

#[test]
fn absurd_times_and_lenses_are_survived() {
    let mut timeline = Timeline::default();
    for index in [i64::MIN, i64::MIN + 1, -1, 0, 1, i64::MAX - 1, i64::MAX] {
        timeline.push(&Tenth { index, grid: Grid::Song, ..Tenth::default() });
        timeline.set_energies(Grid::Song, index, [f64::INFINITY; PARTS]);
    }
    let mut cases = 0;
    for tenths in [None, Some(0), Some(1), Some(u32::MAX)] {
        for end in [None, Some(i64::MIN), Some(0), Some(i64::MAX)] {
            for columns in [0, 1, 800, u16::MAX] {
                let lanes = timeline.lanes(&TimeWindow { tenths, end, columns });
                assert!(lanes.columns.len() <= usize::from(MOST_COLUMNS) + 2);
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 64);
}

#[test]
fn six_hours_are_kept_and_the_bytes_are_those_of_the_pages() {
    let mut timeline = Timeline::default();
    for index in 0..(6 * 36_000 + 1_000) {
        timeline.push(&tenth(Grid::Song, index, -20.0));
    }
    let [first, last] = timeline.extent(Grid::Song).unwrap();
    assert_eq!(last, 6 * 36_000 + 1_000);
    assert!((900..=1_064).contains(&first), "{first}");
    assert_eq!(timeline.bytes(), MOST_PAGES * size_of::<Page<Cells>>());
    assert!(size_of::<Page<Cells>>() < PAGE * 80, "{}", size_of::<Page<Cells>>());
}

/// Plays a passage repeatedly and returns the lanes after each tenth, from the second pass on.
fn looped(before: impl Iterator<Item = i64>, passage: std::ops::Range<i64>, lens: &TimeWindow) -> Vec<Lanes> {
    let mut timeline = Timeline::default();
    before.for_each(|index| timeline.push(&tenth(Grid::Song, index, -23.0)));
    let mut seen = Vec::new();
    for pass in 0..4 {
        for index in passage.clone() {
            timeline.push(&tenth(Grid::Song, index, -23.0));
            if pass > 0 {
                seen.push(timeline.lanes(lens));
            }
        }
    }
    assert_eq!(seen.len(), 3 * passage.count());
    seen
}

/// Share of the columns that show anything.
fn filled(lanes: &Lanes) -> f64 {
    lanes.columns.iter().filter(|column| column.tenths > 0).count() as f64 / lanes.columns.len() as f64
}

#[test]
fn a_loop_fills_the_lanes_and_their_edges_stand_still() {
    let lens = TimeWindow { tenths: Some(1_200), end: None, columns: 800 };
    for (passage, least) in [(0..40, 0.78), (100..107, 0.13), (300..900, 0.98)] {
        let seen = looped(std::iter::empty(), passage.clone(), &lens);
        for lanes in &seen {
            assert!(filled(lanes) >= least, "{passage:?}: {} filled", filled(lanes));
            assert_eq!((lanes.left, lanes.right), (seen[0].left, seen[0].right), "{passage:?}");
            assert!(
                lanes.left <= passage.start && passage.end <= lanes.right && lanes.again && lanes.follows
            );
            assert!(lanes.right - lanes.left >= 50, "never closer than the screen zooms");
        }
    }
    // What was heard before the loop stays in view as far as the window reaches, up to the end of the loop.
    let seen = looped(0..2_000, 1_900..1_940, &lens);
    for lanes in &seen {
        assert_eq!((lanes.left, lanes.right), (740, 1_940));
    }
    // Sound heard far from the loop does not leave the lanes empty.
    let seen = looped(0..100, 9_000..9_040, &lens);
    let last = seen.last().unwrap();
    assert_eq!((last.left, last.right), (8_995, 9_045));
}

#[test]
fn whoever_leaves_a_passage_or_asks_for_a_place_is_not_held_to_it() {
    let lens = TimeWindow { tenths: Some(1_200), end: None, columns: 800 };
    let mut timeline = Timeline::default();
    (0..40).chain(0..40).for_each(|index| timeline.push(&tenth(Grid::Song, index, -23.0)));
    assert!(timeline.lanes(&lens).again);
    assert!(!timeline.lanes(&TimeWindow { end: Some(20), ..lens }).again);
    assert!(!timeline.lanes(&TimeWindow { tenths: None, ..lens }).again);
    assert!(!timeline.lanes(&TimeWindow { tenths: Some(30), ..lens }).again, "it does not fit");
    (40..44).for_each(|index| timeline.push(&tenth(Grid::Song, index, -23.0)));
    let lanes = timeline.lanes(&lens);
    assert_eq!((lanes.again, lanes.left, lanes.right), (false, -1_156, 44));
    // A lag of a few tenths is not a loop.
    [43, 42, 41, 42, 43].iter().for_each(|index| timeline.push(&tenth(Grid::Song, *index, -23.0)));
    assert!(!timeline.lanes(&lens).again);
}
