//! Loudness of a whole programme of any length: eight bytes a tenth.

use plumbline_measure::loudness::{TENTHS_PER_BLOCK, TENTHS_PER_SHORT_TERM, integrated_lufs, range_lu};
use plumbline_measure::{Loudness, Meters, SampleRate, Tenth};

/// Integrated loudness and range, DC and the lowest correlation, over tenths that come once each and in order.
///
/// # Definition
/// As [`plumbline_programme::Programme`], to the bit: gating blocks of four whole tenths, short-term windows of thirty.
#[derive(Clone, Debug)]
pub(super) struct Gated {
    rate: SampleRate,
    /// Σ of K-weighted squares of each whole tenth.
    k: Vec<f64>,
    /// Index of the first.
    first: i64,
    tenths: u64,
    dc: [f64; 2],
    frames: f64,
    lowest: Option<f64>,
}

impl Gated {
    pub(super) fn new(rate: SampleRate) -> Self {
        Self { rate, k: Vec::new(), first: 0, tenths: 0, dc: [0.0; 2], frames: 0.0, lowest: None }
    }

    pub(super) fn push(&mut self, tenth: &Tenth) {
        self.tenths += 1;
        for (sum, dc) in self.dc.iter_mut().zip(tenth.sums.dc) {
            *sum += dc;
        }
        self.frames += f64::from(tenth.sums.frames);
        if let Some(lowest) = tenth.lowest_correlation.get() {
            self.lowest = Some(self.lowest.map_or(lowest, |known| known.min(lowest)));
        }
        if self.k.is_empty() {
            self.first = tenth.index;
        }
        // A file ends inside a tenth at most: nothing follows one that was not heard whole.
        if tenth.sums.frames >= tenth.length
            && self.first.checked_add_unsigned(self.k.len() as u64) == Some(tenth.index)
        {
            self.k.push(tenth.sums.k);
        }
    }

    pub(super) fn lowest_correlation(&self) -> Option<f64> {
        self.lowest
    }

    /// K-weighted mean squares of all runs of `count` tenths.
    fn means(&self, count: usize) -> impl Iterator<Item = f64> + Clone + use<'_> {
        let length =
            |at: usize| f64::from(self.rate.tenth_len(self.first.saturating_add_unsigned(at as u64)));
        self.k.windows(count).enumerate().map(move |(at, window)| {
            let frames: f64 = (at..at + count).map(length).sum();
            window.iter().sum::<f64>() / frames
        })
    }

    /// Writes what only the whole programme tells.
    pub(super) fn fill(&self, loudness: &mut Loudness, meters: &mut Meters) {
        loudness.integrated_lufs = integrated_lufs(self.means(TENTHS_PER_BLOCK));
        loudness.range_lu = range_lu(self.means(TENTHS_PER_SHORT_TERM));
        loudness.measured_secs = self.tenths as f64 / 10.0;
        meters.dc = self.dc.map(|sum| (self.frames > 0.0).then(|| sum / self.frames));
    }
}
