use super::*;
use plumbline_measure::TimeSums;

fn tenth(grid: Grid, index: i64, frames: u32, length: u32) -> Tenth {
    Tenth { grid, index, length, sums: TimeSums { frames, ..TimeSums::default() }, ..Tenth::default() }
}

fn whole(grid: Grid, index: i64) -> Tenth {
    tenth(grid, index, 4_800, 4_800)
}

#[test]
fn keeps_song_and_clock_apart_also_below_zero() {
    let mut history = History::new();
    for index in [-65, -64, -1, 0, 63, 64, i64::MIN, i64::MAX] {
        assert!(history.push(&whole(Grid::Song, index)));
        assert_eq!(history.get(Grid::Song, index).map(|t| t.index), Some(index));
        assert!(history.get(Grid::Clock, index).is_none());
    }
    assert_eq!(history.len(), 8);
    assert!(history.get(Grid::Song, 1).is_none());
}

#[test]
fn a_later_pass_replaces_unless_less_was_heard() {
    let mut history = History::new();
    history.push(&tenth(Grid::Song, 7, 4_000, 4_800));
    assert!(!history.push(&tenth(Grid::Song, 7, 3_999, 4_800)), "less was heard");
    assert_eq!(history.get(Grid::Song, 7).unwrap().sums.frames, 4_000);
    let mut louder = tenth(Grid::Song, 7, 4_000, 4_800);
    louder.sums.ll = 1.0;
    assert!(history.push(&louder), "as much was heard, later");
    assert_eq!(history.get(Grid::Song, 7).unwrap().sums.ll, 1.0);
    // 3 900 of 4 410 is a larger share of the tenth than 4 000 of 4 800.
    assert!(history.push(&tenth(Grid::Song, 7, 3_900, 4_410)));
    assert!(!history.push(&tenth(Grid::Song, 7, 4_200, 4_800)));
    assert_eq!(history.len(), 1);
}

#[test]
fn an_hour_in_one_piece_fits_wherever_it_begins() {
    let mut cases = 0;
    for start in [-18_000, 0, 1, 63] {
        let mut history = History::new();
        let hour = MOST_TENTHS as i64;
        for index in start..start + hour {
            history.push(&whole(Grid::Song, index));
        }
        assert_eq!(history.len(), MOST_TENTHS);
        assert_eq!(history.range(Grid::Song, start..start + hour).count(), MOST_TENTHS);
        // One more: the oldest page is dropped, and no others.
        history.push(&whole(Grid::Song, start + hour));
        assert!(history.get(Grid::Song, start).is_none());
        assert!(history.get(Grid::Song, start + 64).is_some());
        assert!(history.len() > MOST_TENTHS - PAGE && history.len() <= MOST_TENTHS);
        cases += 1;
    }
    assert_eq!(cases, 4);
}

#[test]
fn the_page_written_longest_ago_goes_first() {
    let mut history = History::new();
    for index in 0..MOST_TENTHS as i64 {
        history.push(&whole(Grid::Song, index));
    }
    // The beginning is written again; the page after it is now the oldest.
    for index in 0..64 {
        history.push(&whole(Grid::Song, index));
    }
    history.push(&whole(Grid::Clock, 0));
    assert!(history.get(Grid::Song, 0).is_some());
    assert!(history.get(Grid::Song, 64).is_none());
    assert!(history.get(Grid::Song, 128).is_some());
}

#[test]
fn memory_is_bounded_however_the_tenths_lie() {
    let mut history = History::new();
    for step in 0..3 * MOST_PAGES as i64 {
        history.push(&whole(Grid::Song, step * 1_000_003));
    }
    assert!(history.len() <= MOST_PAGES);
    assert!(history.bytes() <= MOST_PAGES * size_of::<Page<Tenths>>());
    // A page holds its tenths, their epochs, and three words.
    assert!(size_of::<Page<Tenths>>() <= PAGE * (size_of::<Tenth>() + 4) + 24);
}

#[test]
fn newest_and_range_are_ascending_and_skip_what_was_not_heard() {
    let mut history = History::new();
    assert_eq!(history.newest(10).count(), 0);
    for index in [100, 101, 103, 250, 102] {
        history.push(&whole(Grid::Song, index));
    }
    history.push(&whole(Grid::Clock, 101));
    history.push(&whole(Grid::Song, 103));
    let found: Vec<i64> = history.newest(3).map(|t| t.index).collect();
    assert_eq!(found, [101, 102, 103]);
    let found: Vec<i64> = history.range(Grid::Song, 101..251).map(|t| t.index).collect();
    assert_eq!(found, [101, 102, 103, 250]);
    assert_eq!(history.range(Grid::Song, 103..103).count(), 0);
    let (late, early) = (103, 100);
    assert_eq!(history.range(Grid::Song, late..early).count(), 0);
    assert_eq!(history.newest(usize::MAX).count(), 4, "250 lies behind the one written last");
}

#[test]
fn a_reset_marks_what_came_before() {
    let mut history = History::new();
    history.push(&whole(Grid::Song, 1));
    assert!(history.is_since_reset(Grid::Song, 1));
    history.mark_reset();
    history.push(&whole(Grid::Song, 2));
    assert!(!history.is_since_reset(Grid::Song, 1));
    assert!(history.is_since_reset(Grid::Song, 2));
    assert!(!history.is_since_reset(Grid::Song, 3), "never heard");
    assert_eq!((history.len(), history.epoch()), (2, 1));
}
