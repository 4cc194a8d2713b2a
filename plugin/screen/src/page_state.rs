//! The state that every page may change: settings, intents, cursor, page and panel; and the offer to undo a loss.

use crate::cursor::Cursor;
use crate::fields::within_bytes;
use crate::intent::{Intent, LONGEST_NAME};
use crate::navigation::{Page, Panel};
use crate::settings::{Reference, Settings};
use egui::Ui;
use plumbline_programme::{Command, Mark, View};
use std::time::Duration;

/// The state that all pages may change.
#[derive(Debug, Default)]
pub(crate) struct Shared {
    pub(crate) settings: Settings,
    pub(crate) intents: Vec<Intent>,
    pub(crate) cursor: Cursor,
    pub(crate) page: Page,
    pub(crate) panel: Option<Panel>,
    pub(crate) undo: Option<Undo>,
    /// The name of this layer while it is being typed.
    pub(crate) typed_name: Option<String>,
}

/// The offer, for a while, to undo a loss.
#[derive(Clone, Debug)]
pub(crate) struct Undo {
    /// What happened, in words.
    pub(crate) what: &'static str,
    before: Before,
    /// When the offer ends, in seconds of the frame's clock; infinite until the frame ends.
    until_secs: f64,
}

/// The state that an undo restores.
#[derive(Clone, Debug)]
enum Before {
    Settings(Box<Settings>),
    /// Marks that the user removed.
    Marks(Vec<Mark>),
}

impl Shared {
    /// Seconds for which a loss can be undone.
    pub(crate) const UNDO_SECS: f64 = 10.0;

    /// Stores the shown average as reference; does nothing without a spectrum.
    pub(crate) fn store_reference(&mut self, view: &View) {
        let lines = &view.spectral(self.settings.averaging).lines_dbfs;
        if lines.is_empty() || view.line_hz.is_empty() {
            return;
        }
        let replaced = self.settings.reference.is_some();
        self.undoable(if replaced { "Reference replaced." } else { "Reference stored." });
        self.settings.reference = Some(Reference::of(&view.line_hz, lines));
    }

    /// Keeps a copy of the settings before a loss.
    pub(crate) fn undoable(&mut self, what: &'static str) {
        let before = Before::Settings(Box::new(self.settings.clone()));
        self.undo = Some(Undo { what, before, until_secs: f64::INFINITY });
    }

    /// Removes a mark; it can be put back for a while.
    pub(crate) fn unmark(&mut self, mark: Mark) {
        self.intents.push(Intent::Command(Command::Unmark(mark)));
        let before = Before::Marks(vec![mark]);
        self.undo = Some(Undo { what: "Mark removed.", before, until_secs: f64::INFINITY });
    }

    /// Undoes the last loss; returns whether settings were restored.
    pub(crate) fn take_back(&mut self) -> bool {
        match self.undo.take().map(|undo| undo.before) {
            Some(Before::Settings(before)) => {
                self.settings = *before;
                return true;
            }
            Some(Before::Marks(marks)) => self.intents.push(Intent::Command(Command::PutMarks(marks))),
            None => {}
        }
        false
    }

    /// Ends the offer to undo once its time is up.
    pub(crate) fn expire_undo(&mut self, ui: &Ui, now_secs: f64) {
        self.date_undo(now_secs);
        let Some(undo) = &self.undo else { return };
        if now_secs >= undo.until_secs {
            self.undo = None;
        } else {
            // A repaint at that time removes the offer.
            ui.ctx().request_repaint_after(Duration::from_secs_f64(undo.until_secs - now_secs));
        }
    }

    /// Starts the countdown of an offer made in this frame.
    pub(crate) fn date_undo(&mut self, now_secs: f64) {
        if let Some(undo) = self.undo.as_mut().filter(|undo| undo.until_secs == f64::INFINITY) {
            undo.until_secs = now_secs + Self::UNDO_SECS;
        }
    }

    pub(crate) fn toggle(&mut self, panel: Panel) {
        self.commit_name();
        self.panel = if self.panel == Some(panel) { None } else { Some(panel) };
    }

    pub(crate) fn show(&mut self, page: Page) {
        self.commit_name();
        self.page = page;
    }

    /// Accepts the name being typed, even if its field is about to close.
    pub(crate) fn commit_name(&mut self) {
        if let Some(typed) = self.typed_name.take() {
            self.intents.push(Intent::Rename(within_bytes(typed.trim(), LONGEST_NAME)));
        }
    }
}
