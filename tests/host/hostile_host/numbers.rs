//! Numbers from a seed.

use plumbline_tests::signal::Noise;

/// Numbers from a seed.
pub(super) struct Numbers(Noise);

impl Numbers {
    pub(super) fn new(seed: u64) -> Self {
        Self(Noise::new(seed))
    }

    /// A number from 0, less than `end`.
    pub(super) fn below(&mut self, end: u32) -> u32 {
        u32::try_from((self.0.bits() >> 11) % u64::from(end)).unwrap()
    }

    /// True once in `count` times.
    pub(super) fn one_in(&mut self, count: u32) -> bool {
        self.below(count) == 0
    }
}
