//! The state of the time lanes while the window is open.

use super::axis::TimeAxis;
use super::viewport::Viewport;
use crate::intent::Intent;
use crate::keys::KeyAction;
use crate::page_state::Shared;
use crate::settings::LaneSpan;
use egui::{Event, MouseWheelUnit, Response, Ui, Vec2, vec2};
use plumbline_programme::{Command, Lanes, Mark, TimeWindow, View};

/// State of the lanes.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct TimeState {
    pub(super) viewport: Viewport,
    /// The last stretch asked for.
    sent: Option<TimeWindow>,
    /// The moment asked for, until the view answers.
    asked: Option<Mark>,
    /// The last moment that the view showed.
    seen: Option<Mark>,
    /// The moment asked for by the drag in progress.
    dragged: Option<Mark>,
}

impl TimeState {
    /// Notes the moment that the view shows.
    pub(crate) fn note_past(&mut self, view: &View) {
        let at = view.past.map(|past| past.at);
        if at != self.seen {
            self.seen = at;
            self.asked = None;
        }
    }

    fn rewind(&mut self, mark: Mark, intents: &mut Vec<Intent>) {
        self.asked = Some(mark);
        intents.push(Intent::Command(Command::Rewind(Some(mark))));
    }

    /// Leaves a past moment that is shown or asked for; returns whether there was one.
    pub(crate) fn leave_past(&mut self, view: &View, intents: &mut Vec<Intent>) -> bool {
        let past = view.past.is_some() || self.asked.is_some();
        if past {
            self.asked = None;
            intents.push(Intent::Command(Command::Rewind(None)));
        }
        past
    }

    /// Leaves the past moment and follows the newest tenth.
    pub(super) fn return_to_now(&mut self, view: &View, intents: &mut Vec<Intent>) {
        self.leave_past(view, intents);
        self.viewport.end = None;
    }

    /// Keys of the lanes.
    pub(crate) fn act(&mut self, action: KeyAction, view: &View, shared: &mut Shared) {
        let (chosen, lanes) = (shared.settings.reach.tenths(), &view.lanes);
        let viewport = &mut self.viewport;
        match action {
            KeyAction::Earlier => viewport.pan(-0.25, chosen, lanes),
            KeyAction::Later => viewport.pan(0.25, chosen, lanes),
            KeyAction::Closer => viewport.zoom(1.0 / 1.5, None, chosen, lanes),
            KeyAction::Wider => viewport.zoom(1.5, None, chosen, lanes),
            KeyAction::Now => self.return_to_now(view, &mut shared.intents),
            KeyAction::Step(tenths) => self.step(i64::from(tenths), view, &mut shared.intents),
            _ => {}
        }
    }

    /// Moves the moment shown; from now, steps back from the newest tenth.
    fn step(&mut self, by: i64, view: &View, intents: &mut Vec<Intent>) {
        let lanes = &view.lanes;
        let past = self.asked.or(view.past.map(|past| past.at));
        if past.is_none() && (by > 0 || lanes.columns.is_empty()) {
            return;
        }
        let from = past.unwrap_or(Mark { grid: lanes.grid, index: lanes.newest });
        let mut index = from.index.saturating_add(by);
        if from.grid == lanes.grid && !lanes.columns.is_empty() {
            index = index.clamp(lanes.extent[0], lanes.extent[1].saturating_sub(1).max(lanes.extent[0]));
        }
        if past.is_none() || index != from.index {
            self.rewind(Mark { grid: from.grid, index }, intents);
        }
    }

    /// Follows the pointer on the lanes; returns the tenth under it.
    pub(super) fn follow(
        &mut self,
        ui: &Ui,
        view: &View,
        axis: TimeAxis,
        response: &Response,
        shared: &mut Shared,
    ) -> Option<i64> {
        let lanes = &view.lanes;
        if lanes.columns.is_empty() {
            return None;
        }
        let pressed = response.is_pointer_button_down_on() && ui.input(|input| input.pointer.primary_down());
        let at = response.interact_pointer_pos().filter(|_| pressed || response.clicked());
        if let Some(index) = at.and_then(|at| lanes.heard_at(axis.tenth(at.x))) {
            let mark = Mark { grid: lanes.grid, index };
            if self.dragged != Some(mark) {
                self.dragged = Some(mark);
                self.rewind(mark, &mut shared.intents);
            }
        }
        if !pressed {
            self.dragged = None;
        }
        let hover = ui.input(|input| input.pointer.hover_pos()).filter(|_| response.contains_pointer());
        let pointed = hover.map(|at| axis.tenth(at.x))?;
        self.turn_wheel(ui, pointed, shared.settings.reach, lanes);
        Some(pointed)
    }

    fn turn_wheel(&mut self, ui: &Ui, about: i64, reach: LaneSpan, lanes: &Lanes) {
        let (viewport, chosen) = (&mut self.viewport, reach.tenths());
        ui.input(|input| {
            for event in &input.events {
                match event {
                    Event::MouseWheel { unit, delta, modifiers, .. } => {
                        let lines = lines(*unit, *delta);
                        let sideways = lines.x.abs() > lines.y.abs();
                        if modifiers.shift || sideways {
                            let by = if sideways { lines.x } else { lines.y };
                            viewport.pan(f64::from(-by) * PAN_A_LINE, chosen, lanes);
                        } else {
                            viewport.zoom(ZOOM_A_LINE.powf(f64::from(-lines.y)), Some(about), chosen, lanes);
                        }
                    }
                    Event::Zoom(factor) => {
                        viewport.zoom(1.0 / f64::from(*factor), Some(about), chosen, lanes);
                    }
                    _ => {}
                }
            }
        });
    }

    /// Asks for the stretch of the viewport, unless it is the last one asked for.
    pub(super) fn look(&mut self, view: &View, columns: u16, shared: &mut Shared) {
        let lens = self.viewport.lens(shared.settings.reach.tenths(), &view.lanes, columns);
        if self.sent != Some(lens) {
            self.sent = Some(lens);
            shared.intents.push(Intent::Command(Command::ShowTime(lens)));
        }
    }
}

/// Part of the length by which one line of the wheel moves.
const PAN_A_LINE: f64 = 0.1;
/// Zoom factor of one line of the wheel.
const ZOOM_A_LINE: f64 = 1.25;

/// The turn of a wheel in lines, bounded.
fn lines(unit: MouseWheelUnit, delta: Vec2) -> Vec2 {
    let scale = match unit {
        MouseWheelUnit::Line => 1.0,
        MouseWheelUnit::Point => 1.0 / 40.0,
        MouseWheelUnit::Page => 4.0,
    };
    let bounded = |v: f32| if v.is_finite() { (v * scale).clamp(-8.0, 8.0) } else { 0.0 };
    vec2(bounded(delta.x), bounded(delta.y))
}
