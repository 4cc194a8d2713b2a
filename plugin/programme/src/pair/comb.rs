//! The comb filtering of two copies of one sound when they are mixed.

use super::window::Polarity;
use plumbline_measure::cross::{db_power, power_db};
use serde::{Deserialize, Serialize};

/// The sum of two copies of one sound, relative to the louder one: |H|² = 1 + g² ± 2g·cos ωτ.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Comb {
    /// Delay between the copies in seconds, not negative.
    pub delay_secs: f64,
    /// Amplitude of the quieter copy relative to the louder one, 0…1.
    pub gain: f64,
    /// Polarity of the copies relative to each other.
    pub polarity: Polarity,
}

impl Comb {
    /// The comb for a delay in seconds (of either sign), the level of the second copy relative to the first in dB (of
    /// either sign), and the polarity.
    pub fn new(delay_secs: f64, level_db: f64, polarity: Polarity) -> Self {
        Self { delay_secs: delay_secs.abs(), gain: db_power(-level_db.abs()).sqrt(), polarity }
    }

    /// Gain of the sum relative to the louder copy at a frequency, dB; −∞ in a notch of two equal copies.
    pub fn gain_db(&self, hz: f64) -> f64 {
        let cos = (std::f64::consts::TAU * hz * self.delay_secs).cos();
        power_db((1.0 + self.gain * (self.gain + 2.0 * self.polarity.sign() * cos)).max(0.0))
    }

    /// Height of the peaks relative to the louder copy, dB: 20·lg(1 + g).
    pub fn peak_db(&self) -> f64 {
        20.0 * (1.0 + self.gain).log10()
    }

    /// Depth of the notches relative to the louder copy, dB: 20·lg(1 − g); −∞ for equal copies.
    pub fn notch_db(&self) -> f64 {
        20.0 * (1.0 - self.gain).log10()
    }

    /// From notch to peak, dB; ∞ for equal copies.
    pub fn ripple_db(&self) -> f64 {
        self.peak_db() - self.notch_db()
    }

    /// Gain of the power sum, as for unrelated copies, dB: 10·lg(1 + g²). Also the mean over frequency.
    pub fn power_sum_db(&self) -> f64 {
        power_db(1.0 + self.gain * self.gain)
    }

    /// Frequencies of the notches up to `highest_hz`, ascending: (2k + 1)/(2τ), or k/τ from 0 Hz for inverted
    /// polarity. None without a delay.
    pub fn notches_hz(&self, highest_hz: f64) -> impl Iterator<Item = f64> {
        let first = match self.polarity {
            Polarity::Same => 0.5,
            Polarity::Inverted => 0.0,
        };
        self.series(first, highest_hz)
    }

    /// Frequencies of the peaks up to `highest_hz`, ascending. None without a delay.
    pub fn peaks_hz(&self, highest_hz: f64) -> impl Iterator<Item = f64> {
        let first = match self.polarity {
            Polarity::Same => 0.0,
            Polarity::Inverted => 0.5,
        };
        self.series(first, highest_hz)
    }

    /// Distance between notches in Hz: 1/τ. `None` without a delay.
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
