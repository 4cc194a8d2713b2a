//! The meter of one layer, or of the bus.

use super::block::{Block, block_frames};
use super::plan::Plan;
use super::source::Source;
use plumbline_measure::{Analyzer, Glance, Grid, Position, Tenth};
use plumbline_programme::Programme;
use plumbline_programme::survey::Sound;

/// Seconds of the latest sound to keep for the attribution of mono loss.
const TAIL_SECS: usize = 2;

/// A sum of stems.
#[derive(Clone, Debug)]
pub(super) struct StemSum {
    /// Stems with their gains.
    stems: Vec<(usize, f32)>,
    channels: usize,
    sums: [Vec<f32>; 2],
}

impl StemSum {
    /// A mono sum if all stems are mono, else a stereo sum; `stereo` forces stereo.
    pub(super) fn new(source: &impl Source, plan: &Plan, stems: &[usize], stereo: bool) -> Self {
        let all = source.channels();
        let of = |stem: usize| all.get(stem).copied().unwrap_or(1);
        let channels = if stereo || stems.iter().any(|stem| of(*stem) > 1) { 2 } else { 1 };
        let gain = |stem: usize| {
            let pan = if channels > of(stem) { plan.mono_gain } else { 1.0 };
            plan.gain(stem) * pan
        };
        Self {
            stems: stems.iter().map(|stem| (*stem, gain(*stem))).collect(),
            channels,
            sums: Default::default(),
        }
    }

    pub(super) fn channels(&self) -> usize {
        self.channels
    }

    /// The sum over the first `count` frames of a block. A mono stem goes to both channels. NaN in a stem becomes NaN
    /// in the sum, is measured as silence, and is counted.
    pub(super) fn sum<'a>(&'a mut self, block: &'a Block, count: usize) -> [&'a [f32]; 2] {
        // A single stem at unity gain needs no copy.
        if let [(stem, gain)] = self.stems[..]
            && gain == 1.0
            && let Some(sides) = block.get(stem)
            && sides.len() == self.channels
        {
            return [0, 1].map(|side| &sides[side.min(self.channels - 1)][..count]);
        }
        for (side, sum) in self.sums.iter_mut().enumerate().take(self.channels) {
            sum.clear();
            sum.resize(count, 0.0);
            for (stem, gain) in &self.stems {
                let Some(from) = block.get(*stem).and_then(|sides| sides.get(side).or(sides.first())) else {
                    continue;
                };
                for (sum, sample) in sum.iter_mut().zip(&from[..count]) {
                    *sum += gain * sample;
                }
            }
        }
        [0, 1].map(|side| &self.sums[side.min(self.channels - 1)][..])
    }
}

/// DC offset of a whole programme.
#[derive(Clone, Copy, Debug, Default)]
struct Offset {
    sums: [f64; 2],
    frames: f64,
}

impl Offset {
    fn push(&mut self, tenth: &Tenth) {
        self.sums.iter_mut().zip(tenth.sums.dc).for_each(|(sum, dc)| *sum += dc);
        self.frames += f64::from(tenth.sums.frames);
    }

    /// Mean relative to full scale, left and right; `None` before any sample.
    fn mean(&self) -> [Option<f64>; 2] {
        self.sums.map(|sum| (self.frames > 0.0).then(|| sum / self.frames))
    }
}

/// A sum of stems, and all measurements of that sum alone.
pub(super) struct LayerMeter {
    sum: StemSum,
    analyzer: Analyzer,
    programme: Programme,
    offset: Offset,
    lowest_correlation: Option<f64>,
    /// Tenths not passed on yet.
    pub(super) tenths: Vec<Tenth>,
    /// The latest sound of each channel: at least [`TAIL_SECS`], with silence at first.
    tail: Vec<Vec<f32>>,
    tail_frames: usize,
}

impl LayerMeter {
    /// A meter for each layer, then one for the bus.
    pub(super) fn all(source: &impl Source, plan: &Plan) -> Vec<Self> {
        let layers = plan.layers.iter().map(|layer| StemSum::new(source, plan, &layer.stems, false));
        let bus = StemSum::new(source, plan, &plan.bus_stems(), plan.mix.is_none());
        layers.chain([bus]).map(|sum| Self::new(source, plan, sum)).collect()
    }

    fn new(source: &impl Source, plan: &Plan, sum: StemSum) -> Self {
        let analyzer = Analyzer::new(source.rate(), sum.channels, plan.band_edges);
        let frames = TAIL_SECS * block_frames(source);
        // Without layers, mono loss is not attributed.
        let channels = if plan.layers.is_empty() { 0 } else { sum.channels };
        Self {
            tail: vec![vec![0.0; frames]; channels],
            tail_frames: frames,
            analyzer,
            sum,
            programme: Programme::endless(),
            offset: Offset::default(),
            lowest_correlation: None,
            tenths: Vec::new(),
        }
    }

    pub(super) fn channels(&self) -> usize {
        self.sum.channels
    }

    /// Measures a block whose first frame is sample `at` of the time line.
    pub(super) fn run(&mut self, block: &Block, at: u64, count: usize) {
        let position = Position { grid: Grid::Song, sample: i64::try_from(at).unwrap_or(i64::MAX) };
        let channels = self.sum.channels;
        let sides = self.sum.sum(block, count);
        for (tail, side) in self.tail.iter_mut().zip(sides) {
            // Draining moves the rest, so it is not done for every block.
            if tail.len() >= 2 * self.tail_frames {
                tail.drain(..tail.len() - self.tail_frames);
            }
            tail.extend_from_slice(side);
        }
        let before = self.tenths.len();
        self.analyzer.push(position, &sides[..channels], &mut self.tenths);
        self.keep(before);
    }

    /// Flushes the analyser at the end of the sound.
    pub(super) fn flush(&mut self) {
        let before = self.tenths.len();
        self.analyzer.flush(&mut self.tenths);
        self.keep(before);
    }

    /// Adds the tenths from index `before` on to the readings of the whole programme.
    fn keep(&mut self, before: usize) {
        for tenth in &self.tenths[before..] {
            self.programme.push(tenth);
            self.offset.push(tenth);
            let lowest = [self.lowest_correlation, tenth.lowest_correlation.get()];
            self.lowest_correlation = lowest.into_iter().flatten().reduce(f64::min);
        }
    }

    /// The latest two seconds, one slice per channel.
    pub(super) fn tail(&self) -> Vec<&[f32]> {
        self.tail.iter().map(|tail| &tail[tail.len() - self.tail_frames..]).collect()
    }

    /// Fills a glance with the latest readings.
    pub(super) fn fill(&self, glance: &mut Glance) {
        self.analyzer.fill(glance);
    }

    /// All readings of the whole programme. Ends the meter and frees its memory.
    pub(super) fn sound(self) -> Sound {
        let mut glance = Glance::default();
        self.analyzer.fill(&mut glance);
        let channels = u8::try_from(self.sum.channels).unwrap_or(2);
        drop(self.analyzer);
        let mut programme = self.programme;
        programme.fill(&mut glance.loudness);
        glance.meters.dc = self.offset.mean();
        let [.., spectral] = glance.averages;
        Sound {
            channels,
            spectral,
            meters: glance.meters,
            loudness: glance.loudness,
            lowest_correlation: self.lowest_correlation,
            not_finite: glance.not_finite,
        }
    }
}
