//! Coherence and out of step: per bin of the longest window, averaged over 2 s, bias removed, then weighted over the
//! bins of a third or band.
//!
//! Out of step is coherence·(1 − r²), where r is Re ΣSlr over its value without any phase difference, Σ√(Sll·Srr)·√γ².
//! Levels do not enter: a pan reads 0.
//!
//! A mere delay destroys the coherence of a whole band or of a short window; per bin of the long window, coherence
//! holds up to tens of milliseconds. `docs/measures.md` has the numbers.

use crate::bands::{BinSpan, THIRDS};
use crate::cross::StereoPower;
use crate::effective_averages::EffectiveAverages;
use crate::filter_bank::FilterBank;
use crate::glance::SPANS;
use crate::powers::Powers;
use crate::reading::{Coherent, Gate, Maybe};
use std::collections::VecDeque;

/// Seconds that coherence is averaged over.
pub(crate) const COHERENCE_SECS: f64 = 2.0;

/// Powers of one long frame, bin by bin, in single precision.
#[derive(Clone)]
struct Kept {
    ll: Vec<f32>,
    rr: Vec<f32>,
    re: Vec<f32>,
    im: Vec<f32>,
}

impl Kept {
    fn zero(bins: usize) -> Self {
        Self { ll: vec![0.0; bins], rr: vec![0.0; bins], re: vec![0.0; bins], im: vec![0.0; bins] }
    }

    fn set(&mut self, bins: &Powers) {
        let Powers { ll, rr, re, im } = bins;
        let rows = [(&mut self.ll, ll), (&mut self.rr, rr), (&mut self.re, re), (&mut self.im, im)];
        for (kept, row) in rows {
            for (slot, value) in kept.iter_mut().zip(row) {
                #[expect(
                    clippy::cast_possible_truncation,
                    reason = "storage in single precision is the purpose"
                )]
                let single = *value as f32;
                *slot = single;
            }
        }
    }

    fn add(&mut self, other: &Self) {
        let pairs = [
            (&mut self.ll, &other.ll),
            (&mut self.rr, &other.rr),
            (&mut self.re, &other.re),
            (&mut self.im, &other.im),
        ];
        for (sum, more) in pairs {
            for (s, m) in sum.iter_mut().zip(more) {
                *s += m;
            }
        }
    }

    fn clear(&mut self) {
        for part in [&mut self.ll, &mut self.rr, &mut self.re, &mut self.im] {
            part.fill(0.0);
        }
    }
}

/// The sums of all bins over the 2 s.
struct Summed {
    ll: Vec<f32>,
    rr: Vec<f32>,
    re: Vec<f32>,
    /// √(Sll·Srr), the weight of a bin.
    weight: Vec<f32>,
    /// Raw coherence times weight.
    weighted: Vec<f32>,
    /// √γ² times weight, γ² without bias: the in-phase cross power of the bin if there were no phase difference.
    in_phase: Vec<f32>,
}

/// The part of the common sound that adds up: r², 0…1. `re` is the sum of Re Slr over some bins, `in_phase` the same
/// without any phase difference.
fn in_step(re: f64, in_phase: f64) -> f64 {
    let r = if in_phase > 0.0 { (re / in_phase).clamp(0.0, 1.0) } else { 0.0 };
    r * r
}

/// The newest value of one span, and its energy.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Newest {
    pub(crate) value: Coherent,
    /// Mean of ll + rr over the 2 s; 0 where there are no two channels to compare.
    pub(crate) energy: f64,
}

/// The sliding 2 s average. Nothing is ever subtracted, so rounding does not build up and |Slr|² stays within Sll·Srr:
/// each older frame holds the sum of itself and all later older frames, and the newer frames have one sum.
pub(crate) struct Coherence {
    windows: usize,
    /// Sums over the older frames: the first over all of them, the next without the oldest, and so on.
    older: VecDeque<Kept>,
    /// The newer frames, each alone, oldest first.
    newer: VecDeque<Kept>,
    newer_sum: Kept,
    spare: Vec<Kept>,
    summed: Summed,
    newest: Vec<Newest>,
    /// Effective number of averages in the 2 s.
    pub(crate) effective: EffectiveAverages,
}

impl Coherence {
    /// The average of the bank's thirds and bands over 2 s, `windows` frames of `bins` bins of the long window.
    pub(crate) fn new(bank: &FilterBank, bins: usize, windows: usize) -> Self {
        let zero = || vec![0.0; bins];
        let windows = windows.max(4);
        Self {
            windows,
            older: VecDeque::new(),
            newer: VecDeque::new(),
            newer_sum: Kept::zero(bins),
            spare: Vec::new(),
            summed: Summed {
                ll: zero(),
                rr: zero(),
                re: zero(),
                weight: zero(),
                weighted: zero(),
                in_phase: zero(),
            },
            newest: vec![Newest::default(); SPANS],
            effective: EffectiveAverages::new(bank, windows),
        }
    }

    /// Forgets all frames.
    pub(crate) fn clear(&mut self) {
        self.spare.extend(self.older.drain(..));
        self.spare.extend(self.newer.drain(..));
        self.newer_sum.clear();
        self.newest.fill(Newest::default());
        self.effective.clear();
    }

    /// Takes the matrices of one long frame (bins of `spans` are counted from `first_bin`) and computes the newest
    /// values for all spans.
    pub(crate) fn push(&mut self, bins: &Powers, first_bin: usize, spans: &[BinSpan]) {
        let mut frame = self.spare.pop().unwrap_or_else(|| Kept::zero(bins.len()));
        frame.set(bins);
        self.newer_sum.add(&frame);
        self.effective
            .push_long(|third| [&frame.ll, &frame.rr].map(|channel| spans[third].weigh(channel, first_bin)));
        self.newer.push_back(frame);
        if self.older.len() + self.newer.len() > self.windows {
            if self.older.is_empty() {
                self.turn();
            }
            self.spare.extend(self.older.pop_front());
        }
        if self.older.len() + self.newer.len() < self.windows {
            return;
        }
        self.add_up();
        self.average(first_bin, spans);
    }

    /// Turns the newer frames into older ones: each becomes the sum of itself and all after it.
    fn turn(&mut self) {
        while let Some(mut frame) = self.newer.pop_back() {
            if let Some(after) = self.older.front() {
                frame.add(after);
            }
            self.older.push_front(frame);
        }
        self.newer_sum.clear();
    }

    /// Adds up both halves of the window, bin by bin.
    fn add_up(&mut self) {
        let newer = &self.newer_sum;
        let older = self.older.front();
        let to = &mut self.summed;
        let bins = to.ll.len();
        let sum = |to: &mut [f32], newer: &[f32], older: Option<&Vec<f32>>| match older {
            Some(older) => {
                for ((t, n), o) in to.iter_mut().zip(newer).zip(older) {
                    *t = n + o;
                }
            }
            None => to.copy_from_slice(newer),
        };
        sum(&mut to.ll, &newer.ll, older.map(|o| &o.ll));
        sum(&mut to.rr, &newer.rr, older.map(|o| &o.rr));
        sum(&mut to.re, &newer.re, older.map(|o| &o.re));
        sum(&mut to.weighted, &newer.im, older.map(|o| &o.im));
        let (ll, rr, re) = (&to.ll[..bins], &to.rr[..bins], &to.re[..bins]);
        let (weight, weighted) = (&mut to.weight[..bins], &mut to.weighted[..bins]);
        for bin in 0..bins {
            let scale = (ll[bin] * rr[bin]).sqrt();
            let im = weighted[bin];
            let shared = (re[bin] * re[bin] + im * im) / scale.max(f32::MIN_POSITIVE);
            weight[bin] = scale;
            weighted[bin] = shared.min(scale);
        }
    }

    fn average(&mut self, first_bin: usize, spans: &[BinSpan]) {
        let per_window = 1.0 / self.windows as f64;
        let summed = &self.summed;
        let over = |span: &BinSpan| {
            let sum = |values: &[f32]| span.weigh(values, first_bin);
            let (ll, rr, re) = (sum(&summed.ll), sum(&summed.rr), sum(&summed.re));
            (StereoPower { ll, rr, re } * per_window, sum(&summed.weight), sum(&summed.weighted))
        };
        let mut loudest = 0.0_f64;
        let mut sums = [(StereoPower::default(), 0.0, 0.0); SPANS];
        for (slot, span) in sums.iter_mut().zip(spans) {
            *slot = over(span);
            loudest = loudest.max(slot.0.total());
        }
        let gate = Gate::bands(loudest);
        self.effective.judge(|third| {
            let squares = spans[third].weigh_squares(&summed.weight, first_bin);
            if squares > 0.0 { sums[third].1.powi(2) / squares } else { 0.0 }
        });
        self.take_in_phase(first_bin, spans);
        let (effective, summed) = (&self.effective, &self.summed);
        for (span, (newest, (power, weight, weighted))) in self.newest.iter_mut().zip(&sums).enumerate() {
            let correlation = power.correlation().filter(|_| gate.both_open(power) && *weight > 0.0);
            newest.energy = if correlation.is_some() { power.total() } else { 0.0 };
            newest.value = match (correlation, effective.bias(span, |third| sums[third].1)) {
                (Some(_), Some(bias)) => {
                    let coherence = ((weighted / weight - bias) / (1.0 - bias)).clamp(0.0, 1.0);
                    let in_phase = spans[span].weigh(&summed.in_phase, first_bin);
                    let in_step = in_step(power.re / per_window, in_phase);
                    Coherent {
                        coherence: Maybe::new(Some(coherence)),
                        out_of_step: Maybe::new(Some(coherence * (1.0 - in_step))),
                    }
                }
                _ => Coherent::default(),
            };
        }
    }

    /// Computes √γ² times weight of each bin, with the bias of its third removed.
    fn take_in_phase(&mut self, first_bin: usize, spans: &[BinSpan]) {
        let Summed { weight, weighted, in_phase, .. } = &mut self.summed;
        in_phase.fill(0.0);
        for (third, span) in spans.iter().enumerate().take(THIRDS) {
            #[expect(clippy::cast_possible_truncation, reason = "0 to 1")]
            let bias = self.effective.bias_of_third(third) as f32;
            // One average says nothing.
            if bias >= 1.0 {
                continue;
            }
            let scale = 1.0 / (1.0 - bias);
            let end = span.end().saturating_sub(first_bin).min(weight.len());
            let bins = span.first.saturating_sub(first_bin).min(end)..end;
            let (weight, weighted) = (&weight[bins.clone()], &weighted[bins.clone()]);
            for ((to, w), common) in in_phase[bins].iter_mut().zip(weight).zip(weighted) {
                *to = (w * (common - bias * w).max(0.0) * scale).sqrt();
            }
        }
    }

    /// The newest values, one a span; absent until 2 s have been heard.
    pub(crate) fn newest(&self) -> &[Newest] {
        &self.newest
    }
}
