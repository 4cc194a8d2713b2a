//! The delay line of one channel.

use super::channel_delay::ChannelDelay;
use super::fractional_delay::{Kernel, TAPS};

/// Samples in the smallest page of memory of any system: 4 KiB.
const PAGE: usize = 4_096 / size_of::<f32>();

/// The latest samples of a channel.
#[derive(Debug)]
pub(super) struct DelayLine {
    /// Each sample twice, `length` apart, so that any run of samples is contiguous.
    memory: Box<[f32]>,
    length: usize,
    /// Index of the latest sample in the first half.
    at: usize,
}

impl DelayLine {
    /// A silent line. `lookback` is the greatest age in samples that may be read.
    ///
    /// Every page is written here. Zeroed memory is only promised by the system, and its first write enters the kernel:
    /// that would be the first trial, on the audio thread.
    pub(super) fn new(lookback: usize) -> Self {
        let length = lookback + 1;
        let mut memory = vec![0.0; 2 * length].into_boxed_slice();
        let last = memory.len() - 1;
        for k in (0..last).step_by(PAGE).chain([last]) {
            // The compiler would leave out a write of what it knows to be there.
            memory[k] = std::hint::black_box(0.0);
        }
        Self { memory, length, at: 0 }
    }

    /// Fills the line with silence.
    ///
    /// # Realtime Safety
    /// Writes allocated memory.
    pub(super) fn clear(&mut self) {
        self.memory.fill(0.0);
    }

    /// Takes the next sample.
    ///
    /// # Realtime Safety
    /// Writes allocated memory.
    pub(super) fn put(&mut self, sample: f32) {
        self.at = if self.at + 1 == self.length { 0 } else { self.at + 1 };
        self.memory[self.at] = sample;
        self.memory[self.at + self.length] = sample;
    }

    /// The output of a channel's delay now. Its look-back must not exceed that of the line.
    ///
    /// # Realtime Safety
    /// Reads allocated memory; at most [`TAPS`] products.
    pub(super) fn get(&self, way: &ChannelDelay) -> f32 {
        let newest = self.at + self.length - way.delay as usize;
        let sample = match &way.kernel {
            None => self.memory[newest],
            Some(kernel) => weighed(&self.memory[newest + 1 - TAPS..=newest], kernel),
        };
        if way.flip { -sample } else { sample }
    }
}

/// The weighted sum of samples, as eight partial sums that a processor adds in parallel.
fn weighed(samples: &[f32], kernel: &Kernel) -> f32 {
    let mut rows = [0.0_f32; 8];
    for (samples, weights) in samples.chunks_exact(8).zip(kernel.chunks_exact(8)) {
        for (row, (sample, weight)) in rows.iter_mut().zip(samples.iter().zip(weights)) {
            *row += sample * weight;
        }
    }
    rows.iter().sum()
}
