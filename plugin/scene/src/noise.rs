//! A small random generator with fixed seeds: the scene is the same on every run.

/// SplitMix64 (Steele, Lea, Flood, OOPSLA 2014): 64 bits of state, enough for a scene.
pub(crate) struct Chance(u64);

impl Chance {
    /// A generator for one sound. Each sound has its own number, so that changing one does not affect the others.
    pub(crate) fn of(sound: u64) -> Self {
        Self(0x0BE1_1704_E500_0000 ^ sound.wrapping_mul(0xD129_0A51_3B2F_6C45))
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform in 0…1, excluding 1.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform between two values.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Uniform in −1…1.
    pub(crate) fn white(&mut self) -> f64 {
        self.between(-1.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::Chance;

    #[test]
    fn chance_is_fair_and_the_same_on_every_run() {
        let draw = |sound| {
            let mut chance = Chance::of(sound);
            (0..20_000).map(|_| chance.unit()).collect::<Vec<_>>()
        };
        let first = draw(1);
        assert_eq!(first, draw(1));
        assert_ne!(first, draw(2));
        let mean = first.iter().sum::<f64>() / 20_000.0;
        // Four standard errors of a uniform mean: 4·0.2887/√20000.
        assert!((mean - 0.5).abs() < 0.0082, "{mean}");
        assert!(first.iter().all(|u| (0.0..1.0).contains(u)));
    }
}
