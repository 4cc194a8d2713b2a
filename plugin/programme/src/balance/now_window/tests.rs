use super::*;
use plumbline_measure::Digest;

/// A layer that reported these tenths in this order; `count` is the count of the first.
fn store(grid: Grid, indices: &[i64], count: u64) -> LayerStore {
    let mut store = LayerStore::default();
    for (count, index) in (count..).zip(indices) {
        let digest = Digest { grid, index: *index, frames: 10, length: 10, ..Digest::default() };
        store.take(&digest, count, |_, _| {});
    }
    store
}

fn standing<'a>(stores: &'a [(LayerStore, bool)], own: Option<usize>) -> Vec<Standing<'a>> {
    let standing = |(at, (store, running)): (usize, &'a (LayerStore, bool))| Standing {
        own: Some(at) == own,
        running: *running,
        store,
    };
    stores.iter().enumerate().map(standing).collect()
}

fn ends(layers: &[(&[i64], bool)], own: Option<usize>) -> Option<i64> {
    ends_for(SHOWN, layers, own)
}

fn ends_for(patience: Patience, layers: &[(&[i64], bool)], own: Option<usize>) -> Option<i64> {
    let stores: Vec<_> = (0..)
        .zip(layers)
        .map(|(at, (indices, running))| (store(Grid::Song, indices, 1_000 * at + 1), *running))
        .collect();
    end(&standing(&stores, own), Grid::Song, patience)
}

/// Name, layers (what each reported, whether it runs), index of the one that asks, expected end of *now*.
type Case = (&'static str, &'static [(&'static [i64], bool)], Option<usize>, Option<i64>);

#[test]
fn now_ends_where_all_that_run_have_reported() {
    let cases: [Case; 12] = [
        ("nobody", &[], None, None),
        ("all at one place", &[(&[7], true), (&[7], true)], Some(0), Some(7)),
        ("one is behind", &[(&[100], true), (&[97], true)], Some(0), Some(97)),
        ("a laggard is not waited for", &[(&[100], true), (&[90], true)], Some(0), Some(95)),
        ("one that stands is not waited for", &[(&[100], true), (&[98], false)], Some(0), Some(100)),
        ("one that is ahead is not followed", &[(&[100], true), (&[110], true)], Some(0), Some(100)),
        ("a jump back is followed", &[(&[499, 100], true), (&[500], true)], Some(0), Some(100)),
        ("nor is one waited for that jumped alone", &[(&[100], true), (&[40], true)], Some(0), Some(100)),
        ("and waited for after it", &[(&[499, 102], true), (&[500, 101], true)], Some(0), Some(101)),
        ("without the asking layer the newest", &[(&[100], true), (&[40], true)], None, Some(40)),
        ("the asking layer stands", &[(&[100], false), (&[40, 41], true)], Some(0), Some(41)),
        ("all stand", &[(&[100], false), (&[99], false)], Some(0), Some(99)),
    ];
    for (name, layers, own, expected) in cases {
        assert_eq!(ends(layers, own), expected, "{name}");
    }
    assert_eq!(ends(&[(&[i64::MIN], true), (&[i64::MAX], true)], Some(0)), Some(i64::MIN));
}

#[test]
fn what_is_kept_waits_for_as_much_as_a_queue_holds() {
    let kept = |other: i64, running: bool| ends_for(KEPT, &[(&[100], true), (&[other], running)], Some(0));
    assert_eq!([60, 50, 49, 110].map(|other| kept(other, true)), [Some(60), Some(50), Some(100), Some(100)]);
    assert_eq!(kept(60, false), Some(100), "one that stands is not waited for");
}

#[test]
fn now_lies_on_the_grid_of_who_asks_or_of_most() {
    let stores = [
        (store(Grid::Clock, &[1], 1), true),
        (store(Grid::Song, &[1], 2), true),
        (store(Grid::Song, &[1], 3), true),
        (store(Grid::Clock, &[1], 4), false),
        (store(Grid::Clock, &[1], 5), false),
    ];
    assert_eq!(grid_now(&standing(&stores, Some(0))), Some(Grid::Clock));
    assert_eq!(grid_now(&standing(&stores, None)), Some(Grid::Song));
    assert_eq!(grid_now(&standing(&stores[3..], None)), Some(Grid::Clock));
    assert_eq!(grid_now(&[]), None);
}
