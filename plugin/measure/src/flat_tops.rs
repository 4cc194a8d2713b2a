//! Samples in flat tops: runs at full scale, where the wave was cut.

/// Magnitude from which a sample counts as at full scale: the largest positive 16-bit value.
pub(crate) const FULL_SCALE: f32 = 32_767.0 / 32_768.0;

/// Samples in a row at or over full scale that make a flat top, where the wave was cut: one or two may be the very peak
/// of a wave that just reaches full scale (common practice, no source).
pub const FLAT_RUN: u32 = 3;

/// Counts the samples of one channel in flat tops.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct FlatTops {
    /// Current run of samples at full scale.
    run: u32,
}

impl FlatTops {
    /// Samples of a block in flat tops. A run counts from [`FLAT_RUN`] samples on, including those of earlier blocks.
    pub(crate) fn count(&mut self, block: &[f32]) -> u32 {
        let mut flat = 0;
        for sample in block {
            self.run = if sample.abs() >= FULL_SCALE { self.run.saturating_add(1) } else { 0 };
            flat += match self.run {
                FLAT_RUN => FLAT_RUN,
                run if run > FLAT_RUN => 1,
                _ => 0,
            };
        }
        flat
    }

    /// The count of a block without a sample at full scale: none. It ends a run.
    pub(crate) fn end(&mut self) -> u32 {
        self.run = 0;
        0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The count of a wave taken in blocks of `length` samples.
    fn in_blocks(wave: &[f32], length: usize) -> u32 {
        let mut tops = FlatTops::default();
        wave.chunks(length).map(|block| tops.count(block)).sum()
    }

    #[test]
    fn only_three_in_a_row_are_a_flat_top_wherever_the_blocks_end() {
        // A normalised sine of a quarter of the rate is at full scale in every second sample; a cut one stays there.
        let touching: Vec<f32> = (0..96).map(|n| [0.0, 1.0, 0.0, -1.0][n % 4]).collect();
        let pairs: Vec<f32> = (0..96).map(|n| [1.0, 1.0, 0.5][n % 3]).collect();
        let mut cut = vec![0.5; 96];
        cut[7..12].fill(1.0);
        cut[40..43].fill(-FULL_SCALE);
        cut[60..62].fill(1.0);
        for length in [1, 2, 3, 5, 7, 96] {
            assert_eq!(in_blocks(&touching, length), 0);
            assert_eq!(in_blocks(&pairs, length), 0);
            assert_eq!(in_blocks(&cut, length), 5 + 3, "in blocks of {length}");
        }
        let mut tops = FlatTops::default();
        assert_eq!([tops.count(&[1.0, 1.0]), tops.end(), tops.count(&[1.0, 1.0])], [0; 3]);
    }
}
