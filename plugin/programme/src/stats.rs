//! Statistics of any stretch of time: sums of tenths, so that the parts of a programme add up to the whole.

use crate::log::PassageLine;
use plumbline_measure::Tenth;
use plumbline_measure::bands::{BANDS, BandEdges, LONG, window_for};
use plumbline_measure::cross::StereoPower;
use plumbline_measure::reading::{Coherent, Gate, Maybe, Readings};

/// Number of spans summed: the bands, then the whole range.
const SUMMED: usize = BANDS + 1;

/// Sums over one span.
#[derive(Clone, Copy, Debug, Default)]
struct Part {
    cross: StereoPower,
    /// Tenths with at least one frame.
    measured: u32,
    coherence: f64,
    out_of_step: f64,
    /// Energy of the tenths that have a coherence reading.
    weight: f64,
}

/// Sums over some tenths. Merging two summaries gives the summary of all their tenths, up to rounding.
#[derive(Clone, Debug, Default)]
pub struct Summary {
    parts: [Part; SUMMED],
    tenths: u32,
    lowest_correlation: Maybe,
    peak: [f32; 2],
    true_peak: [f32; 2],
    overs: [u64; 2],
    lost: u64,
    not_finite: u64,
    max_momentary: Maybe,
    max_short_term: Maybe,
    extent: Option<[i64; 2]>,
}

fn lower(kept: &mut Maybe, value: Maybe) {
    if let Some(value) = value.get().filter(|v| kept.get().is_none_or(|k| *v < k)) {
        *kept = Maybe::new(Some(value));
    }
}

fn raise(kept: &mut Maybe, value: Maybe) {
    if let Some(value) = value.get().filter(|v| kept.get().is_none_or(|k| *v > k)) {
        *kept = Maybe::new(Some(value));
    }
}

impl Part {
    fn add(&mut self, cross: StereoPower, frames: u16, coherent: &Coherent) {
        let sane = cross.ll.is_finite() && cross.rr.is_finite() && cross.re.is_finite();
        if frames == 0 || !sane {
            return;
        }
        let mean = cross * (1.0 / f64::from(frames));
        self.cross += mean;
        self.measured += 1;
        if let (Some(coherence), Some(out_of_step)) = (coherent.coherence.get(), coherent.out_of_step.get()) {
            self.coherence += coherence * mean.total();
            self.out_of_step += out_of_step * mean.total();
            self.weight += mean.total();
        }
    }

    fn merge(&mut self, other: &Self) {
        self.cross += other.cross;
        self.measured += other.measured;
        self.coherence += other.coherence;
        self.out_of_step += other.out_of_step;
        self.weight += other.weight;
    }

    fn mean(&self) -> StereoPower {
        self.cross * (1.0 / f64::from(self.measured.max(1)))
    }

    fn coherent(&self) -> Coherent {
        // As in the since-reset average: a small part does not represent the whole.
        let enough = self.weight > 0.0 && self.weight >= 0.1 * self.cross.total();
        let mean = |sum: f64| Maybe::new(enough.then(|| sum / self.weight));
        Coherent { coherence: mean(self.coherence), out_of_step: mean(self.out_of_step) }
    }
}

impl Summary {
    /// Adds a tenth. Each tenth must be added only once.
    pub fn add(&mut self, tenth: &Tenth, edges: &BandEdges) {
        self.tenths += 1;
        for band in 0..BANDS {
            let frames = tenth.frames_of[window_for(edges.span(band).low_hz)];
            self.parts[band].add(StereoPower::from(tenth.bands[band]), frames, &tenth.coherent_bands[band]);
        }
        self.parts[BANDS].add(StereoPower::from(tenth.whole), tenth.frames_of[LONG], &tenth.coherent_whole);
        lower(&mut self.lowest_correlation, tenth.lowest_correlation);
        for side in 0..2 {
            self.peak[side] = self.peak[side].max(tenth.sample_peak[side]);
            self.true_peak[side] = self.true_peak[side].max(tenth.true_peak[side]);
            self.overs[side] += u64::from(tenth.overs[side]);
        }
        self.lost += u64::from(tenth.faults.lost);
        self.not_finite += u64::from(tenth.faults.not_finite);
        raise(&mut self.max_momentary, tenth.max_momentary);
        raise(&mut self.max_short_term, tenth.short_term);
        let [first, end] = self.extent.unwrap_or([tenth.index, tenth.index]);
        self.extent = Some([first.min(tenth.index), end.max(tenth.index.saturating_add(1))]);
    }

    /// Adds the sums of another summary.
    pub fn merge(&mut self, other: &Self) {
        self.tenths += other.tenths;
        self.parts.iter_mut().zip(&other.parts).for_each(|(mine, theirs)| mine.merge(theirs));
        lower(&mut self.lowest_correlation, other.lowest_correlation);
        for side in 0..2 {
            self.peak[side] = self.peak[side].max(other.peak[side]);
            self.true_peak[side] = self.true_peak[side].max(other.true_peak[side]);
            self.overs[side] += other.overs[side];
        }
        self.lost += other.lost;
        self.not_finite += other.not_finite;
        raise(&mut self.max_momentary, other.max_momentary);
        raise(&mut self.max_short_term, other.max_short_term);
        self.extent = match (self.extent, other.extent) {
            (Some(a), Some(b)) => Some([a[0].min(b[0]), a[1].max(b[1])]),
            (a, b) => a.or(b),
        };
    }

    /// Whether nothing was added.
    pub fn is_empty(&self) -> bool {
        self.tenths == 0
    }

    /// Writes everything except the grid, integrated loudness, range, and the readings of several layers.
    pub fn fill(&self, line: &mut PassageLine) {
        let [start, end] = self.extent.unwrap_or_default();
        (line.start, line.end, line.secs) = (start, end, f64::from(self.tenths) / 10.0);
        let whole = &self.parts[BANDS];
        line.whole = Readings::of(&whole.mean(), whole.coherent(), Gate::broadband());
        let loudest = self.parts[..BANDS].iter().map(|p| p.mean().total()).fold(0.0, f64::max);
        for (slot, part) in line.bands.iter_mut().zip(&self.parts) {
            *slot = Readings::of(&part.mean(), part.coherent(), Gate::bands(loudest));
        }
        let db = |peak: f32| (peak > 0.0).then(|| 20.0 * f64::from(peak).log10());
        line.lowest_correlation = self.lowest_correlation.get();
        line.peak_dbfs = self.peak.map(db);
        line.overs = self.overs;
        line.lost = self.lost;
        line.not_finite = self.not_finite;
        line.loudness.true_peak_dbtp = self.true_peak.map(db);
        line.loudness.max_momentary_lufs = self.max_momentary.get();
        line.loudness.max_short_term_lufs = self.max_short_term.get();
        line.loudness.measured_secs = line.secs;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use plumbline_measure::bands::WINDOWS;
    use plumbline_measure::cross::Stored;

    fn tenth(index: i64, level: f32) -> Tenth {
        let stored = Stored { ll: level, rr: level / 2.0, re: level / 4.0 };
        Tenth {
            index,
            frames_of: [1; WINDOWS],
            whole: stored,
            bands: [stored; BANDS],
            sample_peak: [level, 0.0],
            overs: [2, 0],
            lowest_correlation: Maybe::new(Some(f64::from(level))),
            coherent_whole: Coherent {
                coherence: Maybe::new(Some(0.5)),
                out_of_step: Maybe::new(Some(0.25)),
            },
            ..Tenth::default()
        }
    }

    #[test]
    fn parts_add_up_to_the_whole() {
        let edges = BandEdges::default();
        let (mut all, mut first, mut second) = (Summary::default(), Summary::default(), Summary::default());
        for i in 0..50 {
            let tenth = tenth(i, 0.25 / (i + 1) as f32);
            all.add(&tenth, &edges);
            if i < 20 { first.add(&tenth, &edges) } else { second.add(&tenth, &edges) }
        }
        first.merge(&second);
        let line = |summary: &Summary| {
            let mut line = PassageLine::default();
            summary.fill(&mut line);
            line
        };
        let (all, parts) = (line(&all), line(&first));
        assert_eq!((all.start, all.end, all.secs, all.overs), (0, 50, 5.0, [100, 0]));
        assert_eq!(all.lowest_correlation, Some(f64::from(0.25_f32 / 50.0)));
        assert_eq!(all.whole.coherence.map(|c| (c * 1e6).round()), Some(5e5));
        let close = |a: Option<f64>, b: Option<f64>| (a.unwrap() - b.unwrap()).abs() < 1e-9;
        assert!(close(all.whole.level_dbfs, parts.whole.level_dbfs));
        assert!(close(all.bands[3].mono_loss_db, parts.bands[3].mono_loss_db));
        assert_eq!((all.secs, all.peak_dbfs, all.loudness), (parts.secs, parts.peak_dbfs, parts.loudness));
    }
}
