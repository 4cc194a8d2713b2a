//! How the bins of the 2 s spectrum are grouped: blocks for the search, cells for everything after it.

use plumbline_measure::bands::{THIRDS, third_span};
use plumbline_measure::rate::SampleRate;

/// Bandwidth of a block in Hz. The search sums the cross spectrum over blocks, which weights lags by sin(x)/x with
/// its first zero at 1/2.5 Hz = 400 ms: wide compared with ±60 ms, so that a late echo folds back only weakly.
const BLOCK_HZ: f64 = 2.5;

/// Bins per cell. Wider cells estimate coherence with less chance, narrower ones follow the spectrum better.
const CELL_BINS: usize = 8;

/// Highest frequency used, as a part of half the sample rate: converters roll off above it.
const HIGHEST_PART: f64 = 0.96;

/// Part of the window that rises and falls, both ends together (a tapered cosine). Less leaks more; more wastes
/// sound: the error of a delay grows by √(mean w⁴)/mean w² = 1.07 for a quarter, 1.39 for a Hann window.
pub(crate) const TAPERED: f64 = 0.25;

/// Consecutive bins of one third that are summed before any decision.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Cell {
    /// First bin, counted from [`Layout::first_bin`].
    pub(crate) first: usize,
    /// The bin after the last.
    pub(crate) end: usize,
    /// The third that contains it.
    pub(crate) third: usize,
    /// Number of bins.
    pub(crate) bins: f64,
    /// Radians by which a delay of one sample rotates its middle.
    pub(crate) turn: f64,
}

/// Lengths and bins for windows of one length at one rate.
#[derive(Clone, Debug)]
pub(crate) struct Layout {
    /// The sample rate.
    pub(crate) rate: SampleRate,
    /// The window, one weight per sample.
    pub(crate) window: Vec<f32>,
    /// Σw².
    pub(crate) window_power: f64,
    /// Length of the transform: at least that of the window, a whole number of blocks, otherwise only factors 2, 3
    /// and 5.
    pub(crate) transform: usize,
    /// The first bin kept.
    pub(crate) first_bin: usize,
    /// The bin after the last one kept.
    pub(crate) end_bin: usize,
    /// Bins per block, odd.
    pub(crate) block: usize,
    /// The third of each block, from block `first_block` on. The middle of block b is bin b·block.
    pub(crate) block_thirds: Vec<usize>,
    /// The first block that is within the kept bins.
    pub(crate) first_block: usize,
    /// The cell that contains the middle of each block.
    pub(crate) block_cells: Vec<usize>,
    /// The cells, ascending; together they fill the thirds.
    pub(crate) cells: Vec<Cell>,
    /// Bins in the longest cell.
    pub(crate) longest_cell: usize,
    /// Bins that make one independent average: taper and padding correlate neighbours.
    pub(crate) bins_per_average: f64,
}

impl Layout {
    /// The layout for windows of `window` samples at `rate`, of which the part `tapered` rises and falls.
    pub(crate) fn new(rate: SampleRate, window: usize, tapered: f64) -> Self {
        let seconds = window as f64 / rate.as_f64();
        let block = odd(BLOCK_HZ * seconds);
        let transform = smooth(window.max(64), 2 * block);
        let bin_hz = rate.as_f64() / transform as f64;
        let highest_hz = HIGHEST_PART * rate.as_f64() / 2.0;
        let bin = |hz: f64| up(hz / bin_hz).min(transform / 2);
        let (first_bin, end_bin) = (bin(third_span(0).low_hz).max(1), bin(highest_hz).max(1));
        let end_bin = end_bin.min(bin(third_span(THIRDS - 1).high_hz)).max(first_bin);
        let mut cells = Vec::new();
        for third in 0..THIRDS {
            let span = third_span(third);
            let (low, high) = (bin(span.low_hz).max(first_bin), bin(span.high_hz).min(end_bin));
            let count = (high.saturating_sub(low) / CELL_BINS).max(1);
            for i in 0..count {
                let edge = |i: usize| low + (high.saturating_sub(low)) * i / count - first_bin;
                if high > low && edge(i + 1) > edge(i) {
                    let (first, end) = (edge(i), edge(i + 1));
                    let turn = turn(first_bin, transform, (first + end - 1) as f64 / 2.0);
                    cells.push(Cell { first, end, third, bins: (end - first) as f64, turn });
                }
            }
        }
        let half = block / 2;
        let first_block = (first_bin + half).div_ceil(block);
        let end_block = (end_bin.saturating_sub(half)).div_ceil(block).max(first_block);
        let third_of = |hz: f64| (0..THIRDS).rfind(|&i| hz >= third_span(i).low_hz).unwrap_or(0);
        let cell_of = |b: usize| cells.partition_point(|cell: &Cell| cell.end + first_bin <= b * block);
        let block_cells = (first_block..end_block).map(cell_of).collect();
        let block_thirds = (first_block..end_block).map(|b| third_of((b * block) as f64 * bin_hz)).collect();
        let taper = taper(window, tapered);
        let sum = |power: i32| taper.iter().map(|w| f64::from(*w).powi(power)).sum::<f64>();
        let noise_bandwidth = sum(2) * window as f64 / sum(1).powi(2).max(f64::MIN_POSITIVE);
        let bins_per_average = noise_bandwidth * transform as f64 / window.max(1) as f64;
        Self {
            rate,
            window_power: sum(2),
            window: taper,
            transform,
            first_bin,
            end_bin,
            block,
            block_thirds,
            first_block,
            block_cells,
            longest_cell: cells.iter().map(|cell| cell.end - cell.first).max().unwrap_or(0),
            cells,
            bins_per_average,
        }
    }

    /// Sample rate in Hz, and length of the window.
    pub(crate) fn shape(&self) -> (u32, usize) {
        (self.rate.hz(), self.window.len())
    }

    /// Number of bins kept.
    pub(crate) fn bins(&self) -> usize {
        self.end_bin - self.first_bin
    }

    /// Bins of block `i`, counted from `first_block`; the bins are counted from `first_bin`.
    pub(crate) fn block_bins(&self, i: usize) -> std::ops::Range<usize> {
        let first = (self.first_block + i) * self.block - self.block / 2 - self.first_bin;
        first..first + self.block
    }

    /// Radians by which a delay of one sample rotates bin `first_bin + bin`.
    pub(crate) fn turn(&self, bin: f64) -> f64 {
        turn(self.first_bin, self.transform, bin)
    }
}

fn turn(first_bin: usize, transform: usize, bin: f64) -> f64 {
    std::f64::consts::TAU * (first_bin as f64 + bin) / transform as f64
}

/// The odd number nearest to `x`, at least 1.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rounded, small, not negative")]
fn odd(x: f64) -> usize {
    2 * ((x - 1.0) / 2.0).round().max(0.0) as usize + 1
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rounded up, below 2^32")]
fn up(x: f64) -> usize {
    x.ceil().max(0.0) as usize
}

/// The smallest multiple of `of` from `least` up with otherwise only factors 2, 3 and 5: quick to transform.
fn smooth(least: usize, of: usize) -> usize {
    let quick = |mut n: usize| {
        for factor in [2, 3, 5] {
            while n.is_multiple_of(factor) {
                n /= factor;
            }
        }
        n == 1
    };
    (least.div_ceil(of)..).find(|&n| quick(n)).map_or(least, |n| n * of)
}

/// A cosine-tapered window.
#[expect(clippy::cast_possible_truncation, reason = "storage in single precision is the purpose")]
fn taper(length: usize, part: f64) -> Vec<f32> {
    let edge = part.clamp(0.0, 1.0) / 2.0 * length as f64;
    let at = |n: usize| {
        let from_end = (n as f64 + 0.5).min(length as f64 - n as f64 - 0.5);
        if from_end >= edge {
            1.0
        } else {
            (std::f64::consts::FRAC_PI_2 * from_end / edge).sin().powi(2) as f32
        }
    };
    (0..length).map(at).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_fill_the_kept_bins_at_every_rate_and_length() {
        let mut cases = 0;
        for hz in [22_050, 44_100, 47_952, 48_000, 96_000, 192_000] {
            for length in [1, 7, 100, 4_800, hz as usize, 2 * hz as usize] {
                let layout = Layout::new(SampleRate::new(hz).unwrap(), length, TAPERED);
                assert!(layout.transform >= length && layout.transform.is_multiple_of(2 * layout.block));
                let mut next = 0;
                for cell in &layout.cells {
                    assert_eq!(cell.first, next, "{hz} {length}");
                    next = cell.end;
                }
                assert_eq!(next, layout.bins(), "{hz} {length}");
                let last = layout.block_thirds.len().checked_sub(1).map_or(0, |b| layout.block_bins(b).end);
                assert!(last <= layout.bins(), "{hz} {length}");
                cases += 1;
            }
        }
        assert_eq!(cases, 36);
    }
}
