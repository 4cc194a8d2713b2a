//! The content of a window: draws it, and carries out the user's intents.

use super::ending::Ending;
use super::repaint::Repaint;
#[cfg(target_os = "linux")]
use super::x11::{HostKeys, hear_of_frames};
use crate::export::Job;
use crate::saved_state::{shortened, within_bounds};
use crate::shared::Shared;
use nice_plug::context::gui::GuiContext;
use nice_plug_egui::baseview::{HandlerError, WindowSize};
use nice_plug_egui::resizable_window::ResizableWindow;
use nice_plug_egui::{Frame, NiceEguiApp};
use plumbline_live::guarded;
use plumbline_programme::{Command, View};
use plumbline_screen::{Info, Intent, Screen};
use std::sync::Arc;
use std::sync::atomic::Ordering;

/// The content of one window.
pub(super) struct App {
    shared: Arc<Shared>,
    repaint: Repaint,
    host: Option<GuiContext>,
    screen: Screen,
    /// The number of state loads that the screen has taken in.
    loads: u32,
    /// The view shown while *Hold* is on.
    held: Option<Arc<View>>,
    /// Serial of the latest view when the window opened: views up to it may be old.
    stale: u64,
    /// The message of a panic while drawing.
    failure: Option<String>,
    ending: Arc<Ending>,
    #[cfg(target_os = "linux")]
    host_keys: Option<HostKeys>,
}

impl App {
    pub(super) fn new(shared: Arc<Shared>, repaint: Repaint, ending: Arc<Ending>) -> Self {
        let loads = shared.parameters.memory.loads();
        let screen = Screen::new(shared.parameters.memory.saved().screen);
        let stale = shared.layer.serial();
        Self {
            shared,
            repaint,
            host: None,
            screen,
            loads,
            held: None,
            stale,
            failure: None,
            ending,
            #[cfg(target_os = "linux")]
            host_keys: None,
        }
    }

    fn draw(&mut self, ui: &mut egui::Ui) {
        self.take_loaded_state();
        let view = self.shown_view();
        let memory = &self.shared.parameters.memory;
        let (saved, name) = (memory.saved(), memory.name());
        let exported = self.shared.exports.last();
        let info = Info {
            name: &name,
            role: saved.role,
            colour: memory.track().colour,
            session: saved.session,
            held: self.shared.parameters.hold.value(),
            unfit_blocks: self.shared.requests.blocks.unfit.load(Ordering::Relaxed),
            exported: exported.as_ref(),
        };
        let intents = self.screen.ui(ui, &view, &info);
        for intent in intents {
            self.obey(intent);
        }
        if let Some(trouble) = self.shared.trouble() {
            notice_ui(ui, &trouble);
        }
    }

    fn take_loaded_state(&mut self) {
        let loads = self.shared.parameters.memory.loads();
        if loads != self.loads {
            self.loads = loads;
            self.screen = Screen::new(self.shared.parameters.memory.saved().screen);
        }
    }

    /// The latest view, the held one, or the past moment being viewed. If *Hold* was on before the window opened, the
    /// first view made since then is held, because an earlier one may be minutes old.
    fn shown_view(&mut self) -> Arc<View> {
        if !self.shared.parameters.hold.value() {
            self.held = None;
            return self.shared.layer.view();
        }
        // A past moment does not change, and takes precedence over the held view.
        let newest = self.shared.layer.view();
        if newest.past.is_some() {
            return newest;
        }
        if let Some(held) = &self.held {
            return held.clone();
        }
        if self.shared.layer.serial() > self.stale {
            self.held = Some(newest.clone());
        }
        newest
    }

    fn obey(&mut self, intent: Intent) {
        let (memory, layer) = (&self.shared.parameters.memory, &self.shared.layer);
        let kept = is_kept(&intent);
        match intent {
            Intent::Command(command) => {
                if command == Command::Reset {
                    self.shared.requests.blocks.unfit.store(0, Ordering::Relaxed);
                }
                layer.send(command);
            }
            Intent::Hold(hold) => self.set_hold(hold),
            Intent::SettingsChanged => {
                let settings = self.screen.settings().clone();
                // A state that was loaded during this frame is newer than these settings, and stays.
                memory.change(|saved| {
                    if memory.loads() == self.loads {
                        saved.screen = settings;
                    }
                });
            }
            Intent::Rename(name) => memory.change(|saved| saved.name = shortened(&name)),
            Intent::SetRole(role) => memory.change(|saved| saved.role = role),
            Intent::SetSession(letter) => memory.change(|saved| saved.session = letter),
            Intent::Export => self.export(),
        }
        // After the change: a host may save at once.
        if kept {
            self.shared.requests.mark_changed();
        }
        self.repaint.request();
    }

    /// Exports the present state, even while a view is held or a past moment is viewed.
    fn export(&self) {
        let memory = &self.shared.parameters.memory;
        let (saved, repaint) = (memory.saved(), self.repaint.clone());
        let job = Job {
            view: self.shared.layer.view(),
            settings: self.screen.settings().clone(),
            layer: memory.name(),
            role: saved.role,
        };
        self.shared.exports.start(job, move || repaint.request());
    }

    /// Sets *Hold* as a gesture, so that a host can record it.
    fn set_hold(&self, hold: bool) {
        let Some(host) = &self.host else { return };
        let setter = host.param_setter();
        let parameter = &self.shared.parameters.hold;
        setter.begin_set_parameter(parameter);
        setter.set_parameter(parameter, hold);
        setter.end_set_parameter(parameter);
    }
}

/// Whether an intent changes the saved state. The host is then notified, so that it offers to save.
fn is_kept(intent: &Intent) -> bool {
    match intent {
        Intent::Command(command) => {
            matches!(
                command,
                Command::Mark | Command::Unmark(_) | Command::PutMarks(_) | Command::ReplaceMarks(_)
            )
        }
        Intent::SettingsChanged | Intent::Rename(_) | Intent::SetRole(_) | Intent::SetSession(_) => true,
        // The host keeps the parameter itself.
        Intent::Hold(_) | Intent::Export => false,
    }
}

impl NiceEguiApp for App {
    fn build(
        &mut self,
        _egui_ctx: egui::Context,
        host: GuiContext,
        frame: &mut Frame,
    ) -> Result<(), HandlerError> {
        self.ending.of_this_thread();
        let window = frame.baseview_window();
        self.repaint.made(window.waker());
        #[cfg(target_os = "linux")]
        {
            // If this fails, the window is still drawn unless the host resizes it too early.
            let _ = hear_of_frames(window);
            self.host_keys = HostKeys::of(window);
        }
        self.host = Some(host);
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut Frame) {
        if self.ending.has_begun() {
            return;
        }
        self.repaint.drawn();
        if let Some(failure) = self.failure.clone() {
            if failure_ui(ui, &failure) {
                self.failure = None;
                self.screen = Screen::new(self.shared.parameters.memory.saved().screen);
            }
            return;
        }
        let [width, height] = crate::saved_state::SMALLEST.map(|points| points as f32);
        // For hosts whose windows cannot be resized at the edge.
        #[cfg(target_os = "linux")]
        let typed_before = plumbline_screen::has_keyboard(ui.ctx());
        let drawn = guarded(|| {
            ResizableWindow::new("window corner")
                .min_size(egui::vec2(width, height))
                .show(ui, |ui| self.draw(ui));
        });
        #[cfg(target_os = "linux")]
        if let Some(keys) = &mut self.host_keys {
            keys.pass_on(|stroke| typed_before || plumbline_screen::takes(ui.ctx(), stroke));
        }
        if let Err(panic) = drawn {
            self.failure = Some(panic);
            self.repaint.request();
        }
    }

    fn resized(&mut self, new_size: WindowSize) {
        let [width, height] = [new_size.logical.width, new_size.logical.height].map(whole_points);
        self.shared.parameters.memory.change(|saved| saved.window = within_bounds([width, height]));
    }
}

/// Points, rounded to whole ones; NaN becomes 0, which the bounds raise.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to what fits")]
fn whole_points(points: f64) -> u32 {
    points.round().clamp(0.0, 65_535.0) as u32
}

/// Shows over the picture why nothing is measured.
fn notice_ui(ui: &mut egui::Ui, text: &str) {
    egui::Area::new(egui::Id::unique("trouble"))
        .anchor(egui::Align2::CENTER_CENTER, egui::Vec2::ZERO)
        .show(ui.ctx(), |ui| egui::Frame::popup(ui.style()).show(ui, |ui| ui.label(text)));
}

/// The message shown if drawing failed. True if the user asks to try again.
fn failure_ui(ui: &mut egui::Ui, failure: &str) -> bool {
    egui::CentralPanel::default()
        .show(ui, |ui| {
            ui.heading("The picture could not be drawn");
            ui.label("Audio passes and measuring continues; the project is not affected.");
            ui.label(format!("Cause: {failure}"));
            ui.button("Draw again").clicked()
        })
        .inner
}
