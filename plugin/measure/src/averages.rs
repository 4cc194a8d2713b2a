//! Fast, slow and since-reset averages of the spans and the lines.

use crate::bands::WINDOWS;
use crate::cells::{Cells, LANES};
use crate::coherence::Newest;
use crate::cross::{StereoPower, power_db};
use crate::filter_bank::FilterBank;
use crate::glance::{SPANS, Spectral};
use crate::meters::{FAST_SECS, SLOW_SECS};
use crate::powers::Powers;
use crate::rate::SampleRate;
use crate::reading::{Coherent, Maybe};
use std::ops::Range;

/// Number of averages: fast, slow, since reset.
const AVERAGES: usize = 3;
/// Index of the fast average.
const FAST: usize = 0;
/// Index of the since-reset average.
const SINCE_RESET: usize = 2;
/// Power below which an average is set to 0, so that silence never produces denormals.
const POWER_FLOOR: f64 = 1e-30;

/// Least share of the energy with a coherence reading; below it there is no mean.
const LEAST_HEARD: f64 = 0.1;

/// The mean of coherence and of out of step, weighted by energy.
#[derive(Clone, Copy, Default)]
struct Weighted {
    coherence: f64,
    out_of_step: f64,
    weight: f64,
    /// Energy of all sound, whether it has a reading or not.
    heard: f64,
}

impl Weighted {
    fn push(&mut self, value: Coherent, energy: f64) {
        self.heard += energy;
        if let (Some(coherence), Some(out_of_step)) = (value.coherence.get(), value.out_of_step.get()) {
            self.coherence += coherence * energy;
            self.out_of_step += out_of_step * energy;
            self.weight += energy;
        }
    }

    fn mean(&self) -> Coherent {
        // A small part, such as the silence between two hits, says nothing about the whole.
        let enough = self.weight > 0.0 && self.weight >= LEAST_HEARD * self.heard;
        let mean = |sum: f64| Maybe::new(enough.then(|| sum / self.weight));
        Coherent { coherence: mean(self.coherence), out_of_step: mean(self.out_of_step) }
    }
}

/// The averages of one layer.
pub(crate) struct Averages {
    /// Step of the exponential averages, per average and window: 1 − exp(−hop/(τ·rate)).
    steps: [[f64; WINDOWS]; 2],
    /// How full an average is: 0…1 for the exponential ones, the number of frames for the sum.
    filled: [[f64; WINDOWS]; AVERAGES],
    spans: Vec<[StereoPower; AVERAGES]>,
    windows: Vec<usize>,
    lines: [Vec<f64>; AVERAGES],
    /// Lines of each window.
    line_windows: [Range<usize>; WINDOWS],
    /// Highest fast average of each line.
    hold: Vec<f64>,
    /// Powers of one frame's bins, both channels together, and of its lines.
    frame: (Vec<f32>, Vec<[f32; LANES]>),
    coherent: Vec<Weighted>,
}

impl Averages {
    pub(crate) fn new(rate: SampleRate, bank: &FilterBank) -> Self {
        let steps = [FAST_SECS, SLOW_SECS].map(|tau| {
            bank.lengths.map(|length| 1.0 - (-(length as f64 / 4.0) / (tau * rate.as_f64())).exp())
        });
        let lines = bank.cells.hz.len();
        let most = |ranges: &[Range<usize>]| ranges.iter().map(Range::len).max().unwrap_or(0);
        let (most_bins, most_lines) = (most(&bank.cells.bins), most(&bank.cells.lines));
        Self {
            steps,
            filled: [[0.0; WINDOWS]; AVERAGES],
            spans: vec![[StereoPower::default(); AVERAGES]; SPANS],
            windows: bank.spans.iter().map(|s| s.window).collect(),
            lines: [(); AVERAGES].map(|()| vec![0.0; lines]),
            line_windows: bank.cells.lines.clone(),
            hold: vec![0.0; lines],
            frame: (vec![0.0; most_bins], vec![[0.0; LANES]; most_lines.div_ceil(LANES)]),
            coherent: vec![Weighted::default(); SPANS],
        }
    }

    /// Clears the since-reset average and the peak hold.
    pub(crate) fn forget(&mut self) {
        self.filled[SINCE_RESET] = [0.0; WINDOWS];
        self.spans.iter_mut().for_each(|s| s[SINCE_RESET] = StereoPower::default());
        self.lines[SINCE_RESET].fill(0.0);
        self.hold.fill(0.0);
        self.coherent.fill(Weighted::default());
    }

    /// Takes one frame of `window`: its bins (counted from `first_bin`), and the matrices of its spans.
    pub(crate) fn push(
        &mut self,
        window: usize,
        bins: &Powers,
        first_bin: usize,
        cells: &Cells,
        spans: &[StereoPower],
    ) {
        let [fast, slow] = [self.steps[0][window], self.steps[1][window]];
        for (average, step) in [(0, fast), (1, slow)] {
            let filled = &mut self.filled[average][window];
            *filled += step * (1.0 - *filled);
        }
        self.filled[SINCE_RESET][window] += 1.0;

        for (span, kept) in self.spans.iter_mut().enumerate() {
            if self.windows[span] != window {
                continue;
            }
            let new = spans[span];
            for (average, step) in [(0, fast), (1, slow)] {
                kept[average] = settled(kept[average] * (1.0 - step) + new * step);
            }
            kept[SINCE_RESET] += new;
        }
        self.push_lines(window, bins, first_bin, cells);
    }

    fn push_lines(&mut self, window: usize, bins: &Powers, first_bin: usize, cells: &Cells) {
        let [fast, slow] = [self.steps[0][window], self.steps[1][window]];
        let whole = 1.0 / self.filled[FAST][window];
        let used = cells.bins[window].start - first_bin..cells.bins[window].end - first_bin;
        let (row, powers) = &mut self.frame;
        let row = &mut row[..used.len()];
        for ((slot, ll), rr) in row.iter_mut().zip(&bins.ll[used.clone()]).zip(&bins.rr[used]) {
            *slot = single(settled_power(ll + rr));
        }
        cells.sum(window, row, powers);
        let own = self.line_windows[window].clone();
        let [fast_lines, slow_lines, sums] = &mut self.lines;
        let kept = fast_lines[own.clone()].iter_mut().zip(&mut slow_lines[own.clone()]);
        let kept = kept.zip(&mut sums[own.clone()]).zip(&mut self.hold[own]);
        for ((((fast_line, slow_line), sum), hold), power) in kept.zip(powers.as_flattened()) {
            let power = f64::from(*power);
            *fast_line = settled_power(*fast_line + fast * (power - *fast_line));
            *slow_line = settled_power(*slow_line + slow * (power - *slow_line));
            *sum += power;
            *hold = hold.max(*fast_line * whole);
        }
    }

    /// Takes the coherence of a long frame, weighted by its energy.
    pub(crate) fn push_coherent(&mut self, newest: &[Newest]) {
        for (kept, newest) in self.coherent.iter_mut().zip(newest) {
            kept.push(newest.value, newest.energy);
        }
    }

    /// Writes the three averages and the peak hold.
    pub(crate) fn fill(
        &self,
        averages: &mut [Spectral; AVERAGES],
        hold_dbfs: &mut Vec<f32>,
        newest: &[Newest],
    ) {
        for (average, spectral) in averages.iter_mut().enumerate() {
            self.fill_one(average, spectral, newest);
        }
        hold_dbfs.clear();
        hold_dbfs.extend(self.hold.iter().map(|power| line_dbfs(*power)));
    }

    fn fill_one(&self, average: usize, spectral: &mut Spectral, newest: &[Newest]) {
        let scale = self.filled[average].map(|filled| if filled > 0.0 { 1.0 / filled } else { 0.0 });
        spectral.lines_dbfs.clear();
        for (own, scale) in self.line_windows.iter().zip(scale) {
            let lines = self.lines[average][own.clone()].iter();
            spectral.lines_dbfs.extend(lines.map(|line| line_dbfs(line * scale)));
        }
        let mut cross = [StereoPower::default(); SPANS];
        for (span, slot) in cross.iter_mut().enumerate() {
            *slot = self.spans[span][average] * scale[self.windows[span]];
        }
        let coherent = |span: usize| {
            if average == SINCE_RESET { self.coherent[span].mean() } else { newest[span].value }
        };
        spectral.read(&cross, coherent);
    }
}

fn line_dbfs(power: f64) -> f32 {
    single(power_db(power))
}

#[expect(clippy::cast_possible_truncation, reason = "a level on a screen, or what it is made of")]
fn single(value: f64) -> f32 {
    value as f32
}

fn settled_power(power: f64) -> f64 {
    if power < POWER_FLOOR { 0.0 } else { power }
}

fn settled(cross: StereoPower) -> StereoPower {
    if cross.total() < POWER_FLOOR { StereoPower::default() } else { cross }
}
