//! The stereo power matrix: power and in-phase cross power of two channels, and every stereo reading of it.

use serde::{Deserialize, Serialize};
use std::ops::{Add, AddAssign, Mul};

/// The stereo power matrix of two channels over some bins and some time: the real part of their cross spectral matrix.
///
/// `ll` and `rr` are mean squares of sample values (full scale 1.0, so a full-scale sine has 0.5), `re` the real part
/// of the cross power L·R*. Every stereo reading except coherence and out of step is a function of this matrix alone;
/// matrices of several bins or times add up.
///
/// ```
/// use plumbline_measure::StereoPower;
///
/// // Two unrelated channels, the right 6.02 dB below the left.
/// let power = StereoPower { ll: 0.4, rr: 0.1, re: 0.0 };
/// assert_eq!((power.side_share(), power.correlation()), (Some(0.5), Some(0.0)));
/// assert!(power.balance_db().is_some_and(|db| (db + 6.02).abs() < 0.01));
/// // Mono halves unrelated channels, and loses nothing if they are equal.
/// assert!(power.mono_loss_db().is_some_and(|db| (db + 3.01).abs() < 0.01));
/// assert_eq!(StereoPower { ll: 0.4, rr: 0.4, re: 0.4 }.mono_loss_db(), Some(0.0));
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StereoPower {
    /// Mean square of the left channel.
    pub ll: f64,
    /// Mean square of the right channel.
    pub rr: f64,
    /// Real part of the cross power: the mean of L·R.
    pub re: f64,
}

impl StereoPower {
    /// Sum of both channels' mean squares.
    pub fn total(&self) -> f64 {
        self.ll + self.rr
    }

    /// Mean square of mid, M = (L+R)/2.
    pub fn mid(&self) -> f64 {
        ((self.ll + self.rr + 2.0 * self.re) / 4.0).max(0.0)
    }

    /// Mean square of side, S = (L−R)/2.
    pub fn side(&self) -> f64 {
        ((self.ll + self.rr - 2.0 * self.re) / 4.0).max(0.0)
    }

    /// Level in dBFS: mean of both channels against a full-scale sine (AES17), so 10·lg(ll + rr). −∞ when empty.
    pub fn level_dbfs(&self) -> f64 {
        power_db(self.total())
    }

    /// Side share S/(M+S), 0…1: 0 mono, 0.5 unrelated, 1 all side. `None` when empty.
    pub fn side_share(&self) -> Option<f64> {
        let total = self.mid() + self.side();
        (total > 0.0).then(|| self.side() / total)
    }

    /// Correlation Re Slr/√(Sll·Srr), −1…+1. `None` if one channel is empty, since it is undefined then.
    pub fn correlation(&self) -> Option<f64> {
        let scale = self.ll.sqrt() * self.rr.sqrt();
        (scale > 0.0).then(|| (self.re / scale).clamp(-1.0, 1.0))
    }

    /// Balance 10·lg(Srr/Sll) in dB, right positive. `None` if either channel is empty.
    pub fn balance_db(&self) -> Option<f64> {
        (self.ll > 0.0 && self.rr > 0.0).then(|| power_db(self.rr / self.ll))
    }

    /// Mono loss 10·lg((Sll+Srr+2Re Slr)/(2(Sll+Srr))) in dB: 0 identical, −3.01 unrelated, −∞ opposed.
    /// `None` when empty.
    pub fn mono_loss_db(&self) -> Option<f64> {
        let total = self.total();
        (total > 0.0).then(|| power_db((2.0 * self.mid() / total).min(1.0)))
    }
}

/// 10·lg of a power ratio. −∞ for 0.
pub fn power_db(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}

/// The power ratio of a level in dB.
pub fn db_power(db: f64) -> f64 {
    10.0_f64.powf(db / 10.0)
}

impl Add for StereoPower {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { ll: self.ll + other.ll, rr: self.rr + other.rr, re: self.re + other.re }
    }
}

impl AddAssign for StereoPower {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Mul<f64> for StereoPower {
    type Output = Self;
    fn mul(self, gain: f64) -> Self {
        Self { ll: self.ll * gain, rr: self.rr * gain, re: self.re * gain }
    }
}

impl std::iter::Sum for StereoPower {
    fn sum<I: Iterator<Item = Self>>(items: I) -> Self {
        items.fold(Self::default(), Add::add)
    }
}

/// [`StereoPower`] as it is kept in the history: single precision.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Stored {
    /// Mean square of the left channel.
    pub ll: f32,
    /// Mean square of the right channel.
    pub rr: f32,
    /// Real part of the cross power.
    pub re: f32,
}

#[expect(clippy::cast_possible_truncation, reason = "storage in single precision is the purpose")]
impl From<StereoPower> for Stored {
    fn from(c: StereoPower) -> Self {
        Self { ll: c.ll as f32, rr: c.rr as f32, re: c.re as f32 }
    }
}

impl From<Stored> for StereoPower {
    fn from(s: Stored) -> Self {
        Self { ll: f64::from(s.ll), rr: f64::from(s.rr), re: f64::from(s.re) }
    }
}
