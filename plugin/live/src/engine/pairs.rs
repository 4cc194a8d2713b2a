//! The pairs of microphones of a watched layer.
//!
//! Left and right, and the bus and its side-chain, are compared as audio arrives (`within_layer`), so that no window
//! is missed at any speed. Layers of the session are compared through the board (`between_layers`), a few steps a
//! round, so that no layer waits long for the worker.

mod between_layers;
mod look;
mod pair_choice;
mod within_layer;

use crate::board::BoardReader;
use crate::chunk::Chunk;
use crate::fault::{self, Stage};
use crate::panic_guard::guarded;
use crate::stream_format::StreamFormat;
use between_layers::Inter;
pub(super) use look::Look;
use plumbline_measure::Position;
use plumbline_programme::pair::Correlator;
use plumbline_programme::{Mics, PairLine, Recording, Trial};
use std::sync::Arc;
use within_layer::Intra;

/// All pairs of one layer.
#[derive(Default)]
pub(super) struct Pairs {
    at_work: Option<Box<AtWork>>,
    /// Why comparing has stopped; `None` if it has not.
    broken: Option<String>,
    shown: Arc<Mics>,
    /// Whether any lines have not been shown in a view yet.
    news: bool,
}

/// All pairs of one layer in one format.
struct AtWork {
    format: StreamFormat,
    correlator: Correlator,
    intra: Intra,
    inter: Inter,
    trial: Option<Trial>,
}

impl AtWork {
    fn new(format: StreamFormat) -> Self {
        let correlator = Correlator::new(format.rate);
        let window = correlator.window_samples();
        let (intra, inter) = (Intra::new(format, window), Inter::new(format.rate, window));
        Self { format, correlator, intra, inter, trial: None }
    }

    fn fits(&self, format: StreamFormat) -> bool {
        let of = |f: StreamFormat| (f.rate, f.channels, f.side_channels);
        of(self.format) == of(format)
    }

    fn lines(&self) -> Mics {
        let lines: Vec<PairLine> = self.intra.lines().into_iter().chain(self.inter.lines()).collect();
        Mics::new(lines, self.inter.uncompared())
    }
}

impl Pairs {
    /// The latest lines.
    pub(super) fn shown(&self) -> Arc<Mics> {
        Arc::clone(&self.shown)
    }

    /// Whether there are new lines since the last call.
    pub(super) fn take_news(&mut self) -> bool {
        std::mem::take(&mut self.news)
    }

    /// Whether windows are waiting to be compared.
    pub(super) fn is_busy(&self) -> bool {
        self.at_work.as_ref().is_some_and(|pairs| pairs.inter.is_busy())
    }

    /// Drops everything when the layer is no longer watched.
    pub(super) fn stop(&mut self) {
        self.at_work = None;
        self.shown = Arc::default();
    }

    /// Clears all pairs, for the user's reset.
    pub(super) fn clear(&mut self) {
        if self.broken.take().is_some() {
            self.shown = Arc::default();
        }
        self.work(|pairs| {
            pairs.intra.clear();
            pairs.inter.clear();
            true
        });
    }

    /// Takes audio of the main bus; `at` is the position of its first frame. A change of the trial starts new windows.
    pub(super) fn audio(
        &mut self,
        at: Position,
        main: &[&[f32]],
        format: StreamFormat,
        (trial, recording): (Option<Trial>, &Recording),
    ) {
        if self.broken.is_some() {
            return;
        }
        if !self.at_work.as_ref().is_some_and(|pairs| pairs.fits(format)) {
            self.at_work = Some(Box::new(AtWork::new(format)));
            self.shown = Arc::default();
        }
        self.work(|pairs| {
            if trial != pairs.trial {
                pairs.trial = trial;
                pairs.intra.part();
            }
            pairs.intra.set_recording(recording);
            pairs.intra.hear(&mut pairs.correlator, at, main)
        });
    }

    /// Takes audio of the side-chain, after that of the main bus for the same frames.
    pub(super) fn side_audio(&mut self, chunk: &Chunk) {
        let [left, right] = &chunk.samples;
        let both = [&left[..chunk.len()], &right[..chunk.len()]];
        self.work(|pairs| {
            pairs.intra.hear_side(&both[..usize::from(pairs.format.side_channels).min(2)]);
            false
        });
    }

    /// Does one step of comparing the layers of the session.
    pub(super) fn step(&mut self, board: &BoardReader, look: &Look<'_>) {
        self.work(|pairs| {
            fault::point(Stage::Pairs, look.own);
            pairs.inter.step(&mut pairs.correlator, board, look)
        });
    }

    /// Runs `work`, which returns whether the lines are new. A failure stops comparing until a reset.
    fn work(&mut self, work: impl FnOnce(&mut AtWork) -> bool) {
        let Some(pairs) = &mut self.at_work else { return };
        match guarded(|| work(pairs).then(|| pairs.lines())) {
            Ok(None) => {}
            Ok(Some(lines)) => {
                self.shown = Arc::new(lines);
                self.news = true;
            }
            Err(words) => {
                self.at_work = None;
                let words = format!("comparing microphones failed ({words}). Reset starts it again");
                self.shown = Arc::new(Mics { trouble: Some(words.clone()), ..Mics::default() });
                self.broken = Some(words);
                self.news = true;
            }
        }
    }
}

#[cfg(test)]
pub(super) mod tests;
