//! Hostile lanes and logs: inconsistent columns, reversed edges, findings at the limits of their types.

use super::{any64, maybe};
use plumbline_measure::bands::THIRDS;
use plumbline_measure::{Grid, Maybe, Span};
use plumbline_programme::arrival::Cause;
use plumbline_programme::findings::{Concerned, Grade};
use plumbline_programme::joins::Side;
use plumbline_programme::{
    Column, Finding, Join, Kind, Lanes, LayerId, Log, Mark, MinMax, PARTS, PassageLine, Past, Role,
};
use proptest::collection::vec;
use proptest::prelude::*;

/// Any tenth, including the limits of the type.
fn tenth() -> impl Strategy<Value = i64> {
    prop_oneof![Just(i64::MAX), Just(i64::MIN), Just(0), -5_000_i64..50_000, -5_000_i64..50_000, any::<i64>()]
}

fn grid() -> impl Strategy<Value = Grid> {
    prop_oneof![Just(Grid::Song), Just(Grid::Clock)]
}

fn reach() -> impl Strategy<Value = MinMax> {
    [maybe(), maybe()].prop_map(|[low, high]| MinMax { low: Maybe::new(low), high: Maybe::new(high) })
}

fn column() -> impl Strategy<Value = Column> {
    (0_u32..3, any::<u32>(), vec(reach(), 5), vec(maybe(), PARTS + 1)).prop_map(|(tenths, broken, r, v)| {
        Column {
            tenths,
            broken,
            momentary: r[0],
            short_term: r[1],
            width: r[2],
            correlation: Maybe::new(v[PARTS]),
            shares: std::array::from_fn(|i| Maybe::new(v[i])),
            former_short_term: r[3],
            former_width: r[4],
        }
    })
}

prop_compose! {
    pub(super) fn lanes()(
        grid in grid(),
        places in [tenth(), tenth(), tenth(), tenth(), tenth(), tenth()],
        per_column in prop_oneof![Just(0), Just(1), Just(50), any::<u32>()],
        columns in vec(column(), 0..80),
        [follows, again] in any::<[bool; 2]>(),
    ) -> Lanes {
        let [first, left, right, from, to, newest] = places;
        Lanes { grid, first, per_column, left, right, columns, extent: [from, to], follows, again, newest }
    }
}

prop_compose! {
    fn finding()(
        id in any::<u64>(),
        kind in 0..Kind::ALL.len(),
        grid in grid(),
        places in [tenth(), tenth(), tenth()],
        flags in any::<[bool; 3]>(),
        span in proptest::option::of([any64(), any64()]),
        worst in any64(),
        grade in 0_usize..3,
        right in any::<Option<bool>>(),
        role in proptest::option::of(0..Role::ALL.len()),
        layers in vec((0_u64..8, ".{0,40}"), 0..5),
    ) -> Finding {
        let [start, end, at] = places;
        Finding {
            id,
            kind: Kind::ALL[kind],
            grid,
            start,
            end,
            open: flags[0],
            span: span.map(|[low_hz, high_hz]| Span { low_hz, high_hz }),
            worst,
            at,
            grade: [Grade::Slight, Grade::Clear, Grade::Grave][grade],
            cause: flags[1].then_some(Cause::Inverted),
            right,
            role: role.map(|role| Role::ALL[role]),
            layers: layers.into_iter().map(|(id, name)| Concerned { id: LayerId(id), name }).collect(),
            follows: None,
            seen: flags[2],
        }
    }
}

fn side() -> impl Strategy<Value = Side> {
    (any::<u32>(), vec(maybe(), 3 + PARTS)).prop_map(|(tenths, v)| Side {
        tenths,
        loudness_lufs: v[0],
        tone_db_per_octave: v[1],
        side_share: v[2],
        shares: std::array::from_fn(|i| v[3 + i]),
        thirds_dbfs: std::array::from_fn::<_, THIRDS, _>(|i| Maybe::new(v[i % 4])),
    })
}

fn join() -> impl Strategy<Value = Join> {
    (any::<u64>(), grid(), tenth(), any::<i64>(), any::<[bool; 2]>(), [side(), side()], maybe()).prop_map(
        |(id, grid, at, sample, [marked, found], [before, after], takes_secs)| Join {
            id,
            grid,
            at,
            sample,
            marked,
            found,
            before,
            after,
            takes_secs,
        },
    )
}

fn mark() -> impl Strategy<Value = Mark> {
    (grid(), tenth()).prop_map(|(grid, index)| Mark { grid, index })
}

fn passage() -> impl Strategy<Value = PassageLine> {
    (grid(), [tenth(), tenth()], any64(), vec(maybe(), 6)).prop_map(|(grid, [start, end], secs, v)| {
        PassageLine {
            grid,
            start,
            end,
            secs,
            lowest_correlation: v[0],
            peak_dbfs: [v[1], v[2]],
            shares: std::array::from_fn(|i| v[i % 5]),
            leads: std::array::from_fn(|i| v[i % 4]),
            unaccounted_db: v[5],
            ..PassageLine::default()
        }
    })
}

pub(super) fn log() -> impl Strategy<Value = Log> {
    (vec(finding(), 0..12), vec(join(), 0..6), vec(mark(), 0..5), vec(passage(), 0..4), any::<[u64; 2]>())
        .prop_map(|(findings, joins, marks, passages, [serial, dropped])| Log {
            serial,
            findings,
            joins,
            marks,
            passages,
            dropped,
        })
}

pub(super) fn past() -> impl Strategy<Value = Option<Past>> {
    proptest::option::of((mark(), any::<bool>(), any::<bool>(), maybe())).prop_map(|past| {
        past.map(|(at, rebuilt, absent, newest)| Past { at, rebuilt, absent, newest: Maybe::new(newest) })
    })
}
