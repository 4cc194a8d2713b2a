use super::*;

fn ms(ms: u64) -> Duration {
    Duration::from_millis(ms)
}

/// A report on the song grid from a layer whose run was tenth number `run` to begin, and the last to begin.
fn song(first: i64, last: i64, run: u64) -> Reported {
    Reported { grid: Grid::Song, first, last, run, count: run }
}

fn on_song(span: RangeInclusive<i64>) -> Option<(Grid, RangeInclusive<i64>)> {
    Some((Grid::Song, span))
}

/// A cursor that has joined the tenths of run 1 from 0 to `last`, at 10 s.
fn joined_to(last: i64) -> Cursor {
    let mut cursor = Cursor::default();
    assert_eq!(cursor.next(1, song(0, 0, 1), ms(0)), None);
    let mut from = 0;
    while let Some((_, span)) = cursor.next(1, song(0, last, 1), ms(10_000)) {
        assert_eq!(*span.start(), from);
        from = *span.end() + 1;
    }
    assert_eq!((from, cursor.behind), (last + 1, false));
    cursor
}

#[test]
fn a_beginning_is_held_until_layers_that_start_together_have_met() {
    let mut cursor = Cursor::default();
    // First a layer of another run is followed, then the own layer, which has reported a tenth less so far.
    assert_eq!((cursor.next(1, song(0, 4, 7), ms(100)), cursor.behind), (None, true));
    assert_eq!((cursor.next(1, song(0, 3, 9), ms(400)), cursor.behind), (None, true));
    assert_eq!((cursor.next(1, song(0, 5, 9), ms(599)), cursor.behind), (None, true));
    assert_eq!((cursor.next(1, song(0, 6, 9), ms(600)), cursor.behind), (on_song(0..=6), false));
    assert_eq!((cursor.next(1, song(0, 6, 9), ms(601)), cursor.behind), (None, false));
    assert_eq!(cursor.next(1, song(0, 7, 9), ms(602)), on_song(7..=7));
    // A render soon exceeds what a queue holds.
    let mut cursor = Cursor::default();
    assert_eq!(cursor.next(1, song(0, 6, 1), ms(0)), None);
    assert_eq!(cursor.next(1, song(0, 49, 1), ms(1)), None);
    assert_eq!(cursor.next(1, song(0, 50, 1), ms(2)), on_song(0..=50));
    // A balance that starts late looks back as far as board files reach.
    let mut cursor = Cursor::default();
    assert_eq!(cursor.next(1, song(-500, 49, 1), ms(0)), None);
    assert_eq!(cursor.next(1, song(-500, 49, 1), ms(1)), on_song(-14..=49));
}

#[test]
fn tenths_are_told_of_without_a_gap_however_far_behind() {
    let mut cursor = joined_to(49);
    let mut parts = Vec::new();
    while let Some((_, span)) = cursor.next(1, song(0, 349, 1), ms(10_001)) {
        assert_eq!(cursor.behind, *span.end() < 349);
        parts.push(span);
    }
    assert_eq!(parts, [50..=113, 114..=177, 178..=241, 242..=305, 306..=349]);
}

#[test]
fn nothing_is_told_of_twice_where_a_layer_comes_to_be_waited_for_or_followed() {
    let mut cursor = joined_to(49);
    assert_eq!(cursor.next(1, song(0, 47, 1), ms(10_001)), None, "one more that lags");
    assert_eq!(cursor.next(1, song(0, 50, 1), ms(10_002)), on_song(50..=50));
    assert_eq!(cursor.next(1, song(20, 52, 3), ms(10_003)), on_song(51..=52), "another is followed");
    assert_eq!(
        cursor.next(1, song(53, 53, 8), ms(10_004)),
        on_song(53..=53),
        "and one that began right here"
    );
    // An earlier run that has reported less than the one followed, which has now stopped.
    assert_eq!((cursor.next(1, song(0, 52, 2), ms(10_005)), cursor.behind), (None, false));
    assert_eq!((cursor.next(1, song(0, 53, 2), ms(10_006)), cursor.behind), (None, false));
    assert_eq!(cursor.next(1, song(0, 54, 2), ms(10_007)), on_song(54..=54));
    // But a run that is somewhere else is a jump.
    assert_eq!((cursor.next(1, song(100, 120, 2), ms(10_008)), cursor.behind), (None, true));
}

#[test]
fn another_account_goes_on_or_begins_whatever_its_numbers() {
    for (first, last, told) in [(-9, 49, None), (-9, 52, Some(50..=52)), (50, 50, Some(50..=50))] {
        let mut cursor = joined_to(49);
        let was = cursor.next(2, song(first, last, 1), ms(10_001));
        assert_eq!((was, cursor.behind), (told.and_then(on_song), false), "{first}");
    }
    let mut cursor = joined_to(49);
    assert_eq!(cursor.next(2, song(500, 563, 1), ms(20_000)), None, "held");
    assert_eq!(cursor.next(2, song(500, 564, 1), ms(20_001)), on_song(500..=563), "as far as files go");
}

#[test]
fn a_jump_is_a_beginning_from_where_it_went() {
    let far = |first, last| (song(first, last, 2), on_song(first..=last));
    for (reported, told) in [far(349, 352), far(52, 52), far(10, 12), far(49, 49), far(0, 3)] {
        let mut cursor = joined_to(49);
        assert_eq!((cursor.next(1, reported, ms(20_000)), cursor.behind), (None, true), "{reported:?}");
        assert_eq!(cursor.next(1, reported, ms(20_499)), None, "{reported:?}");
        assert_eq!(cursor.next(1, reported, ms(20_500)), told);
    }
    let clock = Reported { grid: Grid::Clock, ..song(50, 50, 2) };
    let mut cursor = joined_to(49);
    assert_eq!(cursor.next(1, clock, ms(20_000)), None);
    assert_eq!(cursor.next(1, clock, ms(20_500)), Some((Grid::Clock, 50..=50)));
}

#[test]
fn a_jump_away_from_a_beginning_tells_what_there_was_of_it() {
    let mut cursor = joined_to(49);
    assert_eq!(cursor.next(1, song(200, 203, 2), ms(20_000)), None);
    assert_eq!((cursor.next(1, song(0, 1, 3), ms(20_300)), cursor.behind), (on_song(200..=203), true));
    assert_eq!((cursor.next(1, song(0, 1, 3), ms(20_310)), cursor.behind), (None, true));
    assert_eq!(cursor.next(1, song(0, 6, 3), ms(20_810)), on_song(0..=6));
    // A loop shorter than the time that first tenths are held back counts as one start.
    let mut cursor = joined_to(49);
    for pass in 2..9 {
        let was = cursor.next(1, song(10, 11, pass), ms(20_000 + 200 * pass));
        assert_eq!(was, (pass == 5 || pass == 9).then(|| on_song(10..=11)).flatten(), "{pass}");
    }
}

#[test]
fn the_ends_of_all_counting_do_no_harm() {
    for (first, last) in [(i64::MIN, i64::MIN), (i64::MAX, i64::MAX), (i64::MIN, i64::MAX)] {
        let mut cursor = Cursor::default();
        for run in 1..6 {
            for now in 0..4 {
                let _ = cursor.next(1, song(first, last, run), ms(400 * now));
                let _ = cursor.next(1, song(last, last, run), ms(400 * now));
            }
        }
    }
}
