//! Value to pixel and back.

use egui::{Pos2, Rangef, pos2};

/// Lowest frequency of the shared axis.
pub const LOW_HZ: f64 = 20.0;
/// Highest frequency of the shared axis.
pub const HIGH_HZ: f64 = 20_000.0;
/// Frequencies with a label.
pub const LABELLED_HZ: [(f64, &str); 10] = [
    (20.0, "20"),
    (50.0, "50"),
    (100.0, "100"),
    (200.0, "200"),
    (500.0, "500"),
    (1_000.0, "1k"),
    (2_000.0, "2k"),
    (5_000.0, "5k"),
    (10_000.0, "10k"),
    (20_000.0, "20k"),
];

/// The logarithmic frequency axis that all lanes share: 20 Hz at the left edge, 20 kHz at the right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FrequencyAxis {
    /// Positions of 20 Hz and 20 kHz.
    pub x: Rangef,
}

impl FrequencyAxis {
    /// Horizontal position; a frequency without a logarithm maps to the left edge.
    pub fn x(&self, hz: f64) -> f32 {
        let share = (hz / LOW_HZ).log10() / (HIGH_HZ / LOW_HZ).log10();
        // Bounded to 20 octaves to either side.
        let share = if share.is_nan() { 0.0 } else { share.clamp(-2.0, 3.0) };
        self.x.min + single(share) * self.x.span()
    }

    /// Frequency at a position, within the axis.
    pub fn hz(&self, x: f32) -> f64 {
        let share = f64::from((x - self.x.min) / self.x.span().max(f32::MIN_POSITIVE));
        let share = if share.is_nan() { 0.0 } else { share.clamp(0.0, 1.0) };
        LOW_HZ * (HIGH_HZ / LOW_HZ).powf(share)
    }
}

/// A linear axis of values; `bottom` is at `y.max`, `top` at `y.min`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ValueAxis {
    /// Value at the lower edge.
    pub bottom: f64,
    /// Value at the upper edge.
    pub top: f64,
    /// Vertical range in points.
    pub y: Rangef,
}

impl ValueAxis {
    /// Vertical position, clamped to the axis: ∞ maps to an edge, NaN to the lower one.
    pub fn y(&self, value: f64) -> f32 {
        let share = (value - self.bottom) / (self.top - self.bottom);
        let share = if share.is_nan() { 0.0 } else { share.clamp(0.0, 1.0) };
        self.y.max - single(share) * self.y.span()
    }

    /// Value at a position, within the axis.
    pub fn value(&self, y: f32) -> f64 {
        let share = f64::from((self.y.max - y) / self.y.span().max(f32::MIN_POSITIVE));
        let share = if share.is_nan() { 0.0 } else { share.clamp(0.0, 1.0) };
        self.bottom + share * (self.top - self.bottom)
    }
}

/// The dB to add at a frequency for a tilt in dB per octave about 1 kHz.
pub fn tilt_db(hz: f64, db_per_octave: f64) -> f64 {
    let octaves = (hz / 1_000.0).log2();
    if octaves.is_finite() { db_per_octave * octaves } else { 0.0 }
}

/// A spectrum as points: one per line or, where lines are closer than `column` points, one for the highest of them. NaN
/// is left out.
pub fn trace(
    axis: FrequencyAxis,
    values: ValueAxis,
    lines: impl Iterator<Item = (f64, f64)>,
    db_per_octave: f64,
    column: f32,
) -> Vec<Pos2> {
    let mut points: Vec<Pos2> = Vec::with_capacity(1_024);
    let (from, to) = (axis.x.min - 20.0, axis.x.max + 20.0);
    let mut open: Option<f32> = None;
    for (hz, db) in lines {
        let x = axis.x(hz);
        if db.is_nan() || hz.is_nan() || x < from || x > to {
            continue;
        }
        let y = values.y(db + tilt_db(hz, db_per_octave));
        match (open, points.last_mut()) {
            (Some(start), Some(last)) if x - start < column && x >= start => last.y = last.y.min(y),
            _ => {
                points.push(pos2(x, y));
                open = Some(x);
            }
        }
    }
    points
}

/// The line nearest to a frequency, by ratio; `None` if there are no lines.
pub fn nearest_line(line_hz: &[f32], hz: f64) -> Option<usize> {
    let distance = |line: f32| (f64::from(line).max(f64::MIN_POSITIVE) / hz).ln().abs();
    (0..line_hz.len())
        .filter(|&i| !distance(line_hz[i]).is_nan())
        .min_by(|&a, &b| distance(line_hz[a]).total_cmp(&distance(line_hz[b])))
}

/// A screen position in single precision.
#[expect(clippy::cast_possible_truncation, reason = "positions on a screen need no more")]
pub fn single(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const AXIS: FrequencyAxis = FrequencyAxis { x: Rangef { min: 50.0, max: 650.0 } };
    const VALUES: ValueAxis = ValueAxis { bottom: -90.0, top: 0.0, y: Rangef { min: 10.0, max: 190.0 } };

    #[test]
    fn decades_are_equally_wide() {
        for (hz, x) in [(20.0, 50.0), (200.0, 250.0), (2_000.0, 450.0), (20_000.0, 650.0)] {
            assert!((AXIS.x(hz) - x).abs() < 1e-3, "{hz} Hz lies at {}", AXIS.x(hz));
        }
    }

    #[test]
    fn values_run_upwards() {
        assert_eq!(VALUES.y(0.0), 10.0);
        assert_eq!(VALUES.y(-90.0), 190.0);
        assert_eq!(VALUES.y(f64::NEG_INFINITY), 190.0);
        assert_eq!(VALUES.y(f64::INFINITY), 10.0);
        assert_eq!(VALUES.y(f64::NAN), 190.0);
        assert!((VALUES.value(100.0) + 45.0).abs() < 1e-9);
    }

    #[test]
    fn tilt_turns_about_one_kilohertz() {
        assert_eq!(tilt_db(1_000.0, 4.5), 0.0);
        assert!((tilt_db(2_000.0, 4.5) - 4.5).abs() < 1e-12);
        assert!((tilt_db(500.0, 3.0) + 3.0).abs() < 1e-12);
        assert_eq!(tilt_db(0.0, 3.0), 0.0);
    }

    #[test]
    fn a_peak_among_crowded_lines_survives() {
        let lines = (0..4_000).map(|i| (10_000.0 + f64::from(i), if i == 2_222 { -10.0 } else { -80.0 }));
        let points = trace(AXIS, VALUES, lines, 0.0, 1.0);
        assert!(points.len() < 60, "{} points for 29 columns", points.len());
        let highest = points.iter().map(|p| p.y).fold(f32::MAX, f32::min);
        assert_eq!(highest, VALUES.y(-10.0));
    }

    #[test]
    fn nearest_is_by_ratio() {
        assert_eq!(nearest_line(&[100.0, 200.0, 400.0], 280.0), Some(1));
        assert_eq!(nearest_line(&[100.0, 200.0, 400.0], 290.0), Some(2));
        assert_eq!(nearest_line(&[], 290.0), None);
        assert_eq!(nearest_line(&[f32::NAN, 100.0], 290.0), Some(1));
    }

    proptest! {
        #![proptest_config(ProptestConfig {
            rng_seed: proptest::test_runner::RngSeed::Fixed(0x9106),
            failure_persistence: None,
            ..ProptestConfig::default()
        })]

        #[test]
        fn there_and_back(hz in LOW_HZ..HIGH_HZ) {
            prop_assert!((AXIS.hz(AXIS.x(hz)) / hz - 1.0).abs() < 1e-4);
        }

        #[test]
        fn any_float_maps_to_a_finite_position(value in proptest::num::f64::ANY, x in proptest::num::f32::ANY) {
            prop_assert!(AXIS.x(value).is_finite());
            prop_assert!(VALUES.y(value).is_finite());
            prop_assert!((LOW_HZ * 0.999..=HIGH_HZ * 1.001).contains(&AXIS.hz(x)));
        }

        #[test]
        fn any_lines_make_finite_points(lines in proptest::collection::vec((proptest::num::f64::ANY, proptest::num::f64::ANY), 0..200)) {
            for point in trace(AXIS, VALUES, lines.into_iter(), 4.5, 1.0) {
                prop_assert!(point.x.is_finite() && VALUES.y.contains(point.y));
            }
        }
    }
}
