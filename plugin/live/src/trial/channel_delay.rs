//! The delay and polarity of each channel, computed before they reach the audio thread.

use super::fractional_delay::{Kernel, REACH, TAPS, kernel};
use crate::stream_format::StreamFormat;
use plumbline_programme::Trial;

/// Distance in samples within which a delay counts as whole: a tenth of the kernel's tolerance, and 20 ns at 48 kHz.
const WHOLE: f64 = 1e-3;

/// The delay and polarity of one channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct ChannelDelay {
    /// Whether the polarity is inverted.
    pub(crate) flip: bool,
    /// Age in samples of the latest sample used.
    pub(crate) delay: u32,
    /// Weights of that sample and those before it; with `None` it is copied bit for bit.
    pub(crate) kernel: Option<Kernel>,
}

impl ChannelDelay {
    /// Output equals input.
    pub(crate) const WIRE: Self = Self { flip: false, delay: 0, kernel: None };

    /// Age in samples of the oldest sample used.
    pub(crate) fn lookback(&self) -> usize {
        self.delay as usize + if self.kernel.is_some() { TAPS - 1 } else { 0 }
    }

    /// A delay by `samples`: with a kernel if it is fractional and long enough for one, else rounded to whole samples.
    fn after(samples: f64, flip: bool) -> Self {
        let whole = samples.floor();
        let fits = whole >= REACH as f64;
        if is_whole(samples) || !fits {
            return Self { flip, delay: count(samples.round()), kernel: None };
        }
        let kernel = Some(kernel(samples - whole));
        // The kernel itself delays by `REACH` − 1 samples and the fraction.
        Self { flip, delay: count(whole - (REACH - 1) as f64), kernel }
    }
}

/// The delays and polarities of all channels of one opening: the plan of a trial.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct ChannelDelays {
    /// By channel; a mono bus uses the first.
    pub(crate) ways: [ChannelDelay; 2],
}

impl ChannelDelays {
    /// Output equals input.
    pub(crate) const WIRE: Self = Self { ways: [ChannelDelay::WIRE; 2] };

    /// The plan of a trial for an opening; [`Self::WIRE`] without a trial.
    pub(crate) fn of(trial: Option<Trial>, format: &StreamFormat) -> Self {
        let trial = in_force(trial, format).unwrap_or_default();
        let way = |c: usize| {
            let samples = trial.delay_secs[c] * f64::from(format.rate.hz());
            if c < usize::from(format.channels) {
                ChannelDelay::after(samples, trial.flip[c])
            } else {
                ChannelDelay::WIRE
            }
        };
        Self { ways: [way(0), way(1)] }
    }

    /// Whether output equals input.
    pub(crate) fn is_wire(&self) -> bool {
        self.ways.iter().all(|way| *way == ChannelDelay::WIRE)
    }

    /// Age in samples of the oldest sample used.
    pub(crate) fn lookback(&self) -> usize {
        self.ways.iter().map(ChannelDelay::lookback).max().unwrap_or(0)
    }
}

/// The trial; `None` in an offline render unless the trial is meant for renders.
fn in_force(trial: Option<Trial>, format: &StreamFormat) -> Option<Trial> {
    trial.map(Trial::sane).filter(|trial| !format.offline || trial.in_renders)
}

fn is_whole(samples: f64) -> bool {
    (samples - samples.round()).abs() <= WHOLE
}

/// Converts a whole, non-negative number of samples.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most 0.1 s at 384 kHz")]
fn count(samples: f64) -> u32 {
    samples as u32
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_measure::SampleRate;

    fn format(offline: bool) -> StreamFormat {
        StreamFormat { rate: SampleRate::new(48_000).unwrap(), channels: 2, side_channels: 0, offline }
    }

    fn delayed(left: f64, right: f64) -> Option<Trial> {
        Some(Trial { delay_secs: [left / 48_000.0, right / 48_000.0], ..Trial::default() })
    }

    #[test]
    fn a_short_fraction_is_rounded_and_a_longer_one_has_its_kernel() {
        let plan = ChannelDelays::of(delayed(10.4, 0.0), &format(false));
        assert_eq!(plan.ways, [ChannelDelay { delay: 10, ..ChannelDelay::WIRE }, ChannelDelay::WIRE]);
        let plan = ChannelDelays::of(delayed(31.6, 0.5), &format(false));
        assert_eq!(plan.ways.map(|way| (way.delay, way.kernel.is_some())), [(32, false), (1, false)]);
        let plan = ChannelDelays::of(delayed(32.5, 223.7), &format(false));
        assert_eq!(plan.ways.map(|way| (way.delay, way.kernel.is_some())), [(1, true), (192, true)]);
        assert_eq!(ChannelDelays::of(None, &format(false)), ChannelDelays::WIRE);
    }

    #[test]
    fn a_render_is_a_wire_unless_the_trial_is_meant_for_it() {
        let trial = Trial { flip: [true, false], ..delayed(100.0, 0.0).unwrap() };
        assert!(ChannelDelays::of(Some(trial), &format(true)).is_wire());
        let meant = Some(Trial { in_renders: true, ..trial });
        assert_eq!(ChannelDelays::of(meant, &format(true)), ChannelDelays::of(Some(trial), &format(false)));
        assert!(!ChannelDelays::of(meant, &format(true)).is_wire());
    }
}
