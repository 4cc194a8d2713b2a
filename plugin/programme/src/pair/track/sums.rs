//! The thirds of a pair, averaged over a few seconds.

use super::super::window::Window;
use plumbline_measure::bands::THIRDS;
use plumbline_measure::cross::{db_power, power_db};
use plumbline_measure::loudness::third_weights;
use plumbline_measure::reading::Maybe;
use serde::{Deserialize, Serialize};

/// Factor by which the weight of a window falls with each later one: to 1/e in 5 s at four windows per second.
const KEPT: f64 = 0.951_229_424_500_714;

/// Range under the loudest third, in dB, in which a third counts: anything lower is inaudible.
pub(in super::super) const COUNTED_DB: f64 = 30.0;

/// The readings of one third of a pair.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ThirdReading {
    /// Level of the power sum of both under that of the loudest third, dB, 0 or less.
    pub under_loudest_db: Maybe,
    /// Coherence, 0…1, at the delay found.
    pub coherence: Maybe,
    /// Level of the second relative to the first, dB.
    pub level_db: Maybe,
    /// Gain of the blend (both added as they are) when the delay is removed and the polarity corrected, dB.
    pub gain_db: Maybe,
}

/// The sums of one third. Each window counts equally however loud it was, so a single loud event weighs no more than
/// any other window.
#[derive(Clone, Copy, Debug, Default)]
struct Sum {
    power: [f64; 2],
    /// Power of the blend, as it is and repaired, over the windows that agree on the delay.
    blend: [f64; 2],
    coherence: f64,
    coherence_weight: f64,
}

#[derive(Clone, Debug, Default)]
pub(super) struct Sums {
    thirds: [Sum; THIRDS],
    /// Weight of the windows that agree on the delay; in each of them the power of both counts as 1.
    agreed: f64,
}

impl Sums {
    /// Takes a window. `agrees` is whether its delay is that of the pair.
    pub(super) fn take(&mut self, window: &Window, agrees: bool) {
        let total: f64 = window.thirds.iter().map(|third| third.power[0] + third.power[1]).sum();
        // A window that was not compared says nothing about what the signals have in common.
        let compared = window.peak.is_some();
        if !compared || total <= 0.0 || !total.is_finite() {
            return;
        }
        self.agreed = self.agreed * KEPT + if agrees { 1.0 } else { 0.0 };
        for (sum, third) in self.thirds.iter_mut().zip(&window.thirds) {
            let power = third.power.map(|p| p / total);
            let blend =
                [third.before, third.after].map(|cross| (power[0] + power[1] + 2.0 * cross / total).max(0.0));
            for (to, more) in sum.power.iter_mut().zip(power) {
                *to = *to * KEPT + more;
            }
            for (to, more) in sum.blend.iter_mut().zip(blend) {
                *to = *to * KEPT + if agrees { more } else { 0.0 };
            }
            sum.coherence = sum.coherence * KEPT + third.coherence.unwrap_or(0.0);
            sum.coherence_weight =
                sum.coherence_weight * KEPT + if third.coherence.is_some() { 1.0 } else { 0.0 };
        }
    }

    fn loudest(&self) -> f64 {
        self.thirds.iter().map(|sum| sum.power[0] + sum.power[1]).fold(0.0, f64::max)
    }

    /// The thirds; they have gains only if a delay is `known`.
    pub(super) fn thirds(&self, known: bool) -> [ThirdReading; THIRDS] {
        let loudest = self.loudest();
        self.thirds.map(|sum| {
            let [first, second] = sum.power;
            if first + second <= loudest * 1e-10 || loudest <= 0.0 {
                return ThirdReading::default();
            }
            let gain = (known && sum.blend[0] > 0.0 && sum.blend[1] > 0.0)
                .then(|| power_db(sum.blend[1] / sum.blend[0]));
            ThirdReading {
                under_loudest_db: Maybe::new(Some(power_db((first + second) / loudest))),
                coherence: Maybe::new(
                    (sum.coherence_weight > 0.0).then(|| sum.coherence / sum.coherence_weight),
                ),
                level_db: Maybe::new((first > 0.0 && second > 0.0).then(|| power_db(second / first))),
                gain_db: Maybe::new(gain),
            }
        })
    }

    /// Mean coherence of the thirds that count.
    pub(super) fn coherence(&self) -> Option<f64> {
        let least = self.loudest() * db_power(-COUNTED_DB);
        let counts = |sum: &&Sum| sum.power[0] + sum.power[1] >= least && sum.coherence_weight > 0.0;
        let counted = self.thirds.iter().filter(counts);
        let (sum, count) =
            counted.fold((0.0, 0.0), |(s, n), t| (s + t.coherence / t.coherence_weight, n + 1.0));
        (count > 0.0).then(|| sum / count)
    }

    /// Power that the repair adds, as a part of the power of both, over the windows that agree.
    pub(super) fn won(&self) -> Option<f64> {
        let blend = |at: usize| self.thirds.iter().map(|third| third.blend[at]).sum::<f64>();
        (self.agreed > 0.0).then(|| ((blend(1) - blend(0)) / self.agreed).max(0.0))
    }

    /// Gain of the K-weighted sum of both by the repair, dB, over the windows that agree.
    pub(super) fn net_gain_db(&self) -> Option<f64> {
        let blend = |at: usize| -> f64 {
            self.thirds.iter().zip(third_weights()).map(|(third, weight)| third.blend[at] * weight).sum()
        };
        let (before, after) = (blend(0), blend(1));
        let least = 1e-12 * self.agreed;
        (self.agreed > 0.0).then(|| power_db(after.max(least) / before.max(least)))
    }

    pub(super) fn level_db(&self) -> Option<f64> {
        let sum = |side: usize| self.thirds.iter().map(|third| third.power[side]).sum::<f64>();
        let (first, second) = (sum(0), sum(1));
        (first > 0.0 && second > 0.0).then(|| power_db(second / first))
    }
}
