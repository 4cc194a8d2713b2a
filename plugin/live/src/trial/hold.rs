//! Holds the side-chain back as long as the main bus is late, so that both are measured as they came.

use super::kernel::REACH;

/// A whole delay of no more than [`REACH`] samples.
#[derive(Debug)]
pub(crate) struct Hold {
    rings: [[f32; REACH]; 2],
    at: usize,
    length: usize,
}

impl Hold {
    /// Holds back by `latency` samples, at most [`REACH`].
    pub(crate) fn new(latency: u32) -> Self {
        Self { rings: [[0.0; REACH]; 2], at: 0, length: (latency as usize).min(REACH) }
    }

    /// What came before is silence.
    pub(crate) fn clear(&mut self) {
        self.rings = [[0.0; REACH]; 2];
    }

    /// Puts stereo samples in at `from` up to `to` and takes those of `latency` samples ago out.
    ///
    /// # Realtime Safety
    /// Swaps numbers.
    pub(crate) fn pass(&mut self, channels: &mut [[f32; 64]; 2], from: usize, to: usize) {
        if self.length == 0 {
            return;
        }
        let mut at = self.at;
        for (ring, samples) in self.rings.iter_mut().zip(channels) {
            at = self.at;
            for sample in &mut samples[from..to] {
                std::mem::swap(sample, &mut ring[at]);
                at = if at + 1 == self.length { 0 } else { at + 1 };
            }
        }
        self.at = at;
    }
}
