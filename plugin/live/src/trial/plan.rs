//! What is done to each channel, worked out beforehand.

use super::kernel::{Kernel, LATENCY, REACH, TAPS, kernel};
use crate::link::Lane;
use plumbline_measure::Trial;

/// A delay within this of whole samples is whole: a tenth of what the kernel is held to, and 20 ns at 48 kHz.
const WHOLE: f64 = 1e-3;

/// What is done to one channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Way {
    /// Whether it is turned upside down.
    pub(crate) flip: bool,
    /// How many samples ago the newest sample is that is used.
    pub(crate) delay: u32,
    /// Weights of that sample and those before it; without them it is copied bit for bit.
    pub(crate) kernel: Option<Kernel>,
}

impl Way {
    /// Out comes what goes in.
    pub(crate) const WIRE: Self = Self { flip: false, delay: 0, kernel: None };

    /// How many samples ago the oldest sample is that is used.
    pub(crate) fn lookback(&self) -> usize {
        self.delay as usize + if self.kernel.is_some() { TAPS - 1 } else { 0 }
    }

    /// Delays by `samples`, with a kernel where it needs one and is long enough for it, else by the nearest whole.
    fn after(samples: f64, flip: bool) -> Self {
        let whole = samples.floor();
        let fits = whole >= REACH as f64;
        if is_whole(samples) || !fits {
            return Self { flip, delay: count(samples.round()), kernel: None };
        }
        let kernel = Some(kernel(samples - whole));
        Self { flip, delay: count(whole) - (LATENCY - 1), kernel }
    }
}

/// What is done to the channels of one opening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Plan {
    /// By channel; a mono bus has the first.
    pub(crate) ways: [Way; 2],
}

impl Plan {
    /// Out comes what goes in.
    pub(crate) const WIRE: Self = Self { ways: [Way::WIRE; 2] };

    /// The plan of a trial, if any, for an opening with that much latency.
    pub(crate) fn of(trial: Option<Trial>, lane: &Lane, latency: u32) -> Self {
        let trial = in_force(trial, lane).unwrap_or_default();
        let way = |c: usize| {
            let samples = trial.delay_secs[c] * f64::from(lane.rate.hz());
            if c < usize::from(lane.channels) {
                Way::after(samples + f64::from(latency), trial.flip[c])
            } else {
                Way::WIRE
            }
        };
        Self { ways: [way(0), way(1)] }
    }

    /// Whether out comes what goes in, and nothing need be done.
    pub(crate) fn is_wire(&self) -> bool {
        self.ways.iter().all(|way| *way == Way::WIRE)
    }

    /// How many samples ago the oldest sample is that is used.
    pub(crate) fn lookback(&self) -> usize {
        self.ways.iter().map(Way::lookback).max().unwrap_or(0)
    }
}

/// Latency in samples that a trial wants of an opening: [`REACH`] where a channel has a fraction and is too short for
/// the kernel, else none.
pub(crate) fn latency(trial: Option<Trial>, lane: &Lane) -> u32 {
    let trial = in_force(trial, lane).unwrap_or_default();
    let wants = trial.delay_secs.iter().take(usize::from(lane.channels)).any(|secs| {
        let samples = secs * f64::from(lane.rate.hz());
        !is_whole(samples) && samples < REACH as f64
    });
    if wants { LATENCY } else { 0 }
}

/// The trial, unless this is an offline render that it is not meant for.
fn in_force(trial: Option<Trial>, lane: &Lane) -> Option<Trial> {
    trial.map(Trial::sane).filter(|trial| !lane.offline || trial.in_renders)
}

fn is_whole(samples: f64) -> bool {
    (samples - samples.round()).abs() <= WHOLE
}

/// A number of samples that is no fraction and not negative.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most 0.1 s at 384 kHz")]
fn count(samples: f64) -> u32 {
    samples as u32
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_measure::SampleRate;

    fn lane(offline: bool) -> Lane {
        Lane { rate: SampleRate::new(48_000).unwrap(), channels: 2, side_channels: 0, offline }
    }

    fn delayed(left: f64, right: f64) -> Option<Trial> {
        Some(Trial { delay_secs: [left / 48_000.0, right / 48_000.0], ..Trial::default() })
    }

    #[test]
    fn latency_is_wanted_for_short_fractions_alone() {
        let cases = [
            (None, 0),
            (delayed(0.0, 0.0), 0),
            (delayed(10.0, 3.0), 0),
            (delayed(0.0, 223.7), 0),
            (delayed(32.5, 223.7), 0),
            (delayed(0.0, 10.5), 32),
            (delayed(31.5, 0.0), 32),
            (delayed(223.7, 0.2), 32),
        ];
        for (trial, wanted) in cases {
            assert_eq!(latency(trial, &lane(false)), wanted, "{trial:?}");
            assert_eq!(latency(trial, &lane(true)), 0, "{trial:?} is not meant for renders");
        }
        let mono = Lane { channels: 1, ..lane(false) };
        assert_eq!(latency(delayed(100.0, 0.5), &mono), 0, "there is no right channel");
    }

    #[test]
    fn without_the_latency_a_short_fraction_is_rounded_and_with_it_all_channels_wait() {
        let plan = Plan::of(delayed(10.4, 0.0), &lane(false), 0);
        assert_eq!(plan.ways, [Way { delay: 10, ..Way::WIRE }, Way::WIRE]);
        let plan = Plan::of(delayed(10.4, 0.0), &lane(false), 32);
        assert_eq!((plan.ways[0].delay, plan.ways[0].kernel.is_some()), (42 - 31, true));
        assert_eq!(plan.ways[1], Way { delay: 32, ..Way::WIRE });
        // The trial ended and the host still counts on the latency.
        assert_eq!(Plan::of(None, &lane(false), 32).ways, [Way { delay: 32, ..Way::WIRE }; 2]);
    }

    #[test]
    fn a_render_is_a_wire_unless_the_trial_is_meant_for_it() {
        let trial = Trial { flip: [true, false], ..delayed(100.0, 0.0).unwrap() };
        assert!(Plan::of(Some(trial), &lane(true), 0).is_wire());
        let meant = Some(Trial { in_renders: true, ..trial });
        assert_eq!(Plan::of(meant, &lane(true), 0), Plan::of(Some(trial), &lane(false), 0));
        assert!(!Plan::of(meant, &lane(true), 0).is_wire());
    }
}
