//! The requested stretch of time: zooming and panning, as pure functions.

use plumbline_measure::Grid;
use plumbline_programme::{Lanes, TimeWindow};

/// Shortest stretch, 5 s.
const LEAST: i64 = 50;
/// Longest stretch, more than a day.
const MOST: i64 = 2_000_000;

/// The length of a stretch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(super) enum Length {
    /// As chosen by button.
    #[default]
    Chosen,
    /// As zoomed, tenths.
    Tenths(u32),
    /// All audio so far.
    Whole,
}

/// The requested stretch of time.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Viewport {
    pub(super) length: Length,
    /// The right edge and its grid, unless it follows the newest tenth.
    pub(super) end: Option<(Grid, i64)>,
}

impl Viewport {
    /// Tenths from edge to edge; `None` means everything.
    pub(super) fn tenths(&self, chosen: Option<u32>) -> Option<u32> {
        match self.length {
            Length::Chosen => chosen,
            Length::Tenths(tenths) => Some(tenths),
            Length::Whole => None,
        }
    }

    /// The window to ask for, where `chosen` is the length chosen by button.
    pub(super) fn lens(&self, chosen: Option<u32>, lanes: &Lanes, columns: u16) -> TimeWindow {
        let tenths = self.tenths(chosen);
        // An edge on another grid, or of everything, has no meaning.
        let end = self.end.filter(|(grid, _)| *grid == lanes.grid && tenths.is_some()).map(|(_, end)| end);
        TimeWindow { tenths, end, columns }
    }

    pub(super) fn follows(&self, chosen: Option<u32>, lanes: &Lanes) -> bool {
        self.lens(chosen, lanes, 1).end.is_none()
    }

    /// Left and right edge of the next view.
    fn edges(&self, chosen: Option<u32>, lanes: &Lanes) -> [i64; 2] {
        let lens = self.lens(chosen, lanes, 1);
        if lens.end.is_none() && lanes.again && lanes.follows {
            // While a passage is played again, the edges stay.
            return [lanes.left, lanes.right];
        }
        match lens.tenths {
            None => lanes.extent,
            Some(tenths) => {
                let right = lens.end.unwrap_or_else(|| lanes.newest.saturating_add(1));
                [right.saturating_sub(i64::from(tenths)), right]
            }
        }
    }

    /// Zooms about a tenth, outwards by a factor over 1. `None` keeps the right edge while it follows, else the middle.
    pub(super) fn zoom(&mut self, factor: f64, about: Option<i64>, chosen: Option<u32>, lanes: &Lanes) {
        if !factor.is_finite() || factor <= 0.0 {
            return;
        }
        let [left, right] = self.edges(chosen, lanes);
        let was = right.saturating_sub(left).clamp(1, MOST);
        let all = lanes.extent[1].saturating_sub(lanes.extent[0]);
        let whole = self.tenths(chosen).is_none();
        if factor > 1.0 && (whole || was >= all.max(LEAST)) {
            return;
        }
        #[expect(clippy::cast_possible_truncation, reason = "bounded by a day")]
        let length = ((was as f64 * factor).round() as i64).clamp(LEAST, MOST);
        if factor > 1.0 && length >= all {
            *self = Self { length: Length::Whole, end: None };
            return;
        }
        let follows = self.follows(chosen, lanes);
        let end = match about {
            None if follows && !whole => None,
            None => Some(end_keeping(left, right, left.saturating_add(was / 2), length)),
            Some(about) => Some(end_keeping(left, right, about, length)),
        };
        self.length = u32::try_from(length).map_or(Length::Whole, Length::Tenths);
        self.clamp_end(end, length, lanes);
    }

    /// Moves by a share of the length; to the right if positive.
    pub(super) fn pan(&mut self, share: f64, chosen: Option<u32>, lanes: &Lanes) {
        let [left, right] = self.edges(chosen, lanes);
        if self.tenths(chosen).is_none() || !share.is_finite() {
            return;
        }
        let length = right.saturating_sub(left).clamp(1, MOST);
        #[expect(clippy::cast_possible_truncation, reason = "bounded by a day")]
        let by = (length as f64 * share.clamp(-10.0, 10.0)).round() as i64;
        self.clamp_end(Some(right.saturating_add(by)), length, lanes);
    }

    /// Clamps the right edge to the audio so far; at the newest tenth it follows again.
    fn clamp_end(&mut self, end: Option<i64>, length: i64, lanes: &Lanes) {
        let [first, last] = lanes.extent;
        let last = last.max(first);
        let least = first.saturating_add(length).min(last);
        let now = lanes.newest.saturating_add(1);
        self.end =
            end.map(|end| end.clamp(least, last)).filter(|end| *end != now).map(|end| (lanes.grid, end));
    }
}

/// The right edge of a stretch in which a tenth keeps its relative position.
fn end_keeping(left: i64, right: i64, about: i64, length: i64) -> i64 {
    let was = right.saturating_sub(left).max(1);
    let ahead = i128::from(right.saturating_sub(about).clamp(0, was));
    let ahead = ahead * i128::from(length) / i128::from(was);
    about.saturating_add(i64::try_from(ahead).unwrap_or(i64::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// An hour of audio; the newest tenth is the last.
    fn hour() -> Lanes {
        Lanes { grid: Grid::Song, extent: [0, 36_000], newest: 35_999, ..Lanes::default() }
    }

    const TWO_MINUTES: Option<u32> = Some(1_200);

    #[test]
    fn a_fresh_wish_follows_at_the_chosen_length() {
        let lens = Viewport::default().lens(TWO_MINUTES, &hour(), 700);
        assert_eq!(lens, TimeWindow { tenths: Some(1_200), end: None, columns: 700 });
    }

    #[test]
    fn zooming_about_a_tenth_leaves_it_where_it_is() {
        let mut viewport = Viewport { length: Length::Chosen, end: Some((Grid::Song, 20_000)) };
        // A quarter from the left of 18 800…20 000.
        viewport.zoom(0.5, Some(19_100), TWO_MINUTES, &hour());
        let lens = viewport.lens(TWO_MINUTES, &hour(), 1);
        assert_eq!(
            (lens.tenths, lens.end),
            (Some(600), Some(19_550)),
            "19 100 is a quarter of 18 950…19 550"
        );
        viewport.zoom(2.0, Some(19_100), TWO_MINUTES, &hour());
        let lens = viewport.lens(TWO_MINUTES, &hour(), 1);
        assert_eq!((lens.tenths, lens.end), (Some(1_200), Some(20_000)), "and back");
    }

    #[test]
    fn keys_keep_the_newest_at_the_edge_while_it_is_followed() {
        let mut viewport = Viewport::default();
        viewport.zoom(0.5, None, TWO_MINUTES, &hour());
        let lens = viewport.lens(TWO_MINUTES, &hour(), 1);
        assert_eq!((lens.tenths, lens.end), (Some(600), None));
    }

    #[test]
    fn zooming_out_ends_at_everything_and_in_at_five_seconds() {
        let mut viewport = Viewport::default();
        for _ in 0..30 {
            viewport.zoom(1.5, None, TWO_MINUTES, &hour());
        }
        assert_eq!(viewport.lens(TWO_MINUTES, &hour(), 1).tenths, None);
        for _ in 0..60 {
            viewport.zoom(1.0 / 1.5, None, TWO_MINUTES, &hour());
        }
        assert_eq!(viewport.lens(TWO_MINUTES, &hour(), 1).tenths, Some(50));
    }

    #[test]
    fn panning_stops_at_the_ends_and_follows_at_the_newest() {
        let mut viewport = Viewport::default();
        viewport.pan(-0.25, TWO_MINUTES, &hour());
        assert_eq!(viewport.lens(TWO_MINUTES, &hour(), 1).end, Some(35_700));
        for _ in 0..400 {
            viewport.pan(-0.25, TWO_MINUTES, &hour());
        }
        assert_eq!(viewport.lens(TWO_MINUTES, &hour(), 1).end, Some(1_200), "the first two minutes");
        for _ in 0..400 {
            viewport.pan(0.25, TWO_MINUTES, &hour());
        }
        assert!(viewport.follows(TWO_MINUTES, &hour()));
    }

    #[test]
    fn while_an_older_stretch_is_repeated_the_end_of_the_song_is_not_now() {
        let looping = Lanes { newest: 10_000, ..hour() };
        let mut viewport = Viewport::default();
        for _ in 0..400 {
            viewport.pan(0.25, TWO_MINUTES, &looping);
        }
        assert_eq!(viewport.lens(TWO_MINUTES, &looping, 1).end, Some(36_000));
    }

    #[test]
    fn the_edge_of_another_clock_means_nothing() {
        let viewport = Viewport { length: Length::Chosen, end: Some((Grid::Clock, 77)) };
        assert!(viewport.follows(TWO_MINUTES, &hour()));
    }

    proptest! {
        #![proptest_config(ProptestConfig {
            rng_seed: proptest::test_runner::RngSeed::Fixed(0x9106),
            failure_persistence: None,
            ..ProptestConfig::default()
        })]

        #[test]
        fn any_lanes_bear_any_hand(
            extent in any::<[i64; 2]>(), newest in any::<i64>(), end in any::<Option<i64>>(),
            about in any::<Option<i64>>(), factor in proptest::num::f64::ANY, share in proptest::num::f64::ANY,
            tenths in any::<Option<u32>>(),
        ) {
            let lanes = Lanes { extent, newest, ..Lanes::default() };
            let mut viewport = Viewport { length: Length::Chosen, end: end.map(|end| (Grid::Clock, end)) };
            viewport.zoom(factor, about, tenths, &lanes);
            viewport.pan(share, tenths, &lanes);
            viewport.zoom(2.0, about, tenths, &lanes);
            viewport.zoom(0.5, None, tenths, &lanes);
            let lens = viewport.lens(tenths, &lanes, 1);
            prop_assert!(lens.tenths.is_none_or(|length| length >= 1 || tenths == Some(length)));
        }
    }
}
