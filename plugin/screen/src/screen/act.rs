//! What the user does to the screen itself, and how it is taken back.

use super::{Before, Intent, Screen, Undo};
use crate::panels::{Forms, Panel};
use crate::settings::{Reference, Settings};
use egui::Ui;
use plumbline_programme::{Mark, View};
use std::time::Duration;

impl Screen {
    /// Stores the shown average as reference. With no spectrum there is nothing to store, and nothing changes.
    pub(crate) fn store_reference(&mut self, view: &View) {
        let lines = &view.spectral(self.settings.averaging).lines_dbfs;
        if lines.is_empty() || view.line_hz.is_empty() {
            return;
        }
        let what = match self.settings.reference {
            Some(_) => "Reference replaced.",
            None => "Reference stored.",
        };
        self.undoable(what);
        self.settings.reference = Some(Reference::of(&view.line_hz, lines));
    }

    pub(crate) fn clear_reference(&mut self) {
        self.undoable("Reference cleared.");
        self.settings.reference = None;
    }

    /// Remembers the settings before something is lost.
    pub(crate) fn undoable(&mut self, what: &'static str) {
        let before = Before::Settings(Box::new(self.settings.clone()));
        self.undo = Some(Undo { what, before, until_secs: f64::INFINITY });
    }

    /// Takes a mark away; it can be put back for a while.
    pub(crate) fn unmark(&mut self, mark: Mark) {
        self.intents.push(Intent::Unmark(mark));
        let before = Before::Marks(vec![mark]);
        self.undo = Some(Undo { what: "Mark removed.", before, until_secs: f64::INFINITY });
    }

    pub(crate) fn take_back(&mut self) {
        match self.undo.take().map(|undo| undo.before) {
            Some(Before::Settings(before)) => {
                self.settings = *before;
                self.forms = Forms::default();
            }
            Some(Before::Marks(marks)) => self.intents.push(Intent::PutMarks(marks)),
            None => {}
        }
    }

    pub(crate) fn toggle(&mut self, panel: Panel) {
        self.settle_name();
        self.panel = if self.panel == Some(panel) { None } else { Some(panel) };
    }

    /// Esc takes away the topmost thing: first a panel, then the past, then the cursor, then the selected layer. A name
    /// that was being typed stays as it was.
    pub(super) fn escape(&mut self, view: &View) {
        self.layers.typed = None;
        if self.panel.take().is_none() && !self.leave_past(view) && !self.cursor.remove() {
            self.layers.selected = None;
        }
    }

    pub(super) fn expire_undo(&mut self, ui: &Ui, now_secs: f64) {
        let Some(undo) = &mut self.undo else { return };
        if undo.until_secs == f64::INFINITY {
            undo.until_secs = now_secs + Self::UNDO_SECS;
        }
        if now_secs >= undo.until_secs {
            self.undo = None;
        } else {
            // The only repaint of our own: to take the offer away in time.
            ui.ctx().request_repaint_after(Duration::from_secs_f64(undo.until_secs - now_secs));
        }
    }

    pub(super) fn after(&mut self, ui: &Ui, before: Settings, now_secs: f64) {
        if let Some(undo) = &mut self.undo
            && undo.until_secs == f64::INFINITY
        {
            undo.until_secs = now_secs + Self::UNDO_SECS;
        }
        if self.settings != before {
            self.intents.push(Intent::SettingsChanged);
            ui.ctx().request_repaint();
        }
        self.typing = crate::fields::has_keyboard(ui.ctx());
    }
}

impl Screen {
    pub(crate) fn show(&mut self, page: super::Page) {
        self.settle_name();
        self.page = page;
    }
}
