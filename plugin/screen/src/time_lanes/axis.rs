//! Tenth to pixel and back, and the axis labels.

use crate::mapping::single;
use egui::Rangef;
use plumbline_measure::{Grid, SampleRate, Timecode};
use plumbline_programme::Lanes;

/// The time axis that all lanes share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct TimeAxis {
    pub(super) x: Rangef,
    pub(super) left: i64,
    pub(super) right: i64,
}

impl TimeAxis {
    pub(super) fn of(lanes: &Lanes, x: Rangef) -> Self {
        Self { x, left: lanes.left, right: lanes.right }
    }

    /// Tenths from edge to edge, at least one, whatever the edges are.
    pub(super) fn span(&self) -> f64 {
        distance(self.left, self.right).max(1.0)
    }

    /// Position of the start of a tenth.
    pub(super) fn x(&self, tenth: i64) -> f32 {
        self.x_of(distance(self.left, tenth))
    }

    /// Position of a number of tenths after the left edge, clamped to two widths on either side.
    fn x_of(&self, after_left: f64) -> f32 {
        let share = (after_left / self.span()).clamp(-2.0, 3.0);
        self.x.min + single(share) * self.x.span()
    }

    /// The tenth at a position, clamped to the edges.
    pub(super) fn tenth(&self, x: f32) -> i64 {
        let share = f64::from((x - self.x.min) / self.x.span().max(f32::MIN_POSITIVE));
        let share = if share.is_nan() { 0.0 } else { share.clamp(0.0, 1.0) };
        #[expect(clippy::cast_possible_truncation, reason = "a whole number within the span, and saturating")]
        let after = (share * self.span()).floor() as i64;
        let last = self.right.saturating_sub(1).max(self.left);
        self.left.saturating_add(after).clamp(self.left, last)
    }
}

/// Signed number of tenths from one to another, exact over any length that a screen shows.
fn distance(from: i64, to: i64) -> f64 {
    (i128::from(to) - i128::from(from)) as f64
}

/// The possible distances between two labels, in seconds of timecode.
const STEPS_SECS: [i64; 14] = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1_800, 3_600, 7_200];
/// The most labels, whatever the edges are.
const MOST_LABELS: usize = 64;
const DAY_SECS: i64 = 86_400;

/// Positions and texts of the labels, at most one in `least` points. Song time wraps at midnight and has a minus before
/// 00:00:00:00. Each label is at a change of the timecode's second, even at fractional frame rates.
pub(super) fn labels(
    axis: TimeAxis,
    grid: Grid,
    start: Timecode,
    rate: SampleRate,
    least: f32,
) -> Vec<(f32, String)> {
    let room = f64::from((axis.x.span() / least.max(1.0)).max(1.0));
    let secs = axis.span() / 10.0;
    // Beyond the list, whole days, so that the loop ends for any span.
    #[expect(clippy::cast_possible_truncation, reason = "saturates")]
    let step = STEPS_SECS.into_iter().find(|&step| secs / distance(0, step) <= room).unwrap_or_else(|| {
        let days = (secs / room / distance(0, DAY_SECS)).ceil().max(1.0);
        (days as i64).saturating_mul(DAY_SECS)
    });
    let clock = LabelClock { grid, start, rate };
    let mut second = round_up(clock.second_at(axis.left), step);
    let mut found = Vec::new();
    for _ in 0..MOST_LABELS {
        let x = axis.x_of(clock.tenths_at(second) - distance(0, axis.left));
        if x > axis.x.max {
            break;
        }
        if x >= axis.x.min {
            let shown = if grid == Grid::Song { second % DAY_SECS } else { second };
            found.push((x, label(shown)));
        }
        let Some(next) = second.checked_add(step) else { break };
        second = next;
    }
    found
}

fn round_up(value: i64, step: i64) -> i64 {
    let over = value.rem_euclid(step);
    if over == 0 { value } else { value.saturating_add(step - over) }
}

/// Seconds of timecode as hours, minutes, seconds.
fn label(second: i64) -> String {
    let sign = if second < 0 { "−" } else { "" };
    let s = second.unsigned_abs();
    format!("{sign}{:02}:{:02}:{:02}", s / 3_600, s / 60 % 60, s % 60)
}

/// From tenths to seconds of timecode and back.
#[derive(Clone, Copy)]
struct LabelClock {
    grid: Grid,
    start: Timecode,
    rate: SampleRate,
}

impl LabelClock {
    /// The second of timecode at the start of a tenth, counting on past midnight.
    fn second_at(self, tenth: i64) -> i64 {
        let Grid::Song = self.grid else { return tenth.div_euclid(10) };
        let frames = self.start.rate();
        let frame = frames.frame_at(self.rate.tenth_start(tenth), self.rate);
        let frame = frame.saturating_add(self.start.frame());
        let days = frame.div_euclid(frames.frames_per_day());
        let [h, m, s, _] = Timecode::from_frame(frames, frame).fields();
        days.saturating_mul(DAY_SECS).saturating_add((h * 60 + m) * 60 + s)
    }

    /// The start of a second of timecode, in tenths.
    fn tenths_at(self, second: i64) -> f64 {
        let Grid::Song = self.grid else { return distance(0, second) * 10.0 };
        let frames = self.start.rate();
        let (days, s) = (second.div_euclid(DAY_SECS), second.rem_euclid(DAY_SECS));
        let fields = |frame| [s / 3_600, s / 60 % 60, s % 60, frame];
        // Drop-frame timecode has no frame 0 in most minutes, so take the first frame that exists.
        let code = Timecode::from_fields(frames, fields(0))
            .or_else(|_| Timecode::from_fields(frames, fields(frames.dropped())));
        let frame = code.map_or(0, Timecode::frame);
        let frame = days.saturating_mul(frames.frames_per_day()).saturating_add(frame);
        let sample = frames.sample_at(frame.saturating_sub(self.start.frame()), self.rate);
        distance(0, sample) * 10.0 / self.rate.as_f64()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_measure::FrameRate;
    use proptest::prelude::*;

    fn axis(left: i64, right: i64) -> TimeAxis {
        TimeAxis { x: Rangef::new(100.0, 700.0), left, right }
    }

    fn at(frames: FrameRate, text: &str) -> Timecode {
        Timecode::parse(frames, text).expect("a timecode")
    }

    fn rate() -> SampleRate {
        SampleRate::new(48_000).expect("a rate")
    }

    #[test]
    fn tenths_lie_between_the_edges_and_are_found_again() {
        let axis = axis(-300, 900);
        assert_eq!(axis.x(-300), 100.0);
        assert_eq!(axis.x(900), 700.0);
        assert_eq!(axis.x(300), 400.0);
        for tenth in -300..900 {
            assert_eq!(axis.tenth(axis.x(tenth) + 0.25), tenth, "half a point is a tenth here");
        }
        assert_eq!(axis.tenth(f32::NAN), -300);
        assert_eq!((axis.tenth(-1e9), axis.tenth(1e9)), (-300, 899));
    }

    #[test]
    fn at_25_frames_labels_stand_on_whole_seconds_of_the_song() {
        // 60 s in 600 points, one label in 100: every 10 s, from 10:00:00 on.
        let labels = labels(axis(-25, 575), Grid::Song, at(FrameRate::F25, "10:00:00:00"), rate(), 100.0);
        let texts: Vec<&str> = labels.iter().map(|label| label.1.as_str()).collect();
        assert_eq!(texts, ["10:00:00", "10:00:10", "10:00:20", "10:00:30", "10:00:40", "10:00:50"]);
        assert!((labels[0].0 - 125.0).abs() < 1e-3 && (labels[1].0 - 225.0).abs() < 1e-3, "{labels:?}");
    }

    #[test]
    fn drop_frame_labels_stand_where_their_second_begins() {
        let start = at(FrameRate::F29_97Drop, "00:00:00:00");
        let labels = labels(axis(0, 1_200), Grid::Song, start, rate(), 290.0);
        let texts: Vec<&str> = labels.iter().map(|label| label.1.as_str()).collect();
        assert_eq!(texts, ["00:00:00", "00:01:00"]);
        // SMPTE ST 12-1: 00:01:00;02 is frame 1800, 1800 × 1001/30000 s = 60.06 s after the start.
        assert!((f64::from(labels[1].0) - (100.0 + 60.06 * 5.0)).abs() < 1e-2, "{labels:?}");
        let far = super::labels(axis(359_000, 361_000), Grid::Song, start, rate(), 500.0);
        // Ten hours of drop-frame timecode are within a frame of ten clock hours: 1 078 920 frames.
        let (x, text) = &far[0];
        assert_eq!(text, "10:00:00");
        let tenths = 1_078_920.0 * 1_001.0 / 30_000.0 * 10.0;
        assert!((f64::from(*x) - (100.0 + (tenths - 359_000.0) * 600.0 / 2_000.0)).abs() < 0.02, "{far:?}");
    }

    #[test]
    fn clock_time_counts_seconds_and_song_time_goes_round_at_midnight() {
        let start = at(FrameRate::F25, "23:59:50:00");
        let clock = labels(axis(36_000, 36_600), Grid::Clock, start, rate(), 200.0);
        let texts: Vec<&str> = clock.iter().map(|label| label.1.as_str()).collect();
        assert_eq!(texts, ["01:00:00", "01:00:30", "01:01:00"]);
        let song = labels(axis(0, 200), Grid::Song, start, rate(), 290.0);
        let texts: Vec<&str> = song.iter().map(|label| label.1.as_str()).collect();
        assert_eq!(texts, ["23:59:50", "00:00:00", "00:00:10"]);
    }

    #[test]
    fn what_lies_before_zero_has_a_minus() {
        let labels = labels(axis(-20, 20), Grid::Song, at(FrameRate::F25, "00:00:00:00"), rate(), 140.0);
        let texts: Vec<&str> = labels.iter().map(|label| label.1.as_str()).collect();
        assert_eq!(texts, ["−00:00:02", "−00:00:01", "00:00:00", "00:00:01", "00:00:02"]);
        let before_ten =
            super::labels(axis(-20, 0), Grid::Song, at(FrameRate::F25, "10:00:00:00"), rate(), 290.0);
        assert_eq!(before_ten[0].1, "09:59:58", "where the song starts later there is time before it");
    }

    proptest! {
        #![proptest_config(ProptestConfig {
            rng_seed: proptest::test_runner::RngSeed::Fixed(0x9106),
            failure_persistence: None,
            ..ProptestConfig::default()
        })]

        #[test]
        fn any_edges_give_finite_places_and_few_labels(
            left in any::<i64>(), right in any::<i64>(), tenth in any::<i64>(),
            x in proptest::num::f32::ANY, frames in 0_usize..10, song in any::<bool>(),
        ) {
            let axis = axis(left, right);
            prop_assert!(axis.x(tenth).is_finite());
            let found = axis.tenth(x);
            prop_assert!(found >= left && found <= right.max(left));
            let grid = if song { Grid::Song } else { Grid::Clock };
            let labels = labels(axis, grid, Timecode::zero(FrameRate::ALL[frames]), rate(), 80.0);
            prop_assert!(labels.len() <= MOST_LABELS && labels.iter().all(|(x, _)| axis.x.contains(*x)));
        }
    }
}
