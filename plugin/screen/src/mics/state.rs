//! The state of the Mics page while the window is open.

use super::trial;
use crate::intent::Intent;
use crate::keys::KeyAction;
use crate::page_state::Shared;
use crate::settings::Settings;
use crate::table;
use crate::words;
use egui::Ui;
use plumbline_programme::{Command, LayerId, Mic, Mics, PairLine, Session, View};

/// The picture at the right if not all of them fit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(super) enum MicsBlock {
    #[default]
    Delay,
    Comb,
    Drift,
}

/// State of the page.
#[derive(Clone, Debug, Default)]
pub(crate) struct MicsState {
    /// The selected pair; `None` shows the first.
    pub(super) selected: Option<[Mic; 2]>,
    /// A kept reading, to compare with the present one.
    pub(super) kept: Option<PairLine>,
    /// The layers picked for a comparison, until both are picked.
    pub(super) picked: [Option<LayerId>; 2],
    pub(super) block: MicsBlock,
    /// When the advice was copied, in seconds of the frame's clock.
    pub(super) copied: Option<f64>,
    /// Whether the table must scroll to the selected row.
    pub(super) seek: bool,
}

/// The advice on a pair in the user's units.
pub(super) fn advice(line: &PairLine, session: &Session, settings: &Settings) -> words::VerdictText {
    words::pair(line, session, settings.start.rate(), settings.celsius)
}

impl MicsState {
    /// The line of the pair shown.
    pub(super) fn shown<'a>(&self, mics: &'a Mics) -> Option<&'a PairLine> {
        self.selected.and_then(|two| mics.line(two)).or_else(|| mics.lines.first())
    }

    /// Keys of the page.
    pub(crate) fn act(&mut self, ui: &Ui, action: KeyAction, view: &View, shared: &mut Shared) {
        match action {
            KeyAction::RowUp => self.step(&view.mics, -1),
            KeyAction::RowDown => self.step(&view.mics, 1),
            KeyAction::Copy => self.copy_advice(ui, view, &shared.settings),
            KeyAction::Keep => self.keep_reading(&view.mics),
            KeyAction::Try => self.toggle_trial(view, shared),
            _ => {}
        }
    }

    fn step(&mut self, mics: &Mics, by: isize) {
        let at = self.selected.and_then(|two| mics.lines.iter().position(|line| line.is_of(two)));
        self.selected = mics.lines.get(table::step(at, by, mics.lines.len(), true)).map(|line| line.mics);
        self.seek = true;
    }

    pub(super) fn copy_advice(&mut self, ui: &Ui, view: &View, settings: &Settings) {
        let Some(line) = self.shown(&view.mics) else { return };
        // Plain spaces, because other programs search and wrap what is pasted.
        ui.ctx().copy_text(advice(line, &view.session, settings).sentence.replace('\u{a0}', " "));
        self.copied = Some(ui.input(|input| input.time));
    }

    /// Keeps the present reading, or clears the kept one if it is of the same pair.
    pub(super) fn keep_reading(&mut self, mics: &Mics) {
        let shown = self.shown(mics).cloned();
        let same = |kept: &PairLine| shown.as_ref().is_some_and(|line| line.is_of(kept.mics));
        self.kept = if self.kept.as_ref().is_some_and(same) { None } else { shown };
    }

    /// Ends the trial, or begins one for the pair shown.
    fn toggle_trial(&self, view: &View, shared: &mut Shared) {
        if view.trial.is_some() {
            shared.intents.push(Intent::Command(Command::Try(None)));
        } else if let Some(line) = self.shown(&view.mics)
            && let Ok(trial) = trial::of(line, &view.session, &shared.settings)
        {
            shared.intents.push(Intent::Command(Command::Try(Some(trial))));
        }
    }
}
