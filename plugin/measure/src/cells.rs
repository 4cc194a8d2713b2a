//! The lines of the spectrum: power in overlapping cells of 1/24 octave, made of bins and parts of bins.
//!
//! A bin of a window can be calibrated for a sine or for noise, but not for both, and the noise in it depends on the
//! window's length. So each line sums a cell of bins, weighted so that two things hold at once, whatever window
//! measures it:
//!
//! - white noise reads its power in exactly the cell's width;
//! - a steady tone reads its level.
//!
//! The second needs a cell of more than two bins, because a Hann window spreads a tone that far. The width is 1/24
//! octave where the longest window resolves that; below, it is the narrowest that this window resolves. So it is a
//! continuous function of frequency, and does not depend on where windows change.

use crate::bands::{LONG, THIRDS, WINDOWS, third_span};
use crate::rate::SampleRate;
use crate::window::{HANN_NOISE_BANDWIDTH, hann_response};
use std::ops::Range;
use std::sync::Arc;

/// Width of a cell in octaves, where the longest window resolves it.
const CELL_OCTAVES: f64 = 1.0 / 24.0;
/// Lines in an octave: five to a cell's width, so that a tone between two of them still reads its level.
const LINES_PER_OCTAVE: f64 = 120.0;
/// Narrowest cell in bins. With 2.08 a tone midway between two bins just reads its level from them alone; less would
/// need negative weights.
const NARROWEST_BINS: f64 = 2.15;
/// The width in bins from which a shorter window is used for a cell. A lower limit would be quicker, but with larger
/// errors between lines.
const RESOLVED_BINS: f64 = 2.5;
/// Fewest bins in a cell, so that weights change smoothly as cells move across bins.
const FEWEST_BINS: f64 = 2.75;
/// Point at which a tone reads its exact level, as a part of the way from a line to midway to the next one; there, the
/// errors at both ends are about equal.
const EXACT_AT: f64 = 0.75;
/// Number of neighbouring lines that are summed side by side.
pub(crate) const LANES: usize = 4;

/// Width in Hz of the cell about `hz`, at a rate.
///
/// # Definition
/// The larger of hz·(2^(1/48) − 2^(−1/48)) and 2.15 bins of the longest window (6.3 Hz at 48 kHz).
fn cell_width_hz(rate: SampleRate, hz: f64) -> f64 {
    let bin_hz = rate.as_f64() / rate.window_lengths()[LONG] as f64;
    (hz * relative_width()).max(NARROWEST_BINS * bin_hz)
}

fn relative_width() -> f64 {
    (CELL_OCTAVES / 2.0).exp2() - (-CELL_OCTAVES / 2.0).exp2()
}

/// The frequency of each line, and the bins it is made of.
pub(crate) struct Cells {
    /// Frequencies of all lines.
    pub(crate) hz: Arc<[f32]>,
    /// The lines of each window.
    pub(crate) lines: [Range<usize>; WINDOWS],
    /// Bins that the lines of each window use.
    pub(crate) bins: [Range<usize>; WINDOWS],
    /// The lines of each window in groups of [`LANES`]; the last group may be padded with empty lines.
    groups: [Vec<Group>; WINDOWS],
}

/// A group of neighbouring lines: their first bin, counted from the first bin of the window, and the weight of each bin
/// in each line.
struct Group {
    first: usize,
    weights: Vec<[f32; LANES]>,
}

impl Cells {
    pub(crate) fn new(rate: SampleRate, lengths: [usize; WINDOWS]) -> Self {
        let mut hz = Vec::new();
        let mut shapes = [(); WINDOWS].map(|()| Vec::new());
        for line_hz in line_hz() {
            let bin_hz = |window: usize| rate.as_f64() / lengths[window] as f64;
            let width = cell_width_hz(rate, line_hz);
            let resolves = |window: &usize| width >= RESOLVED_BINS * bin_hz(*window);
            let window = (LONG + 1..WINDOWS).rev().find(resolves).unwrap_or(LONG);
            let shape = Shape::new(line_hz / bin_hz(window), width / bin_hz(window));
            // No cell may reach half the rate, because the bin there has no mirror image.
            if shape.end() > lengths[window] / 2 {
                break;
            }
            shapes[window].push(shape);
            hz.push(single(line_hz));
        }
        let mut lines = [(); WINDOWS].map(|()| 0..0);
        let mut start = 0;
        for (lines, shapes) in lines.iter_mut().zip(&shapes) {
            *lines = start..start + shapes.len();
            start = lines.end;
        }
        let bins = std::array::from_fn(|window| reach(&shapes[window]));
        let groups = std::array::from_fn(|window| {
            let shapes = shapes[window].chunks(LANES);
            shapes.map(|shapes| Group::new(shapes, bins[window].start)).collect()
        });
        Self { hz: hz.into(), lines, bins, groups }
    }

    /// Powers of the lines of a window, in order and padded with 0, from the powers of its bins.
    pub(crate) fn sum(&self, window: usize, bins: &[f32], lines: &mut [[f32; LANES]]) {
        for (group, sums) in self.groups[window].iter().zip(lines) {
            let mut four = [0.0; LANES];
            for (weights, power) in group.weights.iter().zip(&bins[group.first..]) {
                for (sum, weight) in four.iter_mut().zip(weights) {
                    *sum += weight * power;
                }
            }
            *sums = four;
        }
    }
}

/// The bins from the first to the last of some shapes.
fn reach(shapes: &[Shape]) -> Range<usize> {
    let first = shapes.iter().map(|shape| shape.first).min().unwrap_or(0);
    first..shapes.iter().map(Shape::end).max().unwrap_or(0)
}

impl Group {
    fn new(shapes: &[Shape], first_bin: usize) -> Self {
        let bins = reach(shapes);
        let weight = |bin: usize, lane: usize| {
            let shape = shapes.get(lane)?;
            shape.weights.get(bin.checked_sub(shape.first)?).copied()
        };
        let weights =
            bins.clone().map(|bin| std::array::from_fn(|lane| weight(bin, lane).map_or(0.0, single)));
        Self { first: bins.start - first_bin, weights: weights.collect() }
    }
}

/// Frequencies of the lines, one of which is 1 kHz. No cell goes beyond the thirds by more than half its width.
fn line_hz() -> impl Iterator<Item = f64> {
    let (low, high) = (third_span(0).low_hz, third_span(THIRDS - 1).high_hz / (CELL_OCTAVES / 2.0).exp2());
    let octaves = |hz: f64| (hz / 1_000.0).log2() * LINES_PER_OCTAVE;
    #[expect(clippy::cast_possible_truncation, reason = "−698 to 536")]
    let (first, last) = (octaves(low).ceil() as i32, octaves(high).floor() as i32);
    (first..=last).map(|step| 1_000.0 * (f64::from(step) / LINES_PER_OCTAVE).exp2())
}

/// The bins of one cell.
struct Shape {
    first: usize,
    weights: Vec<f64>,
}

impl Shape {
    /// A cell centred on bin `middle` and `width` bins wide; neither needs to be whole.
    ///
    /// A bin is weighted by the part of it that is inside the cell, c, times a + b·q, where q is the power that a tone
    /// in the cell leaves in the bin. Two conditions give a and b: Σ weights = width, and Σ weights·q = 1.
    fn new(middle: f64, width: f64) -> Self {
        let half = width.max(FEWEST_BINS) / 2.0;
        let off = EXACT_AT * middle * ((0.5 / LINES_PER_OCTAVE).exp2() - 1.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 65536")]
        let [first, last] = [(middle - half).round() as usize, (middle + half).round() as usize];
        let share = |bin: usize| {
            let (low, high) = (bin as f64 - 0.5, bin as f64 + 0.5);
            (high.min(middle + half) - low.max(middle - half)).max(0.0)
        };
        let tone = |bin: usize| {
            let left =
                |offset: f64| hann_response(bin as f64 - middle - offset).powi(2) / HANN_NOISE_BANDWIDTH;
            0.5 * (left(off) + left(-off))
        };
        let parts: Vec<(f64, f64)> = (first..=last).map(|bin| (share(bin), tone(bin))).collect();
        let sum = |power: i32| parts.iter().map(|(share, tone)| share * tone.powi(power)).sum::<f64>();
        let [s0, s1, s2] = [0, 1, 2].map(sum);
        let determinant = s0 * s2 - s1 * s1;
        let (a, b) = ((width * s2 - s1) / determinant, (s0 - s1 * width) / determinant);
        Self { first, weights: parts.iter().map(|(share, tone)| share * (a + b * tone)).collect() }
    }

    fn end(&self) -> usize {
        self.first + self.weights.len()
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a frequency or a weight on a screen")]
fn single(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    /// All standard rates, and those at which the windows are longest and shortest in seconds.
    const RATES: [u32; 13] = [
        22_050, 32_000, 33_800, 34_100, 44_100, 47_952, 48_000, 67_500, 88_200, 96_000, 176_400, 192_000,
        384_000,
    ];

    fn cells_at(hz: u32) -> (SampleRate, [usize; WINDOWS], Cells) {
        let rate = SampleRate::new(hz).unwrap();
        (rate, rate.window_lengths(), Cells::new(rate, rate.window_lengths()))
    }

    #[test]
    fn lines_rise_evenly_from_the_lowest_third_to_the_highest_or_half_the_rate() {
        for hz in RATES {
            let (_, _, cells) = cells_at(hz);
            let step = (1.0 / LINES_PER_OCTAVE).exp2();
            for pair in cells.hz.windows(2) {
                assert!(
                    (f64::from(pair[1]) / f64::from(pair[0]) / step - 1.0).abs() < 1e-6,
                    "{hz}: {pair:?}"
                );
            }
            assert!(cells.hz.contains(&1_000.0), "{hz}");
            assert!((17.78..18.0).contains(&cells.hz[0]), "{hz}: from {}", cells.hz[0]);
            let last = f64::from(*cells.hz.last().unwrap());
            let highest = 22_050.0_f64.min(0.48 * f64::from(hz));
            assert!(last > 0.99 * highest && last < f64::from(hz) / 2.0, "{hz}: up to {last}");
            assert_eq!(cells.lines.iter().map(Range::len).sum::<usize>(), cells.hz.len());
            assert!(cells.lines.windows(2).all(|pair| pair[0].end == pair[1].start && !pair[1].is_empty()));
        }
    }

    /// The two conditions of each cell, on powers in closed form: a floor of 1 Hz⁻¹, and tones about the line.
    #[test]
    fn a_flat_floor_reads_the_width_and_a_tone_its_level() {
        let mut worst = 0.0_f64;
        for hz in RATES {
            let (rate, lengths, cells) = cells_at(hz);
            for (window, lines) in cells.lines.iter().enumerate() {
                let bin_hz = rate.as_f64() / lengths[window] as f64;
                let read = |line: usize, power: &dyn Fn(usize) -> f64| {
                    let bins: Vec<f32> = cells.bins[window].clone().map(|bin| single(power(bin))).collect();
                    let mut sums = vec![[f32::NAN; LANES]; lines.len().div_ceil(LANES)];
                    cells.sum(window, &bins, &mut sums);
                    f64::from(sums.as_flattened()[line - lines.start])
                };
                for line in lines.clone() {
                    let line_hz = f64::from(cells.hz[line]);
                    let floor = read(line, &|_| bin_hz);
                    let width = cell_width_hz(rate, line_hz);
                    assert!((floor / width - 1.0).abs() < 1e-5, "{hz}, {line_hz} Hz: {floor} of {width}");
                    // From the line to midway to the next: further away, the next line is the higher one.
                    for steps in [0.0, 0.25, 0.5] {
                        let tone_hz = line_hz * (steps / LINES_PER_OCTAVE).exp2();
                        let tone = |bin: usize| {
                            hann_response(bin as f64 - tone_hz / bin_hz).powi(2) / HANN_NOISE_BANDWIDTH
                        };
                        let db = 10.0 * read(line, &tone).log10();
                        assert!(db.abs() < 0.14, "{hz}, line {line_hz}, tone {tone_hz}: {db} dB");
                        worst = worst.max(db.abs());
                    }
                }
            }
            let weights = cells.groups.iter().flatten().flat_map(|group| group.weights.as_flattened());
            assert!(weights.clone().count() > 5_000);
            assert!(weights.into_iter().all(|weight| (0.0..1.5).contains(weight)), "{hz}: a weight below 0");
        }
        assert!(worst > 0.11, "worst {worst} dB: the docs say too much");
    }

    #[test]
    fn the_width_is_a_twenty_fourth_of_an_octave_wherever_a_window_resolves_it() {
        for hz in RATES {
            let (rate, lengths, cells) = cells_at(hz);
            for (window, lines) in cells.lines.iter().enumerate() {
                for line in lines.clone() {
                    let line_hz = f64::from(cells.hz[line]);
                    let octaves = |width: f64| 2.0 * (width / line_hz / 2.0).asinh() / std::f64::consts::LN_2;
                    let bins = cell_width_hz(rate, line_hz) * lengths[window] as f64 / rate.as_f64();
                    if (octaves(cell_width_hz(rate, line_hz)) - CELL_OCTAVES).abs() > 1e-6 {
                        assert!(window == LONG && line_hz < 310.0 && bins < 2.1501, "{hz}: {line_hz} Hz");
                    }
                    assert!(bins > 2.1499 && (window == LONG || bins > 2.4999), "{hz}: {line_hz} Hz");
                }
            }
        }
    }
}
