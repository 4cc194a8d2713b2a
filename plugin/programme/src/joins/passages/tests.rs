use super::*;
use plumbline_measure::bands::{THIRDS, third_span, window_for};
use plumbline_measure::cross::Stored;
use plumbline_measure::{Grid, Tenth};

/// Tenths of noise whose thirds scatter by some dB around `level_db`, which depends on tenth and third.
fn noise(count: usize, level_db: impl Fn(usize, usize) -> f64) -> Vec<Cell> {
    let mut state = 0x2545_F491_4F6C_DD1D_u64;
    let mut scatter = move || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 40) as f64 / f64::from(1_u32 << 24) - 0.5
    };
    let tenth = |at: usize, scatter: &mut dyn FnMut() -> f64| {
        #[expect(clippy::cast_possible_truncation, reason = "as a tenth keeps it")]
        let thirds = std::array::from_fn::<_, THIRDS, _>(|third| {
            let power = 10.0_f64.powf((level_db(at, third) + 3.0 * scatter()) / 10.0) as f32;
            Stored { ll: power, rr: power, re: 0.0 }
        });
        let mut tenth =
            Tenth { grid: Grid::Song, index: at as i64, length: 4_800, thirds, ..Tenth::default() };
        tenth.frames_of = [1; 3];
        tenth
    };
    (0..count).map(|at| Cell::of(&tenth(at, &mut scatter))).collect()
}

/// Places of the joins of a run.
fn joins(cells: &[Cell]) -> Vec<usize> {
    let mut passages = Passages::default();
    let mut decided: Vec<(usize, bool)> = cells.iter().filter_map(|cell| passages.push(cell)).collect();
    decided.extend(passages.end());
    assert!(decided.windows(2).all(|two| two[0].0 < two[1].0), "each boundary once, ascending");
    decided.into_iter().filter(|(_, is_join)| *is_join).map(|(t, _)| t).collect()
}

/// A level for each third, as an ambience has.
fn sound(third: usize, which: usize) -> f64 {
    -40.0 - 8.0 * ((third * (which + 2)) as f64).sin()
}

#[test]
fn another_sound_is_found_to_the_tenth_near_the_ends_too() {
    for (count, at) in [(200, 100), (200, 15), (200, 185), (31, 15), (30, 15)] {
        let changed = noise(count, |tenth, third| {
            // The thirds of the long window arrive late.
            let late = if window_for(third_span(third).low_hz) == 0 { LATE } else { 0 };
            sound(third, usize::from(tenth >= at + late))
        });
        let found = joins(&changed);
        assert!(matches!(found[..], [place] if place.abs_diff(at) <= 1), "{count} {at}: {found:?}");
        let steady = noise(count, |_, third| sound(third, 0));
        assert_eq!(joins(&steady), [], "{count}");
    }
}

#[test]
fn a_run_too_short_decides_nothing() {
    for count in 0..2 * LEAST {
        assert_eq!(joins(&noise(count, |tenth, third| sound(third, usize::from(tenth >= count / 2)))), []);
    }
}

#[test]
fn levels_do_not_matter_and_no_number_breaks_it() {
    let changed =
        |offset: f64| noise(200, move |tenth, third| offset + sound(third, usize::from(tenth >= 100)));
    assert_eq!(joins(&changed(0.0)), joins(&changed(-40.0)));
    for strange in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 400.0] {
        let odd = noise(200, |tenth, third| if tenth % 3 == 0 { strange } else { sound(third, 0) });
        let _ = joins(&odd);
    }
}
