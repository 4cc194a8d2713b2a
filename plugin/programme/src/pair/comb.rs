//! The comb that two copies of one sound make when they are blended.

use super::window::Polarity;
use plumbline_measure::cross::{db_power, power_db};
use serde::{Deserialize, Serialize};

/// Two copies of one sound, added: |H|² = 1 + g² ± 2g·cos ωτ over the louder copy alone.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Comb {
    /// Time between the copies in seconds, not negative.
    pub delay_secs: f64,
    /// The quieter copy's amplitude over the louder one's, 0…1.
    pub gain: f64,
    /// Polarity of one copy to the other.
    pub polarity: Polarity,
}

impl Comb {
    /// From the delay (of either sign), the level of the second over the first in dB (of either sign), and the
    /// polarity.
    pub fn new(delay_secs: f64, level_db: f64, polarity: Polarity) -> Self {
        Self { delay_secs: delay_secs.abs(), gain: db_power(-level_db.abs()).sqrt(), polarity }
    }

    /// Gain of the sum over the louder copy alone at a frequency, in dB. −∞ in a notch of two equal copies.
    pub fn gain_db(&self, hz: f64) -> f64 {
        let cos = (std::f64::consts::TAU * hz * self.delay_secs).cos();
        power_db((1.0 + self.gain * (self.gain + 2.0 * self.polarity.sign() * cos)).max(0.0))
    }

    /// How far the peaks rise over the louder copy alone, dB: 20·lg(1 + g).
    pub fn peak_db(&self) -> f64 {
        20.0 * (1.0 + self.gain).log10()
    }

    /// How deep the notches are against the louder copy alone, dB: 20·lg(1 − g), −∞ for equal copies.
    pub fn notch_db(&self) -> f64 {
        20.0 * (1.0 - self.gain).log10()
    }

    /// From notch to peak, dB; ∞ for equal copies.
    pub fn ripple_db(&self) -> f64 {
        self.peak_db() - self.notch_db()
    }

    /// Gain of the powers alone, as if the copies were unrelated, dB: 10·lg(1 + g²). It is also the mean over
    /// frequency.
    pub fn power_sum_db(&self) -> f64 {
        power_db(1.0 + self.gain * self.gain)
    }

    /// Frequencies of the notches up to `highest_hz`, lowest first: (2k + 1)/(2τ), or k/τ from 0 Hz on when the
    /// polarity is inverted. Without a delay there is no comb: none.
    pub fn notches_hz(&self, highest_hz: f64) -> impl Iterator<Item = f64> {
        let first = match self.polarity {
            Polarity::Same => 0.5,
            Polarity::Inverted => 0.0,
        };
        self.series(first, highest_hz)
    }

    /// Frequencies of the peaks up to `highest_hz`, lowest first.
    pub fn peaks_hz(&self, highest_hz: f64) -> impl Iterator<Item = f64> {
        let first = match self.polarity {
            Polarity::Same => 0.0,
            Polarity::Inverted => 0.5,
        };
        self.series(first, highest_hz)
    }

    /// Distance from notch to notch in Hz: 1/τ. Absent without a delay.
    pub fn spacing_hz(&self) -> Option<f64> {
        (self.delay_secs > 0.0 && self.delay_secs.is_finite()).then(|| self.delay_secs.recip())
    }

    fn series(&self, first: f64, highest_hz: f64) -> impl Iterator<Item = f64> {
        let spacing = self.spacing_hz();
        (0_u32..)
            .map_while(move |k| spacing.map(|s| (f64::from(k) + first) * s))
            .take_while(move |hz| *hz <= highest_hz)
    }
}
