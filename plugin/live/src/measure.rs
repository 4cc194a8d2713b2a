//! The analyser as the worker uses it: a trait, so that tests can record the calls.

use plumbline_measure::{Analyzer, BandEdges, Glance, Position, SampleRate, Tenth};

/// An analyser of one layer at one rate. The plug-in uses [`Analyzer`], whose methods document these.
pub(crate) trait Measure {
    fn open(rate: SampleRate, channels: usize, edges: BandEdges) -> Self;
    fn push(&mut self, at: Position, channels: &[&[f32]], tenths: &mut Vec<Tenth>);
    fn note_loss(&mut self, frames: u32);
    fn flush(&mut self, tenths: &mut Vec<Tenth>);
    fn forget(&mut self);
    fn fill(&self, glance: &mut Glance);
}

impl Measure for Analyzer {
    fn open(rate: SampleRate, channels: usize, edges: BandEdges) -> Self {
        Self::new(rate, channels, edges)
    }
    fn push(&mut self, at: Position, channels: &[&[f32]], tenths: &mut Vec<Tenth>) {
        self.push(at, channels, tenths);
    }
    fn note_loss(&mut self, frames: u32) {
        self.note_loss(frames);
    }
    fn flush(&mut self, tenths: &mut Vec<Tenth>) {
        self.flush(tenths);
    }
    fn forget(&mut self) {
        self.forget();
    }
    fn fill(&self, glance: &mut Glance) {
        self.fill(glance);
    }
}
