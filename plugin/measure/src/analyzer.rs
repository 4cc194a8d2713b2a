//! From samples to tenths and to the newest readings.
use crate::bands::BandEdges;
use crate::rate::SampleRate;
use crate::tenth::{Position, Tenth};
use crate::view::View;

/// Measures one layer.
pub struct Analyzer {}

impl Analyzer {
    /// A fresh analyser for `channels` channels (1 or 2).
    pub fn new(_rate: SampleRate, _channels: usize, _edges: BandEdges) -> Self {
        Self {}
    }
    /// Measures a block: one or two slices of equal length.
    pub fn push(&mut self, _at: Position, _channels: &[&[f32]], _tenths: &mut Vec<Tenth>) {}
    /// Tells that audio was lost before the next block.
    pub fn note_loss(&mut self, _frames: u32) {}
    /// Ends the stretch of audio: hands out the tenths that were waiting for more.
    pub fn flush(&mut self, _tenths: &mut Vec<Tenth>) {}
    /// Back to new.
    pub fn reset(&mut self) {}
    /// Forgets what is kept since reset: averages, peak holds, counts.
    pub fn forget(&mut self) {}
    /// Writes the newest readings into a view: averages, peak hold, meters, momentary and short-term loudness with
    /// their maxima, true peak, scope, health counts of samples that were not finite.
    pub fn fill(&self, _view: &mut View) {}
}
