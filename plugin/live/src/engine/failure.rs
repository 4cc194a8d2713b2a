//! How an engine fails, starts again, and is replaced.

use super::LayerEngine;
use crate::board::Folder;
use crate::fault::{self, Stage};
use crate::measure::Measure;
use std::sync::Arc;

/// The most rounds in a row that take the same request.
const MOST_TRIES: u32 = 3;

impl<M: Measure> LayerEngine<M> {
    /// An engine in place of this one, after a failure between the engines: any part may have been left half changed.
    /// Marks, waiting audio and the counts of losses are kept; the audio in hand is lost.
    pub(crate) fn renewed(mut self, folder: Result<Folder, String>, words: &str) -> Self {
        self.intake.fail();
        let shared = Arc::clone(&self.parts.shared);
        let queues = std::mem::take(&mut self.intake.queues);
        shared.ask(|inbox| inbox.opened.splice(..0, queues).count());
        fault::point(Stage::Renewal, shared.born.id);
        // The layer's file goes first: the new one may have the same name.
        drop(self.parts);
        let mut engine = Self::new(Arc::clone(&shared), folder);
        engine.intake.continue_from(&self.intake);
        engine.parts.restarted = true;
        shared.set_trouble(Some(format!(
            "measuring was interrupted by an internal error ({words}) and has started again: averages, maxima, \
             findings and the loudness of the programme start afresh; marks are kept. Reset clears this message"
        )));
        engine
    }

    /// Ends the measurement of this layer after a failure, until a reset or a new analyser.
    pub(super) fn fail(&mut self, words: &str) {
        self.intake.fail();
        self.stale = true;
        self.failed = true;
        self.parts.shared.set_trouble(Some(format!(
            "measuring this layer failed with an internal error ({words}). Audio still passes, but counts as \
             lost. Reset starts measuring again"
        )));
    }

    /// Clears the words of a failure once measuring has started again.
    pub(super) fn recover(&mut self) {
        if self.failed && !self.intake.is_broken() {
            self.failed = false;
            self.parts.shared.set_trouble(None);
        }
    }

    /// Has settings and commands taken again: the failed round may have got only halfway. After a few rounds in a row
    /// that is left to the next request, because each would fail again.
    pub(super) fn ask_again(&mut self) {
        self.failures += 1;
        if self.failures <= MOST_TRIES {
            self.parts.shared.ask(|_| ());
        }
    }
}
