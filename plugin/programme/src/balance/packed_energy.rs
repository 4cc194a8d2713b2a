//! An energy in sixteen bits: exact enough for shares of thirds, in half the memory.

use plumbline_measure::cross::power_db;
use std::sync::LazyLock;

/// Largest mean square accepted, +300 dB: far above anything measured. A larger or negative value is damage and
/// counts as silence.
pub(super) const LARGEST_ENERGY: f64 = 1e30;

/// A mean square, stored as sign, exponent and the seven leading mantissa bits of an `f32`.
///
/// # Accuracy
/// Rounded to nearest, ties to even: error at most 2⁻⁸ of the value, 0.4 % or 0.017 dB. Values under 1.2e-38 become
/// 0.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Packed(u16);

/// Stored bits of the mantissa.
const MANTISSA: u32 = 7;

impl Packed {
    /// Packs a mean square. A negative, non-finite or too large value becomes 0.
    pub(super) fn new(value: f64) -> Self {
        if !(f64::from(f32::MIN_POSITIVE)..=LARGEST_ENERGY).contains(&value) {
            return Self(0);
        }
        #[expect(clippy::cast_possible_truncation, reason = "storage in fewer bits is the purpose")]
        let bits = (value as f32).to_bits();
        let half = 0x7FFF + (bits >> 16 & 1);
        let upper = ((bits + half) >> 16) as u16;
        Self(upper)
    }

    /// The mean square.
    pub(super) fn get(self) -> f32 {
        f32::from_bits(u32::from(self.0) << 16)
    }

    /// 10·lg of the mean square, dB; `None` for 0.
    pub(super) fn db(self) -> Option<f64> {
        static MANTISSA_DB: LazyLock<[f64; 1 << MANTISSA]> =
            LazyLock::new(|| std::array::from_fn(|m| power_db(1.0 + m as f64 / f64::from(1 << MANTISSA))));
        let exponent = i32::from(self.0 >> MANTISSA) - 127;
        let mantissa = usize::from(self.0 & ((1 << MANTISSA) - 1));
        (self.0 != 0).then(|| f64::from(exponent) * DB_PER_DOUBLING + MANTISSA_DB[mantissa])
    }
}

/// 10·lg 2.
const DB_PER_DOUBLING: f64 = 10.0 * std::f64::consts::LOG10_2;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn is_off_by_at_most_one_in_256_and_reads_its_level() {
        let (mut cases, mut worst) = (0, 0.0_f64);
        let mut value = 1e-37;
        while value < 1e29 {
            let packed = Packed::new(value);
            let off = f64::from(packed.get()) / value - 1.0;
            worst = worst.max(off.abs());
            let level = packed.db().expect("above the least");
            assert!((level - power_db(f64::from(packed.get()))).abs() < 1e-9, "{value}");
            value *= 1.003_7;
            cases += 1;
        }
        assert!(worst <= 1.0 / 256.0 && worst > 1.0 / 300.0, "{worst}");
        assert!(cases > 40_000);
    }

    #[test]
    fn damage_is_silence() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 0.0, 1e-39, 1e31, f64::MAX] {
            assert_eq!(Packed::new(bad), Packed::default(), "{bad}");
            assert_eq!(Packed::new(bad).db(), None);
        }
        assert!(Packed::new(LARGEST_ENERGY).get().is_finite());
    }
}
