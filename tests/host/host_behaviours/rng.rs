//! A random generator with a seed.

use plumbline_tests::signal::Noise;

/// Random numbers, the same for the same seed.
pub(super) struct Rng(Noise);

impl Rng {
    pub(super) fn new(seed: u64) -> Self {
        Self(Noise::new(seed))
    }

    /// A number below `end`, which is not 0.
    pub(super) fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.0.bits() % end as u64).expect("below a usize")
    }

    /// One element, at random.
    pub(super) fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())]
    }

    /// True once in `times` on average.
    pub(super) fn once_in(&mut self, times: usize) -> bool {
        self.below(times) == 0
    }
}
