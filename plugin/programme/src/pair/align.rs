//! The cross spectrum with a delay removed: bin by bin, then summed over cells. The delay then costs no coherence,
//! and what remains of it appears as a slope of phase.

use super::layout::Layout;
use super::spectrum::Both;
use super::third_weights::Weights;
use plumbline_measure::bands::THIRDS;
use plumbline_measure::loudness::third_weights;
use realfft::num_complex::Complex;
use serde::{Deserialize, Serialize};

/// Largest step of one refinement, in samples: further away is another cycle.
const LONGEST_STEP: f64 = 2.0;

/// Most refinements, and the step under which they end, in samples. The error after a step δ is of the order of δ³,
/// from the sine of a small angle.
const MOST_STEPS: usize = 5;
const SMALL_STEP: f64 = 0.05;

/// Sums over cells of the cross spectrum, with and without a delay removed.
pub(crate) struct Aligned {
    /// Without the delay removed, per third.
    pub(crate) before: [Complex<f64>; THIRDS],
    /// With the delay removed, per third.
    pub(crate) after: [Complex<f64>; THIRDS],
    cells: Vec<Complex<f32>>,
    /// Rotation by the delay of each bin of a cell relative to its first, for the longest cell and one bin more.
    turns: Vec<Complex<f64>>,
    single_turns: Vec<Complex<f32>>,
}

#[expect(clippy::cast_possible_truncation, reason = "a rotation")]
fn single(turn: Complex<f64>) -> Complex<f32> {
    Complex::new(turn.re as f32, turn.im as f32)
}

fn wide(sum: Complex<f32>) -> Complex<f64> {
    Complex::new(f64::from(sum.re), f64::from(sum.im))
}

/// Standard deviations from which a third is clearly in phase.
const IN_PHASE_SIGMAS: f64 = 3.5;

/// Part of the weighted energy that must be in phase, or opposed, to decide the polarity.
const DECIDED: f64 = 0.2;

/// Distance in seconds between the lag found and the lag that the phase from bin to bin gives, from which the former is
/// a fold of the search: folds are 400 ms apart.
const FOLD_SECS: f64 = 0.19;
/// Standard deviations of random phases from which a fold is not chance.
const FOLD_SIGMAS: f64 = 5.0;

/// K-weighted energy of the sum of two signals.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Blend {
    /// Of both signals, each alone.
    pub alone: f64,
    /// Of the sum as recorded.
    pub before: f64,
    /// Of the sum after the move.
    pub after: f64,
}

/// The result of the refinement.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Refined {
    /// Delay in samples.
    pub(crate) lag_samples: f64,
    /// Its standard deviation by the Cramér–Rao bound of the coherence found, samples.
    pub(crate) sigma_samples: f64,
}

impl Aligned {
    pub(crate) fn new() -> Self {
        let zero = [Complex::new(0.0, 0.0); THIRDS];
        Self { before: zero, after: zero, cells: Vec::new(), turns: Vec::new(), single_turns: Vec::new() }
    }

    /// Sums the cross spectrum without removing a delay.
    fn sum(&mut self, layout: &Layout, (a, b, cross): Both<'_>) {
        self.before = [Complex::new(0.0, 0.0); THIRDS];
        let scale = (a.scale * b.scale).sqrt();
        for cell in &layout.cells {
            let sum = cross[cell.first..cell.end].iter().fold(Complex::new(0.0, 0.0), |sum, bin| sum + bin);
            self.before[cell.third] += wide(sum) * scale;
        }
    }

    /// Removes a delay of `lag` samples from the cross spectrum; sets the coherence in `weights`.
    fn at(&mut self, layout: &Layout, (a, b, cross): Both<'_>, lag: f64, weights: &mut Weights) {
        self.after = [Complex::new(0.0, 0.0); THIRDS];
        self.cells.clear();
        weights.clear();
        let scale = (a.scale * b.scale).sqrt();
        self.turn_cells(layout, lag * (layout.turn(1.0) - layout.turn(0.0)));
        let mut turn = Complex::from_polar(1.0, lag * layout.turn(0.0));
        let mut bins = 0.0;
        for (i, cell) in layout.cells.iter().enumerate() {
            let zero = Complex::new(0.0_f32, 0.0);
            let mut after = zero;
            // Bins are rotated relative to the first bin of the cell, then the sum by the rotation of that bin.
            for (bin, turn) in cross[cell.first..cell.end].iter().zip(&self.single_turns) {
                after += bin * turn;
            }
            after *= single(turn);
            turn *= self.turns[cell.end - cell.first];
            self.after[cell.third] += wide(after) * scale;
            let energy = a.cells[i] * b.cells[i];
            let coherency = if a.open[i] && b.open[i] && energy >= f32::MIN_POSITIVE {
                let coherency = after / energy.sqrt();
                weights.count(cell.third, coherency.norm_sqr());
                bins += cell.bins;
                coherency
            } else {
                zero
            };
            self.cells.push(coherency);
        }
        let counted = layout.cells.len().max(1) as f64;
        let mean_bins = if bins > 0.0 { layout.bins() as f64 / counted } else { 1.0 };
        weights.settle(mean_bins / layout.bins_per_average);
    }

    /// Whether the polarity is inverted at the lag removed, by K-weighted energy; `None` if it does not decide.
    pub(crate) fn inverts(&self) -> Option<bool> {
        let (mut sum, mut all) = (0.0, 0.0);
        for (after, weight) in self.after.iter().zip(third_weights()) {
            sum += weight * after.re;
            all += weight * after.norm();
        }
        (sum.abs() >= DECIDED * all && all > 0.0).then_some(sum < 0.0)
    }

    /// Whether the sound is shared at a lag that the search cannot distinguish from `lag`: the phase then turns from
    /// one bin to the next.
    pub(crate) fn folds(
        &self,
        layout: &Layout,
        (a, b, cross): Both<'_>,
        lag: f64,
        weights: &Weights,
    ) -> bool {
        let bin = layout.turn(1.0) - layout.turn(0.0);
        let back = Complex::from_polar(1.0, -lag * bin);
        let (mut sum, mut noise) = (Complex::new(0.0, 0.0), 0.0);
        for (i, cell) in layout.cells.iter().enumerate() {
            let energy = f64::from(a.cells[i]) * f64::from(b.cells[i]);
            if !(a.open[i] && b.open[i] && energy >= f64::from(f32::MIN_POSITIVE)) {
                continue;
            }
            let bins = &cross[cell.first..cell.end];
            let pairs = bins.iter().zip(bins.iter().skip(1));
            let turn = pairs.fold(Complex::new(0.0_f32, 0.0), |sum, (low, high)| sum + low * high.conj());
            let weight = weights.of(cell.third) / energy;
            sum += wide(turn) * weight;
            noise += weights.of(cell.third).powi(2) / cell.bins.powi(3);
        }
        let turned = (sum * back).arg();
        turned.abs() > FOLD_SECS * layout.rate.as_f64() * bin && sum.norm() > FOLD_SIGMAS * noise.sqrt()
    }

    /// K-weighted energies of the sum of both, with the second moved earlier by `lag` samples and multiplied by `sign`.
    pub(crate) fn blend(
        &mut self,
        layout: &Layout,
        (a, b, cross): Both<'_>,
        (lag, sign): (f64, f64),
    ) -> Blend {
        let scale = (a.scale * b.scale).sqrt();
        let mut blend = Blend::default();
        let weights = third_weights();
        self.sum(layout, (a, b, cross));
        self.turn_cells(layout, lag * (layout.turn(1.0) - layout.turn(0.0)));
        let mut turn = Complex::from_polar(1.0, lag * layout.turn(0.0));
        let mut moved = 0.0;
        for cell in &layout.cells {
            let zero = Complex::new(0.0_f32, 0.0);
            let bins = cross[cell.first..cell.end].iter().zip(&self.single_turns);
            let sum = bins.fold(zero, |sum, (bin, turn)| sum + bin * turn) * single(turn);
            turn *= self.turns[cell.end - cell.first];
            moved += weights[cell.third] * f64::from(sum.re) * scale;
        }
        for ((weight, before), powers) in weights.iter().zip(&self.before).zip(a.thirds.iter().zip(&b.thirds))
        {
            blend.alone += weight * (powers.0 + powers.1);
            blend.before += weight * before.re;
        }
        let of = |cross: f64| (blend.alone + 2.0 * cross).max(0.0);
        (blend.before, blend.after) = (of(blend.before), of(sign * moved));
        blend
    }

    fn turn_cells(&mut self, layout: &Layout, radians_a_bin: f64) {
        let turn = |bin: usize| Complex::from_polar(1.0, radians_a_bin * bin as f64);
        self.turns.clear();
        self.turns.extend((0..=layout.longest_cell).map(turn));
        self.single_turns.clear();
        self.single_turns.extend(self.turns.iter().map(|turn| single(*turn)));
    }

    /// Refines the lag of a peak of sign `sign` to the weighted crest beside it. Leaves the cells aligned at about
    /// the lag returned.
    pub(crate) fn refine(
        &mut self,
        layout: &Layout,
        both: Both<'_>,
        (start, sign): (f64, f64),
        weights: &mut Weights,
    ) -> Refined {
        self.sum(layout, both);
        let mut lag = start;
        for _ in 0..MOST_STEPS {
            self.at(layout, both, lag, weights);
            let Some(step) = self.step(layout, sign, weights) else { break };
            lag += step;
            if step.abs() < SMALL_STEP {
                break;
            }
        }
        Refined { lag_samples: lag, sigma_samples: self.sigma(layout, weights) }
    }

    /// One step of Newton's method on Σ w·Re(coherency·e^(jωδ)).
    fn step(&self, layout: &Layout, sign: f64, weights: &Weights) -> Option<f64> {
        let counted = self.counted(layout, sign, weights);
        let (mut slope, mut bend) = (0.0, 0.0);
        for (cell, coherency) in layout.cells.iter().zip(&self.cells) {
            if !counted[cell.third] {
                continue;
            }
            let weight = weights.of(cell.third) * cell.turn * sign * cell.bins;
            slope -= weight * f64::from(coherency.im);
            bend += weight * cell.turn * f64::from(coherency.re);
        }
        (bend > 0.0).then(|| (slope / bend).clamp(-LONGEST_STEP, LONGEST_STEP))
    }

    /// The thirds that count for the crest: those clearly in phase, or all, whichever gives the smaller variance. A
    /// faint sound in all thirds is clear in none of them. Under a rumble, however, a thousand cells of noise in the
    /// highs would only disturb the crest.
    fn counted(&self, layout: &Layout, sign: f64, weights: &Weights) -> [bool; THIRDS] {
        #[derive(Clone, Copy, Default)]
        struct Third {
            sum: f64,
            cells: f64,
            bins: f64,
            turns: f64,
        }
        let mut thirds = [Third::default(); THIRDS];
        for (cell, coherency) in layout.cells.iter().zip(&self.cells) {
            if coherency.norm_sqr() > 0.0 {
                let third = &mut thirds[cell.third];
                third.sum += f64::from(coherency.re) * sign;
                third.cells += 1.0;
                third.bins += cell.bins;
                third.turns += cell.bins * cell.turn.powi(2);
            }
        }
        // The mean of n bins of random phase deviates by 1/√(2n).
        let chance = |bins: f64| (2.0 * bins / layout.bins_per_average).sqrt().recip();
        let plain = thirds.map(|t| t.cells > 0.0 && t.sum / t.cells > IN_PHASE_SIGMAS * chance(t.bins));
        let variance = |counts: &[bool; THIRDS]| {
            let (mut noise, mut bend) = (0.0, 0.0);
            for (i, third) in thirds.iter().enumerate().filter(|(i, t)| counts[*i] && t.cells > 0.0) {
                // Coherence that may be chance does not count.
                let doubt = if plain[i] { 0.0 } else { 2.0 * chance(third.bins) };
                let common = (third.sum / third.cells - doubt).clamp(0.0, 0.999);
                noise += weights.of(i).powi(2) * third.turns * (1.0 - common * common);
                bend += weights.of(i) * third.turns * common;
            }
            if bend > 0.0 { noise / (bend * bend) } else { f64::INFINITY }
        };
        let all = [true; THIRDS];
        if variance(&plain) < variance(&all) { plain } else { all }
    }

    /// [2·Σ ω²·C/(1 − C)]^(−½) over independent bins (Knapp, Carter 1976; the bound as a sum).
    fn sigma(&self, layout: &Layout, weights: &Weights) -> f64 {
        let mut information = 0.0;
        for cell in &layout.cells {
            let coherence = weights.coherence(cell.third).unwrap_or(0.0).min(0.9999);
            let averages = cell.bins / layout.bins_per_average;
            information += 2.0 * averages * cell.turn * cell.turn * coherence / (1.0 - coherence);
        }
        if information > 0.0 { information.sqrt().recip() } else { f64::INFINITY }
    }
}
