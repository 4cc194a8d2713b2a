//! The delay line of one channel.

use super::channel_delay::ChannelDelay;
use super::kernel::{Kernel, TAPS};

/// The newest samples of a channel.
#[derive(Debug)]
pub(super) struct DelayLine {
    /// Every sample twice, half the memory apart, so that any stretch of samples lies in one piece.
    memory: Box<[f32]>,
    length: usize,
    /// Where the newest sample lies in the first half.
    at: usize,
}

impl DelayLine {
    /// Silence. `lookback` is how many samples ago the oldest sample may be that is read, besides the newest.
    pub(super) fn new(lookback: usize) -> Self {
        let length = lookback + 1;
        Self { memory: vec![0.0; 2 * length].into_boxed_slice(), length, at: 0 }
    }

    /// Makes all of it silence.
    ///
    /// # Realtime Safety
    /// Fills memory that is there.
    pub(super) fn clear(&mut self) {
        self.memory.fill(0.0);
    }

    /// Takes the next sample.
    ///
    /// # Realtime Safety
    /// Writes memory that is there.
    pub(super) fn put(&mut self, sample: f32) {
        self.at = if self.at + 1 == self.length { 0 } else { self.at + 1 };
        self.memory[self.at] = sample;
        self.memory[self.at + self.length] = sample;
    }

    /// What a way makes of the newest sample and those before. Its look-back must be one that the line was made for.
    ///
    /// # Realtime Safety
    /// Reads memory that is there; at most [`TAPS`] products.
    pub(super) fn get(&self, way: &ChannelDelay) -> f32 {
        let newest = self.at + self.length - way.delay as usize;
        let sample = match &way.kernel {
            None => self.memory[newest],
            Some(kernel) => weighed(&self.memory[newest + 1 - TAPS..=newest], kernel),
        };
        if way.flip { -sample } else { sample }
    }
}

/// Sums in eight rows, which a processor adds up side by side.
fn weighed(samples: &[f32], kernel: &Kernel) -> f32 {
    let mut rows = [0.0_f32; 8];
    for (samples, weights) in samples.chunks_exact(8).zip(kernel.chunks_exact(8)) {
        for (row, (sample, weight)) in rows.iter_mut().zip(samples.iter().zip(weights)) {
            *row += sample * weight;
        }
    }
    rows.iter().sum()
}
