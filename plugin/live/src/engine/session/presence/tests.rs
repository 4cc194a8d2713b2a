//! Layers on a board, in the mix and not in it.

use super::*;
use crate::engine::pairs::tests::{HOP, Place, RATE_HZ, heard, rate};

const TENTH: i64 = RATE_HZ as i64 / 10;

/// Plays a mix and two steady layers; `held` says which of them the mix contains at a sample. Returns each change and
/// the sample at which it was found.
fn told(
    name: &str,
    quarters: i64,
    mut first: i64,
    held: impl Fn(i64) -> [bool; 2],
) -> (Vec<(i64, News)>, [LayerId; 2]) {
    let mut place = Place::new(name);
    let mix = place.join(Role::Mix, 2, RATE_HZ);
    let layers = [place.join(Role::Natural, 2, RATE_HZ), place.join(Role::Foley, 1, RATE_HZ)];
    let mut in_mix = InMix::default();
    let mut told = Vec::new();
    for _ in 0..quarters {
        let sum = |from: i64| -> Vec<f32> {
            let [one, two] = [1, 2].map(|seed| heard(seed, from, 0, HOP));
            let rest = heard(3, from, 0, HOP);
            let [has_one, has_two] = held(from).map(|holds| f32::from(u8::from(holds)));
            (0..HOP).map(|n| has_one * one[n] + 0.5 * has_two * two[n] + rest[n]).collect()
        };
        let [one, two] = [1, 2].map(|seed| move |from: i64| heard(seed, from, 0, HOP));
        place.play(first, &[&sum, &one, &two], &[]);
        told.extend(in_mix.look(&place.board, 'A', mix, true, place.now).map(|news| (first, news)));
        first += HOP as i64;
    }
    (told, layers)
}

#[test]
fn a_layer_that_is_muted_is_absent_from_the_mute_on_and_back_when_it_is_lifted() {
    let secs = |secs: i64| secs * i64::from(RATE_HZ);
    let mute = secs(12)..secs(40);
    let (told, [_, muted]) = told("muted", 4 * 60, 0, |at| [true, !mute.contains(&at)]);
    let [(gone_at, News::Absent { layer, tenths }), (back_at, back)] = &told[..] else { panic!("{told:?}") };
    assert_eq!(*layer, muted);
    assert!((secs(16)..secs(27)).contains(gone_at), "told at {} s", gone_at / secs(1));
    let all =
        |range: &RangeInclusive<i64>| *range.start() >= 120 && range.end() * TENTH <= gone_at + HOP as i64;
    assert!(!tenths.is_empty() && tenths.iter().all(all), "from before the mute, or ahead: {tenths:?}");
    let silent: i64 = tenths.iter().map(|range| range.end() - range.start() + 1).sum();
    assert!(silent >= 40, "all that shows it to be absent is silent: {tenths:?}");
    let News::Present { layer, from } = back else { panic!("{told:?}") };
    assert_eq!(*layer, muted);
    assert!((secs(40)..secs(45)).contains(back_at), "told at {} s", back_at / secs(1));
    // The passage in which it is found may contain part of the mute.
    assert!((380..=430).contains(from), "{from}");
}

#[test]
fn nothing_is_told_of_layers_that_play_in_the_mix_or_where_no_layer_was_ever_found() {
    assert_eq!(told("both", 120, -44_100, |_| [true; 2]).0, []);
    // The latency to the mix may be too long for any of them.
    assert_eq!(told("neither", 120, 0, |_| [false; 2]).0, []);
    // The same for two that were found, if both go missing at the same moment.
    assert_eq!(told("from", 160, 0, |at| [at < 12 * i64::from(RATE_HZ); 2]).0, []);
    let (told, layers) = told("one", 120, 0, |_| [true, false]);
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(matches!(&told[0].1, News::Absent { layer, .. } if *layer == layers[1]));
}

#[test]
fn another_mix_begins_anew_and_who_left_is_forgotten() {
    let mut in_mix = InMix { mix: Some(LayerId(1)), ..InMix::default() };
    for id in [5, 6] {
        in_mix
            .layers
            .insert(LayerId(id), Known { absent: true, found: Some(Duration::ZERO), ..Known::default() });
    }
    in_mix.forget(LayerId(5));
    assert_eq!([5, 6].map(|id| in_mix.is_absent(LayerId(id))), [false, true]);
    let board = BoardReader::new(Err("no board here".to_owned()));
    assert_eq!(in_mix.look(&board, 'A', LayerId(2), true, Duration::from_secs(9)), None);
    assert_eq!(in_mix.layers[&LayerId(6)].found, None, "{:?} Hz", rate());
}
