//! Onsets, the moments at which a sound begins, from the spectral flux of the shortest window.

use crate::powers::Powers;
use crate::rate::SampleRate;
use std::collections::VecDeque;

/// δ in the threshold of Bello et al.: flux below this is not an onset, however quiet the surroundings. In the unit of
/// [`Onsets::push`]; a click of one sample at −86 dBFS reaches it, dither and the rounding of a steady tone do not (no
/// source).
const LEAST_FLUX: f32 = 5e-5;
/// Least share of the present sound that an onset adds, so that a wavering tone is not an onset (no source).
const LEAST_SHARE: f32 = 0.05;
/// λ: the factor of the median of the surroundings. With δ, it is above the highest flux of steady noise in an hour,
/// and below that of a step of 6 dB in it (no source).
const TIMES_MEDIAN: f32 = 1.6;
/// M: seconds on either side over which the median is taken.
const MEDIAN_SECS: f64 = 0.05;
/// Least distance between two onsets, seconds; of closer ones only the stronger counts (Böck, Krebs, Schedl, ISMIR
/// 2012, from memory).
const LEAST_DISTANCE_SECS: f64 = 0.03;
/// Added to each power, so that silence does not produce denormals, whose roots are slow.
const POWER_FLOOR: f64 = 1e-30;

/// The flux of one frame.
#[derive(Clone, Copy)]
struct Flux {
    /// The sample in the middle of the frame.
    centre: i64,
    flux: f32,
    /// The part of its threshold that does not depend on the median.
    floor: f32,
}

/// An onset: the middle of the frame with the highest flux, and the ratio of that flux to its threshold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Found {
    pub(crate) centre: i64,
    pub(crate) strength: f32,
}

/// Finds onsets in one stretch of contiguous frames.
///
/// # Definition
/// Spectral flux SF(n) = Σ H(|X(n)| − |X(n−1)|) with H(x) = (x+|x|)/2 (L1, half-wave rectified: Dixon, DAFx-06, from
/// memory), |X| the root of both channels' power. Threshold δ + λ·median(SF(n−M)…SF(n+M)) (Bello et al., IEEE Trans.
/// SAP 13(5), 2005 §IV, from memory); a part of δ grows with the present sound. An onset is over its threshold, and the
/// highest within 30 ms. The first frame of a stretch has no flux, so a jump of the transport is not an onset.
pub(crate) struct Onsets {
    /// Magnitudes of the latest frame; valid once `started`.
    previous: Vec<f32>,
    started: bool,
    /// The newest frames, at most 2M+1.
    frames: VecDeque<Flux>,
    /// Their fluxes, ascending.
    sorted: Vec<f32>,
    /// Frames at the end that are still undecided.
    undecided: usize,
    /// M in frames.
    reach: usize,
    /// Frames on either side among which an onset must be the highest.
    apart: usize,
}

impl Onsets {
    pub(crate) fn new(rate: SampleRate, bins: usize, hop: usize) -> Self {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "about ten frames")]
        let frames = |secs: f64| (secs * rate.as_f64() / hop as f64).ceil() as usize;
        let reach = frames(MEDIAN_SECS);
        Self {
            previous: vec![0.0; bins],
            started: false,
            frames: VecDeque::with_capacity(2 * reach + 2),
            sorted: Vec::with_capacity(2 * reach + 2),
            undecided: 0,
            reach,
            apart: frames(LEAST_DISTANCE_SECS) - 1,
        }
    }

    /// Takes the next frame, whose middle is sample `centre`; decides the frame M before it.
    pub(crate) fn push(&mut self, centre: i64, bins: &Powers) -> Option<Found> {
        let (flux, sum) = rise(&mut self.previous, bins);
        if !self.started {
            self.started = true;
            return None;
        }
        if self.frames.len() > 2 * self.reach
            && let Some(oldest) = self.frames.pop_front()
        {
            let at = self.sorted.partition_point(|f| *f < oldest.flux);
            self.sorted.remove(at);
        }
        self.frames.push_back(Flux { centre, flux, floor: LEAST_FLUX + LEAST_SHARE * sum });
        self.sorted.insert(self.sorted.partition_point(|f| *f < flux), flux);
        self.undecided += 1;
        if self.undecided <= self.reach {
            return None;
        }
        let at = self.frames.len() - self.undecided;
        self.undecided -= 1;
        self.decide(at, self.sorted[self.sorted.len() / 2])
    }

    /// Decides the next frame of a stretch that has ended; to be called until [`Onsets::is_decided`].
    pub(crate) fn finish_one(&mut self) -> Option<Found> {
        let at = self.frames.len() - self.undecided;
        self.undecided = self.undecided.saturating_sub(1);
        self.sorted.clear();
        self.sorted.extend(self.frames.range(at.saturating_sub(self.reach)..).map(|f| f.flux));
        self.sorted.sort_unstable_by(f32::total_cmp);
        let median = self.sorted.get(self.sorted.len() / 2).copied()?;
        self.decide(at, median)
    }

    /// Whether every frame is decided.
    pub(crate) fn is_decided(&self) -> bool {
        self.undecided == 0
    }

    /// Starts a new stretch.
    pub(crate) fn clear(&mut self) {
        self.started = false;
        self.frames.clear();
        self.sorted.clear();
        self.undecided = 0;
    }

    fn decide(&self, at: usize, median: f32) -> Option<Found> {
        let Flux { centre, flux, floor } = *self.frames.get(at)?;
        let threshold = floor + TIMES_MEDIAN * median;
        if flux <= threshold {
            return None;
        }
        let before = self.frames.range(at.saturating_sub(self.apart)..at);
        let after = self.frames.range(at + 1..(at + 1 + self.apart).min(self.frames.len()));
        let highest = before.clone().all(|f| f.flux < flux) && after.clone().all(|f| f.flux <= flux);
        highest.then_some(Found { centre, strength: flux / threshold })
    }
}

/// The sum of the rises of the bins' magnitudes, and the sum of the magnitudes, which replace the previous ones. Eight
/// lanes are quick and fix the order of summation.
fn rise(previous: &mut [f32], bins: &Powers) -> (f32, f32) {
    const LANES: usize = 8;
    let (mut rises, mut sums) = ([0.0_f32; LANES], [0.0_f32; LANES]);
    let mut step = |previous: &mut [f32], ll: &[f64], rr: &[f64]| {
        let powers = ll.iter().zip(rr);
        for (((old, (ll, rr)), rise), sum) in previous.iter_mut().zip(powers).zip(&mut rises).zip(&mut sums) {
            #[expect(
                clippy::cast_possible_truncation,
                reason = "single precision is enough for a difference of frames"
            )]
            let new = ((ll + rr + POWER_FLOOR) as f32).sqrt();
            *rise += (new - *old).max(0.0);
            *sum += new;
            *old = new;
        }
    };
    let whole = previous.len().min(bins.len()) / LANES * LANES;
    let (first, rest) = previous.split_at_mut(whole);
    let powers = bins.ll.chunks_exact(LANES).zip(bins.rr.chunks_exact(LANES));
    for (previous, (ll, rr)) in first.chunks_exact_mut(LANES).zip(powers) {
        step(previous, ll, rr);
    }
    step(rest, &bins.ll[whole..], &bins.rr[whole..]);
    (rises.iter().sum(), sums.iter().sum())
}
