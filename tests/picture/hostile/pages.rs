//! Hostile logs on the pages that show them.

use super::{any64, maybe, readings, size, survive_on};
use plumbline_measure::reading::Maybe;
use plumbline_measure::{Grid, Span};
use plumbline_programme::arrival::Cause;
use plumbline_programme::findings::{Concerned, Grade, KINDS, Kind};
use plumbline_programme::joins::Side;
use plumbline_programme::{Finding, Join, LayerId, Log, Mark, PassageLine, Past, Role, View};
use plumbline_tests::views;
use proptest::collection::vec;
use proptest::prelude::*;

fn grid() -> impl Strategy<Value = Grid> {
    prop_oneof![Just(Grid::Song), Just(Grid::Clock)]
}

fn tenth() -> impl Strategy<Value = i64> {
    prop_oneof![any::<i64>(), Just(i64::MIN), Just(i64::MAX), -100_i64..100_000]
}

prop_compose! {
    fn finding()(
        id in 0_u64..6,
        kind in 0..KINDS,
        grid in grid(),
        tenths in [tenth(), tenth(), tenth()],
        v in [any64(), any64(), any64()],
        flags in any::<[bool; 4]>(),
        grade in 0_usize..3,
        names in vec(".{0,90}", 0..6),
    ) -> Finding {
        Finding {
            id,
            kind: Kind::ALL[kind],
            grid,
            start: tenths[0],
            end: tenths[1],
            open: flags[0],
            span: flags[1].then_some(Span { low_hz: v[0], high_hz: v[1] }),
            worst: v[2],
            at: tenths[2],
            grade: [Grade::Slight, Grade::Clear, Grade::Grave][grade],
            cause: flags[2].then_some(Cause::Delayed { secs: v[0] }),
            right: flags[3].then_some(flags[0]),
            role: flags[2].then_some(Role::Foley),
            layers: names.into_iter().map(|name| Concerned { id: LayerId(id), name }).collect(),
            follows: flags[1].then_some(id),
            seen: flags[0] != flags[1],
        }
    }
}

fn side() -> impl Strategy<Value = Side> {
    (any::<u32>(), vec(maybe(), 8), vec(maybe(), 5)).prop_map(|(tenths, v, thirds)| Side {
        tenths,
        loudness_lufs: v[0],
        tone_db_per_octave: v[1],
        side_share: v[2],
        shares: [v[3], v[4], v[5], v[6], v[7]],
        thirds_dbfs: std::array::from_fn(|third| Maybe::new(thirds[third % 5])),
    })
}

prop_compose! {
    fn join()(
        id in 0_u64..6,
        grid in grid(),
        at in tenth(),
        sample in any::<i64>(),
        flags in any::<[bool; 2]>(),
        before in side(),
        after in side(),
        takes_secs in maybe(),
    ) -> Join {
        Join { id, grid, at, sample, marked: flags[0], found: flags[1], before, after, takes_secs }
    }
}

prop_compose! {
    fn passage()(
        grid in grid(),
        tenths in [tenth(), tenth()],
        secs in any64(),
        whole in readings(),
        v in vec(maybe(), 8),
        counts in any::<[u64; 4]>(),
    ) -> PassageLine {
        PassageLine {
            grid,
            start: tenths[0],
            end: tenths[1],
            secs,
            whole,
            lowest_correlation: v[0],
            overs: [counts[0], counts[1]],
            lost: counts[2],
            not_finite: counts[3],
            shares: [v[1], v[2], v[3], v[4], v[5]],
            leads: [v[5], v[4], v[3], v[2], v[1]],
            unaccounted_db: v[6],
            loudness: plumbline_measure::Loudness {
                integrated_lufs: v[7],
                true_peak_dbtp: [v[0], v[7]],
                ..plumbline_measure::Loudness::default()
            },
            ..PassageLine::default()
        }
    }
}

fn mark() -> impl Strategy<Value = Mark> {
    (grid(), tenth()).prop_map(|(grid, index)| Mark { grid, index })
}

prop_compose! {
    fn log()(
        findings in vec(finding(), 0..12),
        joins in vec(join(), 0..9),
        marks in vec(mark(), 0..9),
        passages in vec(passage(), 0..7),
        dropped in prop_oneof![Just(0), any::<u64>()],
    ) -> Log {
        Log { serial: 1, findings, joins, marks, passages, dropped }
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 96,
        rng_seed: proptest::test_runner::RngSeed::Fixed(0x9106),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn any_log_at_any_size(
        log in log(),
        past in proptest::option::of(mark()),
        rate_hz in prop_oneof![Just(0), Just(48_000), any::<u32>()],
        size in size(),
    ) {
        let mut view = View { log: log.into(), ..views::spacious() };
        view.clock.rate_hz = rate_hz;
        view.past = past.map(|at| Past { at, rebuilt: true, absent: false, newest: Maybe::NONE });
        for page in [egui::Key::Num4, egui::Key::Num5] {
            survive_on(&view, page, size);
        }
    }
}
